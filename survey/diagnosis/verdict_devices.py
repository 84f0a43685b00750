"""Verdicts of vents, breakers and check valves."""

from __future__ import annotations

import numpy as np
import pandas as pd

from survey.columns import DEVICES, STATES_BY_DEVICE, UNDECIDED
from survey.diagnosis.actions import device_action
from survey.diagnosis.speech import Told, decided, device_words, trap_clause
from survey.diagnosis.weighing import Weighed

UNDECIDED_UNDER = 0.50
"""Under this probability no state is named: the next likeliest is then about as likely."""


LEAST_TOLD_NATS = 0.7
"""Readings that move no two explanations apart by more than 2 to 1 leave a device undecided:
what would be said of it is only how common each state is."""


USUAL_FROM = 0.75
TRAP_USUAL_FROM = 0.90
"""Unless a state is this usual among its like in the round: then that itself is worth saying.
More is asked of a trap: one that nobody read may be losing steam."""


def named(confidence: np.ndarray, logs: np.ndarray, *, usual_from: float) -> np.ndarray:
    """Return which devices' likeliest state may be named, (n,).

    Parameters
    ----------
    confidence
        Probability of that state, (n,).
    logs
        Log likelihood of each device's readings, (n, explanations).
    usual_from
        Probability from which a state is named though the readings say nothing.
    """
    told = np.ptp(logs, axis=1) > LEAST_TOLD_NATS
    return np.asarray((confidence >= UNDECIDED_UNDER) & (told | (confidence >= usual_from)))


def fill_devices(verdicts: pd.DataFrame, weighed: Weighed, told: Told) -> None:
    """Write the verdicts of every device that is not a trap."""
    for device, (index, chance, factors) in weighed.devices.items():
        if not len(index):
            continue
        order = np.argsort(-chance, axis=1)
        first, second = order[:, 0], order[:, 1]
        confidence = chance.max(axis=1)
        sure = named(confidence, np.asarray(sum(factors.values())), usual_from=USUAL_FROM)
        names = np.array(STATES_BY_DEVICE[device], dtype=object)
        place = verdicts.index[index]
        state = np.where(sure, names[first], UNDECIDED)
        verdicts.loc[place, "state"] = state
        verdicts.loc[place, "confidence"] = confidence
        verdicts.loc[place, "cause"] = [device_cause(device, s) for s in state]
        verdicts.loc[place, "action"] = [
            device_action(
                device,
                s,
                names[first[i]],
                names[second[i]],
                watched=bool(told.rows.observed[index[i]] >= 0),
            )
            for i, s in enumerate(state)
        ]
        verdicts.loc[place, "evidence"] = _device_evidence(
            DEVICES.index(device), index, chance, factors, told, first, second
        )


def device_cause(device: str, state: str) -> str:
    """Return what brought a device's state about, in the words of `columns.CAUSES`."""
    if state == "working":
        return "none"
    if state == "isolated":
        return "valved_off"
    named = {"air_vent": "air_vent", "check_valve": "check_valve"}
    return "unknown" if state == UNDECIDED else named.get(device, "unknown")


def _device_evidence(
    device: int,
    index: np.ndarray,
    chance: np.ndarray,
    factors: dict[str, np.ndarray],
    told: Told,
    first: np.ndarray,
    second: np.ndarray,
) -> np.ndarray:
    each = np.arange(len(index))
    parts = {
        ("upstream" if name == "equipment" else name): logs[each, first] - logs[each, second]
        for name, logs in factors.items()
    }
    logs = np.log(np.maximum(chance, 1e-12))
    parts["usual"] = logs[each, first] - logs[each, second] - sum(parts.values())
    words = np.empty(len(index), dtype=object)
    for i, row in enumerate(index):
        words[i] = decided(
            {name: float(values[i]) for name, values in parts.items()},
            trap_clause(told, int(row), "what its equipment's trap shows"),
            device_words(device, first[i]),
            device_words(device, second[i]),
        )
    return words
