"""Verdicts of vents, breakers and check valves: state, cause, what to do and why."""

from __future__ import annotations

import numpy as np
import pyarrow as pa

from survey.columns import PRESENCES, STATES_BY_DEVICE, UNDECIDED
from survey.diagnosis.actions import CONFIRM_UNDER, NOT_FITTED, device_action
from survey.diagnosis.hypotheses import HYPOTHESES, STATE_OF
from survey.diagnosis.phrases import distinct, phrase, pick, where
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

USUAL_FROM = 0.75
"""Unless a state is this usual among its like in the round, it is not named on that alone."""


def device_verdicts(weighed: Weighed, told: Told) -> list[Spoken]:
    """Judge every device of a round that is not a trap, kind by kind."""
    return [_judged(device, weighed, told) for device in weighed.devices]


def _judged(device: str, weighed: Weighed, told: Told) -> Spoken:
    index, chance, factors = weighed.devices[device]
    names = (*STATES_BY_DEVICE[device], UNDECIDED)
    order = np.argsort(-chance, axis=1)
    first, second = order[:, 0], order[:, 1]
    confidence = chance.max(axis=1, initial=0.0)
    sure = named(confidence, np.asarray(sum(factors.values())), usual_from=USUAL_FROM)
    unfitted = told.rows.present[index] == PRESENCES.index("no")
    if "missing" not in names:
        sure &= ~unfitted
    state = np.where(sure, first, names.index(UNDECIDED))
    watched = told.rows.observed[index] >= 0
    action = _actions(device, state, first, second, watched, confidence >= CONFIRM_UNDER)
    if "missing" not in names:
        action = where(unfitted, NOT_FITTED, action)
    return Spoken(
        index=index,
        confidence=confidence,
        state=pick(names, state),
        cause=pick([device_cause(device, name) for name in names], state),
        action=action,
        evidence=_evidence(device, weighed, told, first, second),
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
    device: str,
    state: np.ndarray,
    first: np.ndarray,
    second: np.ndarray,
    watched: np.ndarray,
    firm: np.ndarray,
) -> pa.Array:
    names = (*STATES_BY_DEVICE[device], UNDECIDED)
    kinds, each = distinct(state, first, second, watched, firm)
    words = [
        device_action(
            device, names[is_], names[one], names[other], watched=bool(seen), firm=bool(trusted)
        )
        for is_, one, other, seen, trusted in kinds
    ]
    return pick(words, each)


def _evidence(
    device: str, weighed: Weighed, told: Told, first: np.ndarray, second: np.ndarray
) -> pa.Array:
    index, chance, factors = weighed.devices[device]
    each = np.arange(len(index))
    parts = {name: logs[each, first] - logs[each, second] for name, logs in factors.items()}
    logs = np.log(np.maximum(chance, 1e-12))
    parts["usual"] = logs[each, first] - logs[each, second] - sum(parts.values())
    words = [STATE_WORDS[name] for name in STATES_BY_DEVICE[device]]
    said = pick(words, first), pick(words, second)
    others: dict[str, Clause] = {"usual": commoner(parts["usual"], *said)}
    if "equipment" in factors:
        others["equipment"] = _by_trap(weighed, told, index)
    return decided(parts, clauses_of(told, index, others), *said)


def _by_trap(weighed: Weighed, told: Told, index: np.ndarray) -> Clause:
    """Return words for how the trap of each device's equipment looks, the oddest where several."""
    trap = weighed.joint.trap
    working = trap[:, STATE_OF == 0].sum(axis=1)
    oddest = np.argsort(-working, kind="stable")
    looks = np.full(len(weighed.joint.shut), 0)
    looks[told.rows.equipment[weighed.traps][oddest]] = trap[oddest].argmax(axis=1)
    mine = looks[told.rows.equipment[index]]

    def clause(_: str, at: np.ndarray) -> pa.Array:
        words = pick([HYPOTHESIS_WORDS[h.name] for h in HYPOTHESES], mine[at])
        return phrase("its equipment's trap looks ", words)

    return clause
