"""Steam and condensate through the seat of a trap.

The base is the isentropic nozzle of dry saturated steam with the steam's own density and the
expansion exponent 1.135. From 2 to 150 psig it follows the exact isentropic expansion within
0.2 %, choked or not, and to 600 psig within 1 %. Napier's rule (51.43 lb/h per in2 and psia,
whatever the pressure) is 5 % under it at 5 psig and overstates a 2 psig trap to atmosphere by a
third. A discharge coefficient then says how much of that flow a real hole passes. Published
figures by Napier's and Rateau's forms are held against it in tests.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from survey.physics.arrays import FloatArray, as_floats, nan_outside
from survey.physics.condensate import condensate_capacity_lb_per_h as condensate_capacity_lb_per_h
from survey.physics.saturation import HIGHEST_PSIA, LOWEST_PSIA, steam_density_lb_per_ft3
from survey.physics.units import (
    IN2_PER_FT2,
    POUND_FORCE_LB_FT_PER_S2,
    SECONDS_PER_HOUR,
    bore_area_in2,
)

EXPANSION_EXPONENT = 1.135
"""Isentropic exponent k of dry saturated steam (Zeuner), dimensionless."""
CRITICAL_PRESSURE_RATIO = (2 / (EXPANSION_EXPONENT + 1)) ** (
    EXPANSION_EXPONENT / (EXPANSION_EXPONENT - 1)
)
"""Downstream over upstream absolute pressure at which the flow chokes: 0.577."""

DISCHARGE_COEFFICIENT_LOW = 0.57
"""24.24 lb/h per psia and in2 of bore squared (Manczyk's worked example) over isentropic flow."""
DISCHARGE_COEFFICIENT_HIGH = 0.73
"""The table of US DOE AMO Steam Tip Sheet 1 over isentropic flow."""
DISCHARGE_COEFFICIENT_MEAN = 0.65
"""Half-way between the two; no source of its own."""


def _nozzle_flux(pressure_ratio: ArrayLike) -> FloatArray:
    """Isentropic flow at a pressure ratio, over sqrt(2 k/(k-1) p rho)."""
    ratio = as_floats(pressure_ratio)
    k = EXPANSION_EXPONENT
    return as_floats(ratio ** (1 / k) * np.sqrt(1 - ratio ** ((k - 1) / k)))


def back_pressure_factor(*, upstream_psia: ArrayLike, downstream_psia: ArrayLike) -> FloatArray:
    """Flow over choked flow: 1 up to the critical ratio, then falling to 0 at equal pressures.

    Parameters
    ----------
    upstream_psia, downstream_psia
        Absolute pressures, psia; shapes broadcast. Upstream outside 0.0886..3,020, or
        downstream under zero: NaN. Downstream over upstream: 0, nothing flows ahead.

    Returns
    -------
    ndarray of float64
        0..1.

    References
    ----------
    Isentropic nozzle, k = 1.135 (Zeuner's exponent for dry saturated steam).
    """
    upstream = nan_outside(upstream_psia, LOWEST_PSIA, HIGHEST_PSIA)
    ratio = nan_outside(downstream_psia, 0.0) / upstream
    flowing = np.clip(ratio, CRITICAL_PRESSURE_RATIO, 1.0)
    return as_floats(_nozzle_flux(flowing) / _nozzle_flux(CRITICAL_PRESSURE_RATIO))


def choked_steam_flow_lb_per_h(
    *, bore_in: ArrayLike, upstream_psia: ArrayLike, discharge_coefficient: ArrayLike
) -> FloatArray:
    """Isentropic choked flow of dry saturated steam times the coefficient.

    Parameters
    ----------
    bore_in
        Bore, in. Under zero: NaN.
    upstream_psia
        Absolute pressure ahead of the bore, psia. Outside 0.0886..3,020: NaN.
    discharge_coefficient
        Share of the ideal flow that passes. Under zero: NaN. Shapes broadcast.

    Returns
    -------
    ndarray of float64
        Flow, lb/h.
    """
    k = EXPANSION_EXPONENT
    pressure_psia = nan_outside(upstream_psia, LOWEST_PSIA, HIGHEST_PSIA)
    density = steam_density_lb_per_ft3(pressure_psia=pressure_psia)
    head = 2 * k / (k - 1) * POUND_FORCE_LB_FT_PER_S2 * IN2_PER_FT2 * pressure_psia * density
    per_ft2_s = np.sqrt(head) * _nozzle_flux(CRITICAL_PRESSURE_RATIO)
    area_ft2 = bore_area_in2(bore_in=bore_in) / IN2_PER_FT2
    coefficient = nan_outside(discharge_coefficient, 0.0)
    return as_floats(SECONDS_PER_HOUR * per_ft2_s * area_ft2 * coefficient)


def steam_flow_lb_per_h(
    *,
    bore_in: ArrayLike,
    upstream_psia: ArrayLike,
    downstream_psia: ArrayLike,
    discharge_coefficient: ArrayLike,
) -> FloatArray:
    """Flow of dry saturated steam through a bore, choked or held back.

    Parameters
    ----------
    bore_in
        Bore, in. Under zero: NaN.
    upstream_psia, downstream_psia
        Absolute pressures, psia. Upstream outside 0.0886..3,020, downstream under zero: NaN.
    discharge_coefficient
        Share of the isentropic flow that passes; published leak formulas span
        `DISCHARGE_COEFFICIENT_LOW` to `DISCHARGE_COEFFICIENT_HIGH`. Shapes broadcast.

    Returns
    -------
    ndarray of float64
        Flow, lb/h; 0 where the pressure ahead does not exceed the one behind.
    """
    choked = choked_steam_flow_lb_per_h(
        bore_in=bore_in, upstream_psia=upstream_psia, discharge_coefficient=discharge_coefficient
    )
    factor = back_pressure_factor(upstream_psia=upstream_psia, downstream_psia=downstream_psia)
    return as_floats(choked * factor)
