"""How many units stand back at each pressure, with what is not known of all of them at once."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from survey.columns import NORMAL_90
from survey.plant.lift import GAUGE_SPREAD_PSI, RETURN_SPREAD_PSI, Needs, flood_chance
from survey.plant.units import Units

_SHARED_NODES = np.array(
    [-1.645, -1.036, -0.674, -0.385, -0.126, 0.126, 0.385, 0.674, 1.036, 1.645]
)
"""Middles of ten equal shares of a normal distribution."""
CURVE_POINTS = 41


@dataclass(frozen=True)
class LostCurve:
    """Units standing back against the station's gauge pressure, 10 % and 90 % points beside."""

    psig: tuple[float, ...]
    expected: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]
    known: int
    units: int


def lost_at(
    units: Units, need: Needs, offset_psi: np.ndarray, station_psia: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Count the units that stand back at each station pressure: expected, 10 %, 90 %.

    A station's gauge and its return are wrong for all its units together, so the range is
    wider than units of their own would give. Units whose lift is not known are not in it.

    Parameters
    ----------
    station_psia
        Pressures at the station, psia, (m,).
    """
    known = np.flatnonzero(~np.isnan(need.needed_psia))
    some, its = units.take(known), need.take(known)
    expected = np.zeros(len(station_psia))
    variance = np.zeros(len(station_psia))
    for at, psia in enumerate(station_psia):
        supply = psia + offset_psi[known]
        chance = flood_chance(some, its, supply_psia=supply)
        expected[at] = chance.sum()
        variance[at] = _variance(some, its, supply, chance)
    half = NORMAL_90 * np.sqrt(variance)
    return (
        expected,
        np.clip(expected - half, 0.0, None),
        np.clip(expected + half, None, float(len(known))),
    )


def _variance(units: Units, need: Needs, supply: np.ndarray, chance: np.ndarray) -> float:
    shared = float(np.hypot(GAUGE_SPREAD_PSI, RETURN_SPREAD_PSI))
    own = replace(
        need, spread_psi=np.sqrt(np.maximum(need.spread_psi**2 - shared**2, 0.01))
    )
    means = np.array(
        [
            flood_chance(
                units,
                replace(own, needed_psia=own.needed_psia + node * shared),
                supply_psia=supply,
            ).sum()
            for node in _SHARED_NODES
        ]
    )
    return float((chance * (1.0 - chance)).sum() + means.var())


def lost_curve(
    units: Units, need: Needs, offset_psi: np.ndarray, *, low_psia: float, high_psia: float,
    air_psia: float,
) -> LostCurve:  # fmt: skip
    """Return the whole curve between two station pressures, psia."""
    at = np.linspace(low_psia, high_psia, CURVE_POINTS)
    expected, low, high = lost_at(units, need, offset_psi, at)
    return LostCurve(
        psig=tuple((at - air_psia).tolist()),
        expected=tuple(expected.tolist()),
        low=tuple(low.tolist()),
        high=tuple(high.tolist()),
        known=int((~np.isnan(need.needed_psia)).sum()),
        units=len(units),
    )
