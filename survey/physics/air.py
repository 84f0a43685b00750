"""Air in steam: a mixture is cooler than its pressure says (Dalton's law)."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from survey.physics.arrays import FloatArray, as_floats, nan_outside
from survey.physics.saturation import (
    HIGHEST_PSIA,
    LOWEST_PSIA,
    saturation_psia,
)


def implied_air_fraction(*, total_psia: ArrayLike, temperature_f: ArrayLike) -> FloatArray:
    """Air by volume that would make a mixture this cool, if air alone is to blame.

    Parameters
    ----------
    total_psia
        Pressure of the mixture, psia. Outside 0.0886..3,020: NaN.
    temperature_f
        Temperature of the mixture, °F. Outside 32..696.5: NaN. Shapes broadcast.

    Returns
    -------
    ndarray of float64
        0..1; 0 where it is at or over saturation: superheat says nothing of air.
    """
    total = nan_outside(total_psia, LOWEST_PSIA, HIGHEST_PSIA)
    return as_floats(
        np.clip(1 - saturation_psia(temperature_f=temperature_f) / total, 0.0, 1.0)
    )
