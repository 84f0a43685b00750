"""How a heater stands, by its trap, its vent and its breaker: hot, flooded, full of air."""

from __future__ import annotations

import numpy as np

from survey.columns import BREAKER_STATES
from survey.diagnosis.companion_looks import SHUT
from survey.diagnosis.equipment import told_to_traps
from survey.diagnosis.hypotheses import HEATER_OF_LOOK, HEATERS, HYPOTHESES
from survey.diagnosis.rowwise import columns_of, row_sum


def _worth(by_look: dict[str, float]) -> np.ndarray:
    """Return what each hypothesis is worth, (hypotheses,), by what it looks like."""
    return np.array([by_look.get(h.looks, 0.0) for h in HYPOTHESES])


COOLED = {"flooded": 0.6, "air_bound": 0.7, "no_steam": 0.75}
"""How often a heater that stands so leaves the devices on it without heat: one chance for each of
the ways of `companion_looks.ON_HEATER`, in their order. The valve of a trap that is off may be the
one behind the heater, with steam still on it; a breaker may sit where steam comes in, and then
tells little. Common practice, no source."""
STATES_BY_VENT = {
    "air_vent": (np.flatnonzero(~SHUT), np.flatnonzero(SHUT)),
    "vacuum_breaker": (np.arange(len(BREAKER_STATES)),) * 2,
}
"""States of devices on a heater, where its vent is open and where it is shut."""
WAY_OF = np.array([HEATERS.index(HEATER_OF_LOOK.get(h.looks, "hot")) for h in HYPOTHESES])
"""How the heater stands by each hypothesis of its trap, of `HEATERS`."""
BY_WAY = [
    _worth({look: COOLED[h] for look, h in HEATER_OF_LOOK.items() if h == way}) for way in COOLED
]


def heat_told(
    chance: np.ndarray,
    ways: np.ndarray,
    lifeless: np.ndarray,
    *,
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
        for way, heater in enumerate(HEATERS[1:]):
            cooled = COOLED[heater]
            gone = moved[1 + way] / np.maximum(dead[:, way], 1e-4)
            told[devices, shut, 1 + way] = (1.0 - cooled) * alive + cooled * gone
    return told_to_traps(told, told_by=devices, traps=traps)


assert tuple(COOLED) == HEATERS[1:]
