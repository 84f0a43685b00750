"""Whether to go on after a step, by how each unit of the station came through it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from survey.plant.wording import counted, listed

OUTCOMES = ("held", "flooded", "not_yet_warm", "cannot_tell", "in_trouble_before")
OUTCOME_WORDS = {
    "held": "held",
    "flooded": "flooded",
    "not_yet_warm": "not yet warm",
    "cannot_tell": "cannot tell",
    "in_trouble_before": "in trouble before the step",
}
UNSETTLED = {"go back": "go_back", "wait": "wait"}
"""What a check may say that keeps a station from going on, as its plan's standing."""
TO_BE_SEEN_CHANCE = 0.05
"""A unit with this chance of having flooded has to be seen before the next step."""
LEAST_FORESEEN = 0.05
"""Fewer units than this that were to flood are none."""


@dataclass(frozen=True)
class UnitChecked:
    """One unit after a step.

    Parameters
    ----------
    outcome
        One of `OUTCOMES`.
    foreseen
        Chance of flooding that the round before gave it at the new pressure; NaN where not known.
    words
        Why, and for a unit that has not held the pressure that the round before had it need.
    read_again
        Whether the second round has it.
    """

    tag: str
    where: str
    outcome: str
    foreseen: float
    words: str
    read_again: bool


def go_on(
    units: list[UnitChecked], moved: float, same: float, expected: float
) -> tuple[str, str]:
    """Say whether to go on, by how far the pressure moved and how little is none, both psi."""
    by = {name: [u.tag for u in units if u.outcome == name] for name in OUTCOMES}
    if np.isnan(moved):
        return "wait", "its pressure is not known in both rounds: read it before going on."
    # What was read and is no longer sound has changed at the step, however unlikely that was.
    worse = [u.tag for u in units if u.outcome == "cannot_tell" and u.read_again]
    if moved > -same:
        return _no_step(moved, same, flooded=by["flooded"], worse=[*by["not_yet_warm"], *worse])
    if by["flooded"]:
        more = ", more than was foreseen" if len(by["flooded"]) > expected + 1 else ""
        foreseen = "none was foreseen"
        if expected >= LEAST_FORESEEN:
            foreseen = f"{expected:.1f} were foreseen{more}"
        return "go back", (
            f"{counted(len(by['flooded']), 'unit')} flooded ({listed(by['flooded'])}); "
            f"{foreseen}. Go back to the pressure before, or free them first; do not go on."
        )
    unseen = [
        u.tag for u in units
        if u.outcome == "cannot_tell" and not u.read_again
        and not np.nan_to_num(u.foreseen, nan=1.0) < TO_BE_SEEN_CHANCE
    ]  # fmt: skip
    if by["not_yet_warm"] or worse or unseen:
        parts = []
        if by["not_yet_warm"]:
            parts.append(f"{listed(by['not_yet_warm'])} not yet warm")
        if worse:
            parts.append(f"{listed(worse)}: sound before the step, and no longer for sure")
        if unseen:
            parts.append(f"{listed(unseen)} cannot be told of, and might stand back")
        return "wait", f"{'; '.join(parts)}. Stay at this pressure and read them again."
    rest = f" {counted(len(by['cannot_tell']), 'unit')} of little risk unread." * bool(
        by["cannot_tell"]
    )
    return "go on", f"every unit that had to be seen has held ({len(by['held']):,}).{rest}"


def _no_step(
    moved: float, same: float, *, flooded: list[str], worse: list[str]
) -> tuple[str, str]:
    """Say what the second round shows of a station whose pressure did not go down."""
    how = "as it was" if moved < same else f"{moved:.1f} psi higher than it was"
    parts = []
    if flooded:
        parts.append(f"condensate stands in {listed(flooded)}, and it did not before")
    if worse:
        parts.append(f"{listed(worse)}: sound before, and no longer for sure")
    if not parts:
        return "no step", f"its pressure is {how}."
    return "wait", (
        f"its pressure is {how}, but {'; '.join(parts)}. Find out why before any step: its return, "
        "its check valve, its trap, or another station that steps down on the same return."
    )
