"""Levels in decibels: power is what adds, never the decibels themselves."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from survey.physics.arrays import FloatArray, as_floats, nan_outside

_DB_PER_NEPER = 10 / np.log(10)  # of power


def _silence_or_level_db(levels: ArrayLike) -> FloatArray:
    given = as_floats(levels)
    return np.where(given == -np.inf, given, nan_outside(given))


def share_of_power(*, over_db: ArrayLike) -> FloatArray:
    """Share of the power of two uncorrelated sounds that is the first's, 0..1.

    Parameters
    ----------
    over_db
        Level of the second over the first, dB, any shape. Outside -3,000..3,000: NaN.
    """
    return as_floats(1.0 / (1.0 + np.exp(nan_outside(over_db, -3000.0, 3000.0) / _DB_PER_NEPER)))


def decibels(*, power_ratio: ArrayLike) -> FloatArray:
    """Level of one power over another, dB, any shape; NaN unless the ratio is over zero."""
    return as_floats(np.log(nan_outside(power_ratio, above=0.0)) * _DB_PER_NEPER)


def add_two_levels_db(*, level_db: ArrayLike, other_db: ArrayLike) -> FloatArray:
    """Level of two uncorrelated sounds together, dB; shapes broadcast, NaN gives NaN."""
    powers = (
        _silence_or_level_db(levels) / _DB_PER_NEPER for levels in (level_db, other_db)
    )
    with np.errstate(invalid="ignore"):  # it warns of every NaN
        return as_floats(np.logaddexp(*powers) * _DB_PER_NEPER)
