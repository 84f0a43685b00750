"""How a heater stands, by its trap, its vent and its breaker: hot, flooded, full of air."""

from __future__ import annotations

import numpy as np

from survey.columns import BREAKER_STATES
from survey.diagnosis.companion_looks import COOLED, SHUT
from survey.diagnosis.equipment import told_to_traps
from survey.diagnosis.hypotheses import HEATER_OF_LOOK, HEATERS, HYPOTHESES
from survey.diagnosis.rowwise import columns_of, row_dot, row_sum


def _worth(by_look: dict[str, float]) -> np.ndarray:
    """Return what each hypothesis is worth, (hypotheses,), by what it looks like."""
    return np.array([by_look.get(h.looks, 0.0) for h in HYPOTHESES])


STATES_BY_VENT = {
    "air_vent": (np.flatnonzero(~SHUT), np.flatnonzero(SHUT)),
    "vacuum_breaker": (np.arange(len(BREAKER_STATES)),) * 2,
}
"""States of devices on a heater, where its vent is open and where it is shut."""
WAY_OF = np.array([HEATERS.index(HEATER_OF_LOOK.get(h.looks, "hot")) for h in HYPOTHESES])
"""How the heater stands by each hypothesis of its trap, of `HEATERS`."""
BY_WAY = [
    _worth({look: 1.0 for look, h in HEATER_OF_LOOK.items() if h == way}) for way in HEATERS[1:]
]
"""Which hypotheses leave the heater so, (hypotheses,), for each of `HEATERS` but the first."""


def heat_told(
    chance: np.ndarray,
    ways: np.ndarray,
    lifeless: np.ndarray,
    *,
    cooled: np.ndarray,
    states: tuple[np.ndarray, np.ndarray],
    devices: np.ndarray,
    traps: np.ndarray,
    equipment_count: int,
) -> np.ndarray:
    """Return how much vents' or breakers' readings favour each way their trap's heater may stand.

    Beyond what they say of whether the vent is shut, which is the joint's: a vent or a breaker that
    is lukewarm sits on a heater that is flooded, not on one that air fills.

    Parameters
    ----------
    chance, ways
        Of the devices: chance of each state by their own readings, (n, states), and of how each
        stands in each of them, heated first, (n, states, 1 + ways).
    lifeless
        Chance of those ways, heated left out, before any reading of the device's.
    cooled
        How often a heater that stands each way leaves its device without heat, (ways,).
    states
        Those that a device may be in where the heater's vent is open, and where it is shut.
    devices, traps
        Equipment of each, (vents,) and (traps,).

    Returns
    -------
    (traps, 2, ways)
        Of `HEATERS`, by whether the vent is open or shut; 1 favours nothing.
    """
    told = np.ones((equipment_count, 2, len(HEATERS)), order="F")
    for shut, some in enumerate(states):
        dead = lifeless[:, some[0]]
        together = row_sum(columns_of(chance, some))
        moved = [
            sum(chance[:, state] * ways[:, state, way] for state in some) / together
            for way in range(len(HEATERS))
        ]
        alive = moved[0] / np.maximum(1.0 - row_sum(dead), 1e-4)
        told[devices, shut, 0] = alive
        for way, often in enumerate(cooled):
            gone = moved[1 + way] / np.maximum(dead[:, way], 1e-4)
            told[devices, shut, 1 + way] = (1.0 - often) * alive + often * gone
    return told_to_traps(told, told_by=devices, traps=traps)


def left_by_trap(
    traps: np.ndarray, equipment: np.ndarray, equipment_count: int, ways: list[np.ndarray]
) -> np.ndarray:
    """Return the chance that its trap leaves each equipment each way, (equipment, ways).

    None where several traps, or none, tell how it stands.

    Parameters
    ----------
    traps
        Chance of each hypothesis, (traps, hypotheses).
    equipment
        Of each trap, (traps,).
    ways
        Which hypotheses leave it so, (hypotheses,) each: `BY_WAY`, or `flows.NO_FLOW`.
    """
    alone = np.bincount(equipment, minlength=equipment_count)[equipment] == 1
    result = np.zeros((equipment_count, len(ways)))
    for way, worth in enumerate(ways):
        result[equipment[alone], way] = row_dot(traps[alone], worth)
    return result


def left_lifeless(
    chance: np.ndarray, ways: np.ndarray, lifeless: np.ndarray, cooled: np.ndarray
) -> np.ndarray:
    """Return how likely each device is without heat or flow if it is left each way, (n, ways).

    Parameters
    ----------
    chance, ways, lifeless, cooled
        As in `heat_told`.
    """
    alive = ways[..., 0] / np.maximum(1.0 - row_sum(lifeless), 1e-4)
    each = []
    for way, often in enumerate(cooled):
        gone = often * ways[..., 1 + way] / np.maximum(lifeless[..., way], 1e-4)
        each.append(row_sum(chance * (gone / ((1.0 - often) * alive + gone))))
    return np.stack(each, axis=1)


assert tuple(COOLED) == HEATERS[1:]
