"""Verdicts of vents, breakers and check valves: state, cause, what to do and why."""

from __future__ import annotations

import numpy as np

from survey.columns import PRESENCES, STATES_BY_DEVICE, UNDECIDED, VALVE_POSITIONS
from survey.diagnosis.actions import (
    CONFIRM_UNDER,
    NOT_FITTED,
    NOTE_DOUBTS,
    NOTHING_TO_DO,
    device_action,
)
from survey.diagnosis.device_there import unread
from survey.diagnosis.hypotheses import HYPOTHESES, STATE_OF
from survey.diagnosis.phrases import Pieces, distinct
from survey.diagnosis.rowwise import row_sum
from survey.diagnosis.speech import (
    HYPOTHESIS_WORDS,
    STATE_WORDS,
    Clause,
    Told,
    clauses_of,
    commoner,
    decided,
)
from survey.diagnosis.spoken import Spoken, named
from survey.diagnosis.weighing import Weighed

_TRAP_LOOKS = [f"its equipment's trap looks {HYPOTHESIS_WORDS[h.name]}" for h in HYPOTHESES]
USUAL_FROM = 0.75
"""Unless a state is this usual among its like in the round, it is not named on that alone."""


def device_verdicts(pieces: Pieces, weighed: Weighed, told: Told) -> list[Spoken]:
    """Judge every device of a round that is not a trap, kind by kind."""
    looks = _looks_of_traps(weighed, told)
    return [_judged(pieces, device, weighed, told, looks) for device in weighed.devices]


def _judged(
    pieces: Pieces, device: str, weighed: Weighed, told: Told, looks: np.ndarray
) -> Spoken:
    index, chance, factors = weighed.devices[device]
    names = (*STATES_BY_DEVICE[device], UNDECIDED)
    order = np.argsort(-chance, axis=1)
    first, second = order[:, 0], order[:, 1]
    confidence = chance.max(axis=1, initial=0.0)
    sure = named(confidence, np.asarray(sum(factors.values())), usual_from=USUAL_FROM)
    unfitted = told.rows.present[index] == PRESENCES.index("no")
    if "missing" in names:
        # Where nothing was read it may not be there; that it is well, nothing says.
        sure &= ~unread(told.rows)[index] | (first == names.index("missing"))
    else:
        sure &= ~unfitted
    state = np.where(sure, first, names.index(UNDECIDED))
    watched = told.rows.observed[index] >= 0
    firm = confidence >= CONFIRM_UNDER
    doubt = _doubts(names, state, told.rows.valve[index], unfitted)
    action = _actions(pieces, device, state, first, second, watched, firm, doubt)
    if "missing" not in names:
        action = np.where(unfitted, pieces.alike(NOT_FITTED), action)
    return Spoken(
        index=index,
        confidence=confidence,
        state=pieces.of(names, state),
        cause=pieces.of([device_cause(device, name) for name in names], state),
        action=action,
        evidence=_evidence(pieces, device, weighed, told, first, second, looks),
    )


def device_cause(device: str, state: str) -> str:
    """Return what brought a device's state about, in the words of `columns.CAUSES`."""
    if state == "working":
        return "none"
    if state == "isolated":
        return "valved_off"
    named = {"air_vent": "air_vent", "check_valve": "check_valve"}
    return "unknown" if state == UNDECIDED else named.get(device, "unknown")


def _actions(
    pieces: Pieces,
    device: str,
    state: np.ndarray,
    first: np.ndarray,
    second: np.ndarray,
    watched: np.ndarray,
    firm: np.ndarray,
    doubt: np.ndarray,
) -> np.ndarray:
    """Say what to do; ``doubt`` is the place in `NOTE_DOUBTS` of what stands before it."""
    names = (*STATES_BY_DEVICE[device], UNDECIDED)
    kinds, each = distinct(state, first, second, watched, firm, doubt)
    words = []
    for is_, one, other, seen, trusted, doubted in kinds:
        action = device_action(
            device, names[is_], names[one], names[other], watched=bool(seen), firm=bool(trusted)
        )
        before = NOTE_DOUBTS[doubted]
        words.append(before.rstrip() if before and action == NOTHING_TO_DO else before + action)
    return pieces.of(words, each)


def _doubts(
    names: tuple[str, ...], state: np.ndarray, valve: np.ndarray, unfitted: np.ndarray
) -> np.ndarray:
    """Return which note each verdict goes against, a place in `NOTE_DOUBTS`, (n,)."""
    told = state != names.index(UNDECIDED)
    shut = np.zeros(len(state), dtype=bool)
    if "isolated" in names:
        shut = told & (valve == VALVE_POSITIONS.index("closed"))
        shut &= (state != names.index("isolated")) & ~unfitted
    there = np.zeros(len(state), dtype=bool)
    if "missing" in names:
        there = told & unfitted & (state != names.index("missing"))
    return np.select([there, shut], [2, 1], 0)


def _evidence(
    pieces: Pieces,
    device: str,
    weighed: Weighed,
    told: Told,
    first: np.ndarray,
    second: np.ndarray,
    looks: np.ndarray,
) -> np.ndarray:
    index, chance, factors = weighed.devices[device]
    each = np.arange(len(index))
    parts = {name: logs[each, first] - logs[each, second] for name, logs in factors.items()}
    # What an inlet that was not read seems to say is what its trap says of water in the heater.
    unread_inlet = np.isnan(told.rows.inlet_f[index])
    parts["equipment"] = parts["equipment"] + np.where(unread_inlet, parts["inlet"], 0.0)
    parts["inlet"] = np.where(unread_inlet, 0.0, parts["inlet"])
    logs = np.log(np.maximum(chance, 1e-12))
    parts["usual"] = logs[each, first] - logs[each, second] - sum(parts.values())
    words = [STATE_WORDS[name] for name in STATES_BY_DEVICE[device]]
    mine = looks[told.rows.equipment[index]]
    others: dict[str, Clause] = {
        "usual": commoner(pieces, parts["usual"], words, first, second),
        "equipment": lambda _, at: [pieces.of(_TRAP_LOOKS, mine[at])],
    }
    clause = clauses_of(pieces, told, index, others)
    return decided(pieces, parts, clause, words, first, second)


def _looks_of_traps(weighed: Weighed, told: Told) -> np.ndarray:
    """Return how the trap of each equipment looks, the oddest where several, (E,)."""
    trap = weighed.joint.trap
    equipment = told.rows.equipment[weighed.traps]
    working = row_sum(trap[:, STATE_OF == 0])
    least = np.full(len(weighed.joint.shut), np.inf)
    np.minimum.at(least, equipment, working)
    oddest = np.flatnonzero(working == least[equipment])
    looks = np.zeros(len(least), dtype=np.int8)
    looks[equipment[oddest]] = trap.argmax(axis=1)[oddest]  # of equals the last one stands
    return looks
