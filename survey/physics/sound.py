"""Levels in decibels: power is what adds, never the decibels themselves."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from survey.physics.arrays import FloatArray, as_floats, nan_outside

_DB_PER_NEPER_OF_POWER = 10 / np.log(10)


def _silence_or_level_db(levels: ArrayLike) -> FloatArray:
    given = as_floats(levels)
    return np.where(given == -np.inf, given, nan_outside(given))


def add_two_levels_db(*, level_db: ArrayLike, other_db: ArrayLike) -> FloatArray:
    """Level of two uncorrelated sounds together, dB; shapes broadcast, NaN gives NaN."""
    powers = (
        _silence_or_level_db(levels) / _DB_PER_NEPER_OF_POWER for levels in (level_db, other_db)
    )
    with np.errstate(invalid="ignore"):  # it warns of every NaN
        return as_floats(np.logaddexp(*powers) * _DB_PER_NEPER_OF_POWER)
