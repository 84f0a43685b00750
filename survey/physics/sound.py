"""Levels in decibels: power is what adds, never the decibels themselves."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from survey.physics.arrays import FloatArray, as_floats, nan_outside

LEAST_DIFFERENCE_DB = 3.0
"""Under this over its background a level is unusable: ISO 1996-1, ISO 3746."""
_DB_PER_NEPER_OF_POWER = 10 / np.log(10)


def _silence_or_level_db(levels: ArrayLike) -> FloatArray:
    given = as_floats(levels)
    return np.where(given == -np.inf, given, nan_outside(given))


def add_levels_db(levels: ArrayLike, axis: int = 0) -> FloatArray:
    """Level of several uncorrelated sounds together.

    Parameters
    ----------
    levels
        Levels, dB, on one reference. Minus infinity is silence and adds nothing; NaN makes
        its sum NaN.
    axis
        The axis summed over.

    Returns
    -------
    ndarray of float64
        Level, dB, the shape of ``levels`` without ``axis``.
    """
    powers = _silence_or_level_db(levels) / _DB_PER_NEPER_OF_POWER
    with np.errstate(invalid="ignore"):  # it warns of every NaN
        total = np.logaddexp.reduce(powers, axis=axis)
    return as_floats(total * _DB_PER_NEPER_OF_POWER)


def add_two_levels_db(*, level_db: ArrayLike, other_db: ArrayLike) -> FloatArray:
    """Level of two uncorrelated sounds together, dB; shapes broadcast, NaN gives NaN."""
    powers = (
        _silence_or_level_db(levels) / _DB_PER_NEPER_OF_POWER for levels in (level_db, other_db)
    )
    with np.errstate(invalid="ignore"):  # it warns of every NaN
        return as_floats(np.logaddexp(*powers) * _DB_PER_NEPER_OF_POWER)


def background_correction_db(*, difference_db: ArrayLike) -> FloatArray:
    """Give what to add to a level standing so far over its background (never above zero).

    Parameters
    ----------
    difference_db
        Level with the source less level without it, dB, any shape.

    Returns
    -------
    ndarray of float64
        Correction, dB; NaN where the difference is under 3 dB, which is unusable.

    References
    ----------
    ECMA TR/107 (2017); ISO 1996-1 and ISO 3746 for the floor.
    """
    difference = nan_outside(difference_db, LEAST_DIFFERENCE_DB)
    return as_floats(
        _DB_PER_NEPER_OF_POWER * np.log1p(-np.exp(-difference / _DB_PER_NEPER_OF_POWER))
    )


def background_corrected_db(*, level_db: ArrayLike, background_db: ArrayLike) -> FloatArray:
    """Level of the source alone.

    Parameters
    ----------
    level_db, background_db
        Level with and without the source, dB on one reference; shapes broadcast.

    Returns
    -------
    ndarray of float64
        Level, dB; NaN where it stands less than 3 dB over the background.
    """
    level = nan_outside(level_db)
    difference = level - nan_outside(background_db)
    return as_floats(level + background_correction_db(difference_db=difference))
