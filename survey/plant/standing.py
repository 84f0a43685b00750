"""Whether a station can go down, and the words for why."""

from __future__ import annotations

import numpy as np

from survey.plant.units import Units
from survey.plant.wording import NO_STATION

STANDINGS = (
    "to_target", "part_way", "stay", "already_there", "cannot_tell", "go_back", "wait",
)  # fmt: skip
"""The last two are of a station whose last step has not held or is not settled yet."""
LEAST_STEP_PSI = 0.5
APART_PSI = 2.0
APART_SHARE = 0.20
"""Gauges of one station differ by less than both of these; common practice, no source."""


def pressures_apart_psig(units: Units, *, air_psia: float) -> tuple[float, float] | None:
    """Return the least and the greatest pressure read on units that name no station.

    Returns
    -------
    tuple or None
        psig. None where they name a station, or are no further apart than gauges are.
    """
    read = units.supply_psia[units.supply_given & ~np.isnan(units.supply_psia)] - air_psia
    if not len(read) or (units.station != NO_STATION).any():
        return None
    low, high = float(read.min()), float(read.max())
    apart = high - low > APART_PSI and high - low > APART_SHARE * low
    return (low, high) if apart else None


def apart_words(apart_psig: tuple[float, float]) -> str:
    """Return what is to be said of units whose pressures are so far apart."""
    low, high = apart_psig
    return (
        f"Their pressures run from {low:.1f} psig to {high:.1f} psig, further apart than "
        "gauges are: they seem to be fed by more than one station. A step needs the column that "
        "says which station feeds each unit."
    )


def standing_of(
    *, today_psig: float, floor_psig: float, target_psig: float, known: int, units: int
) -> tuple[str, str]:
    """Return where a station stands, one of the first five `STANDINGS`, and why in words.

    Parameters
    ----------
    floor_psig
        Lowest pressure that every unit whose needs are known allows; NaN where none is.
    known, units
        How many units have a known need, of how many.
    """
    if np.isnan(today_psig):
        return "cannot_tell", "No pressure is known here: read it at the station first."
    if not known:
        return "cannot_tell", (
            f"No lift is known for any of its {units:,} units, so nothing tells whether they "
            "would still drain: measure the lifts first."
        )
    if today_psig <= target_psig + LEAST_STEP_PSI:
        where = "under" if today_psig < target_psig - LEAST_STEP_PSI else "at"
        lacking = "" if not floor_psig > today_psig + LEAST_STEP_PSI else (
            " At least one unit needs more than that to drain or to heat, as things stand."
        )  # fmt: skip
        return "already_there", f"It is {where} the pressure asked for.{lacking}"
    if floor_psig > today_psig - LEAST_STEP_PSI:
        return "stay", "At least one unit needs all of today's pressure, or more, as things stand."
    gaps = "" if known == units else (
        f" That holds for the {known:,} of {units:,} units whose lift is known; measure the "
        "others before the first step."
    )  # fmt: skip
    if floor_psig > target_psig:
        return "part_way", f"Down to {np.ceil(2 * floor_psig) / 2:.1f} psig as things stand.{gaps}"
    return "to_target", f"Down to {target_psig:g} psig.{gaps}"
