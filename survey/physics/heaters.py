"""Unit heaters: output at another steam pressure or air temperature than their rating."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from survey.physics.arrays import FloatArray, as_floats, nan_outside
from survey.physics.saturation import saturation_f

RATING_PSIA = 16.695949
"""2 psig at sea level, the base of published ratings: ASHVE Guide 1952, ch. 24."""
RATING_AIR_F = 60.0
"""Entering air of the same base, °F."""
PRESSURE_EXPONENT = 0.998
"""Least-squares fit in logs to the correction table of two heater makers (alike), 60 °F air,
2 to 150 psig: 0.9976; the points lie within 0.6 % of it."""
AIR_EXPONENT = 1.09
"""One exponent fitted to the whole of that table, 9 pressures by 12 air temperatures. As steam
pressure alone gives 1.00, that of air temperature alone is this or more: away from 60 °F the
factor is good to a few per cent, no better."""


def unit_heater_output_factor(*, steam_psia: ArrayLike, air_f: ArrayLike) -> FloatArray:
    """Output over the rated output (2 psig steam, 60 °F air).

    Parameters
    ----------
    steam_psia
        Absolute pressure of the steam in the heater, psia.
    air_f
        Temperature of the entering air, °F. Shapes broadcast.

    Returns
    -------
    ndarray of float64
        Output factor; 0 where the air is as warm as the steam. NaN where the steam is outside
        0.0886..3,020 psia or no warmer than the 60 °F of the rating.
    """
    steam_f = saturation_f(pressure_psia=steam_psia)
    rated_rise_f = saturation_f(pressure_psia=RATING_PSIA) - RATING_AIR_F
    rise_at_rated_air_f = nan_outside(steam_f - RATING_AIR_F, above=0.0)
    rise_f = np.clip(steam_f - nan_outside(air_f), 0.0, None)
    by_pressure = (rise_at_rated_air_f / rated_rise_f) ** PRESSURE_EXPONENT
    return as_floats(by_pressure * (rise_f / rise_at_rated_air_f) ** AIR_EXPONENT)
