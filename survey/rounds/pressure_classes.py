"""Pressure classes by which published survey intervals are given, and those intervals."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from survey.columns import STANDARD_ATMOSPHERE_PSIA
from survey.physics.saturation import saturation_psia
from survey.plant.units import numbers_of

WEEKS_PER_YEAR = 365.25 / 7
SOURCE = "US DOE AMO Steam Tip Sheet 1"


@dataclass(frozen=True)
class PressureClass:
    """One class: its name, where it begins (psig), and its published interval (weeks)."""

    name: str
    from_psig: float
    words: str
    shortest_weeks: float
    longest_weeks: float


PRESSURE_CLASSES = (
    PressureClass("under 30 psig", -np.inf, "yearly", WEEKS_PER_YEAR, WEEKS_PER_YEAR),
    PressureClass(
        "30 to 150 psig", 30.0, "monthly to quarterly", WEEKS_PER_YEAR / 12, WEEKS_PER_YEAR / 4
    ),
    PressureClass(
        "150 psig and over", 150.0, "weekly to monthly", 1.0, WEEKS_PER_YEAR / 12
    ),
)  # fmt: skip
"""Published intervals between surveys: US DOE AMO Steam Tip Sheet 1 (seen)."""
CLASS_BY_NAME = {one.name: one for one in PRESSURE_CLASSES}


def pressure_class(table: pd.DataFrame) -> np.ndarray:
    """Return each row's pressure class by name, '' where no pressure is known, (n,).

    The supply pressure counts, else the saturation temperature that the row was judged at.
    """
    psig = numbers_of(table, "supply_psig")
    judged = saturation_psia(temperature_f=numbers_of(table, "saturation_f"))
    psig = np.where(np.isnan(psig), judged - STANDARD_ATMOSPHERE_PSIA, psig)
    names = np.array([one.name for one in PRESSURE_CLASSES], dtype=object)
    starts = np.array([one.from_psig for one in PRESSURE_CLASSES])
    place = np.searchsorted(starts, psig, side="right") - 1
    return np.where(np.isnan(psig), "", names[np.clip(place, 0, len(names) - 1)])
