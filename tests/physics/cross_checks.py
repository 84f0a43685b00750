"""Published forms that survey does not work by: what its own are held against."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from survey.physics.arrays import FloatArray, as_floats, nan_outside
from survey.physics.saturation import HIGHEST_PSIA, LOWEST_PSIA, saturation_f
from survey.physics.units import SECONDS_PER_HOUR, bore_area_in2

NAPIER_LB_PER_H_PER_IN2_PSIA = SECONDS_PER_HOUR / 70
"""Napier's rule: lb/s = psia x in2 / 70."""
NAPIER_CORRECTED_ABOVE_PSIA = 1500.0
"""API 520 Part I: from here its correction KN applies."""


def napier_lb_per_h(
    *, bore_in: ArrayLike, upstream_psia: ArrayLike, discharge_coefficient: ArrayLike
) -> FloatArray:
    """Choked flow of dry saturated steam by Napier's rule.

    Parameters
    ----------
    bore_in
        Bore, in. Under zero: NaN.
    upstream_psia
        Absolute pressure ahead of the bore, psia. Outside 0.0886..3,020: NaN.
    discharge_coefficient
        Share of Napier's flow that passes. Under zero: NaN. Shapes broadcast.

    Returns
    -------
    ndarray of float64
        Flow, lb/h.

    References
    ----------
    Napier's rule; over 1,500 psia with the correction KN of API 520 Part I.
    """
    pressure_psia = nan_outside(upstream_psia, LOWEST_PSIA, HIGHEST_PSIA)
    corrected = (0.1906 * pressure_psia - 1000) / (0.2292 * pressure_psia - 1061)
    correction = np.where(pressure_psia > NAPIER_CORRECTED_ABOVE_PSIA, corrected, 1.0)
    flux = NAPIER_LB_PER_H_PER_IN2_PSIA * pressure_psia * correction
    coefficient = nan_outside(discharge_coefficient, 0.0)
    return as_floats(flux * bore_area_in2(bore_in=bore_in) * coefficient)


def rateau_lb_per_h(
    *, bore_in: ArrayLike, upstream_psia: ArrayLike, discharge_coefficient: ArrayLike
) -> FloatArray:
    """Choked flow of dry saturated steam by Rateau's formula.

    Parameters as for `napier_lb_per_h`; the answer is in lb/h.

    References
    ----------
    Rateau: lb/s = in2 x psia x (16.367 - 0.96 log10 psia) / 1000.
    """
    pressure_psia = nan_outside(upstream_psia, LOWEST_PSIA, HIGHEST_PSIA)
    per_in2 = pressure_psia * (16.367 - 0.96 * np.log10(pressure_psia)) / 1000
    coefficient = nan_outside(discharge_coefficient, 0.0)
    return as_floats(
        SECONDS_PER_HOUR * per_in2 * bore_area_in2(bore_in=bore_in) * coefficient
    )


def steam_air_temperature_f(*, total_psia: ArrayLike, air_fraction: ArrayLike) -> FloatArray:
    """Temperature at which steam with air in it condenses.

    Parameters
    ----------
    total_psia
        Pressure of the mixture, psia.
    air_fraction
        Air by volume, 0 to under 1; else NaN. Shapes broadcast.

    Returns
    -------
    ndarray of float64
        Temperature, °F; NaN where the steam's own share of pressure is outside 0.0886..3,020.

    References
    ----------
    Dalton's law of partial pressures on IAPWS R7-97(2012).
    """
    steam_psia = as_floats(total_psia) * (1 - nan_outside(air_fraction, 0.0, 1.0))
    return saturation_f(pressure_psia=steam_psia)
