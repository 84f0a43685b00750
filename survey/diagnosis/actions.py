"""What to do about each verdict, upstream first, in words."""

from __future__ import annotations

from survey.columns import UNDECIDED
from survey.diagnosis.settle import READING_WORDS
from survey.diagnosis.speech import HYPOTHESIS_WORDS, STATE_WORDS

NOTHING_TO_DO = "Nothing to do."
TRAP_ACTIONS = {
    "working": NOTHING_TO_DO,
    "working_idle": NOTHING_TO_DO,
    "leaking": "Repair or replace the trap, by the type and bore on its plate.",
    "failed_open": "Replace the trap, by the type and bore on its plate: it blows live steam.",
    "failed_closed": (
        "Repair or replace the trap, and look at its strainer first: it passes nothing."
    ),
    "backed_by_check": (
        "Free or replace the check valve, then read the trap again: the trap is not at fault."
    ),
    "backed_by_lift": (
        "The pressure does not make the lift: see to the return's lift or pressure, then read "
        "the trap again. The trap is not at fault."
    ),
    "backed_unexplained": (
        "Find what holds the condensate back in the return, then read the trap again."
    ),
    "cold_by_vent": (
        "Open or fit the air vent, let the heater warm, then read the trap again: the trap is "
        "not at fault."
    ),
    "cold_by_valve": "Valved off: ask why before it is opened, then read the trap again once hot.",
    "cold_unexplained": (
        "No steam reaches it: look for a shut valve or an off heater, then read the trap again."
    ),
}
DEVICE_ACTIONS = {
    (
        "air_vent",
        "isolated",
    ): "Ask why the vent is shut; opened again, it lets the air out and the heat in.",
    ("air_vent", "failed_open"): "Replace the air vent: it blows steam.",
    ("air_vent", "passing_water"): "Clean or replace the air vent, and see why water stands at it.",
    ("air_vent", "missing"): "Fit an air vent.",
    ("vacuum_breaker", "missing"): "Fit a vacuum breaker.",
    (
        "vacuum_breaker",
        "isolated",
    ): "Ask why the vacuum breaker is shut; opened again, it lets the heater drain.",
    ("vacuum_breaker", "leaking"): "Repair or replace the vacuum breaker: it leaks.",
    ("check_valve", "stuck"): "Free or replace the check valve: it holds condensate back.",
    (
        "check_valve",
        "passing_back",
    ): "Clean or replace the check valve: the return runs back through it.",
}
CONFIRM_UNDER = 0.80
"""Under this, an action is to be confirmed first by the reading that would tell most."""


NOT_FITTED = (
    "It is noted as not fitted, so there was nothing to judge: see whether one should be there."
)
MEASURE_LIFT = "No lift of it is noted: measure how high its return rises. "
SHUT_AND_HOT = "Look at its valve first: it is noted as closed, and there is heat behind it. "
VENT_FIRST = "Its air vent seems shut or missing: see to that first, and read the trap again. "
SEE_IT_IS_THERE = (
    "See first whether it is there: it is noted as not fitted, and more was read than a bare pipe "
    "gives. "
)
NOTE_DOUBTS = (
    "",
    "Look at its valve first: it is noted as closed, and what was read says it is open. ",
    SEE_IT_IS_THERE,
)
"""What stands before what to do about a vent or breaker whose verdict goes against a note."""


def trap_action(
    verdict: str, second: str, first: str, telling: str, *, again: bool, firm: bool
) -> str:
    """Return what to do about a trap.

    Parameters
    ----------
    verdict
        Name of the winning hypothesis, or `undecided`.
    second, first
        The runner-up and the leader.
    telling
        The reading that would tell most; empty where the verdict is sure.
    again
        Whether that reading was taken before.
    firm
        Whether the verdict is sure enough to act on.
    """
    reading = READING_WORDS.get(telling, "") + (" once more" if again else "")
    if verdict == UNDECIDED:
        return (
            f"Undecided between {HYPOTHESIS_WORDS[first]} and {HYPOTHESIS_WORDS[second]}: "
            f"{reading}; that would tell most."
        )
    action = TRAP_ACTIONS[verdict]
    if firm or not telling:
        return action
    if verdict.startswith("working"):
        return f"Nothing to do if it works, which is not sure: {reading}."
    return f"Confirm first ({reading}). {action}"


def device_action(
    device: str, state: str, first: str, second: str, *, watched: bool, firm: bool
) -> str:
    """Return what to do about a vent, breaker or check valve."""
    reading = (
        "read its temperatures and listen again with its heater hot"
        if watched
        else "open or watch it and note what comes out"
    )
    if state == "working":
        unsure = f"Nothing to do if it works, which is not sure: {reading}."
        return NOTHING_TO_DO if firm else unsure
    if state == UNDECIDED:
        return (
            f"Undecided between {STATE_WORDS[first]} and {STATE_WORDS[second]}: {reading}; "
            "that would tell most."
        )
    action = DEVICE_ACTIONS[device, state]
    return action if firm else f"Confirm first ({reading}). {action}"
