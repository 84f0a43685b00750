"""Units, and gauge against absolute pressure at the site's altitude.

One value in, the same shape out as float64; NaN stays NaN. Factors are the exact ones of
the international yard and pound (1959): 1 ft = 0.3048 m, 1 lb = 0.45359237 kg, with the
standard gravity 9.80665 m/s2 for the pound-force. Converters only scale: a value that cannot be
is theirs to pass on and the reader's to refuse.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from survey.columns import STANDARD_ATMOSPHERE_PSIA
from survey.physics.arrays import FloatArray, as_floats, nan_outside

M_PER_FT = 0.3048
MM_PER_IN = 25.4
KG_PER_LB = 0.45359237
KPA_PER_PSI = KG_PER_LB * 9.80665 / 0.0254**2 / 1000
KPA_PER_BAR = 100.0
KJ_PER_KG_PER_BTU_PER_LB = 2.326
KG_PER_M3_PER_LB_PER_FT3 = KG_PER_LB / M_PER_FT**3
IN2_PER_FT2 = 144.0
SECONDS_PER_HOUR = 3600.0
POUND_FORCE_LB_FT_PER_S2 = 9.80665 / M_PER_FT
LOWEST_ALTITUDE_FT = -5000.0
HIGHEST_ALTITUDE_FT = 36_000.0

# The lowest layer of the standard atmosphere: 288.15 K at sea level, 6.5 K less per km.
_LAPSE_PER_FT = 0.0065 * M_PER_FT / 288.15
_EARTH_RADIUS_FT = 6_356_766 / M_PER_FT
_BAROMETRIC_EXPONENT = 9.80665 * 0.0289644 / (8.31432 * 0.0065)


def atmosphere_psia(*, altitude_ft: ArrayLike) -> FloatArray:
    """Pressure of the standard atmosphere.

    Parameters
    ----------
    altitude_ft
        Height over the sea as on a map, ft, any shape. Outside -5,000..36,000: NaN.

    Returns
    -------
    ndarray of float64
        Pressure, psia, same shape.

    References
    ----------
    US Standard Atmosphere 1976, eq. 18 and 33a, lowest layer (the same as ISO 2533).
    """
    height_ft = nan_outside(altitude_ft, LOWEST_ALTITUDE_FT, HIGHEST_ALTITUDE_FT)
    geopotential_ft = height_ft * _EARTH_RADIUS_FT / (_EARTH_RADIUS_FT + height_ft)
    ratio = (1 - _LAPSE_PER_FT * geopotential_ft) ** _BAROMETRIC_EXPONENT
    return as_floats(STANDARD_ATMOSPHERE_PSIA * ratio)


def absolute_psia(*, gauge_psig: ArrayLike, altitude_ft: ArrayLike) -> FloatArray:
    """Absolute pressure of a gauge reading: the reading over the site's atmosphere.

    Parameters
    ----------
    gauge_psig
        Gauge pressure, psig.
    altitude_ft
        Height over the sea, ft; shapes broadcast.

    Returns
    -------
    ndarray of float64
        Pressure, psia; NaN where it would not be above a perfect vacuum.
    """
    total_psia = as_floats(gauge_psig) + atmosphere_psia(altitude_ft=altitude_ft)
    return nan_outside(total_psia, above=0.0)


def gauge_psig(*, absolute_psia: ArrayLike, altitude_ft: ArrayLike) -> FloatArray:
    """Gauge reading of an absolute pressure in psia; NaN where that is not above zero."""
    inside_psia = nan_outside(absolute_psia, above=0.0)
    return as_floats(inside_psia - atmosphere_psia(altitude_ft=altitude_ft))


def _scaled(values: ArrayLike, factor: float) -> FloatArray:
    with np.errstate(over="ignore"):  # an absurd number becomes infinite, for its reader to refuse
        return as_floats(as_floats(values) * factor)


def celsius_to_fahrenheit(temperature_c: ArrayLike) -> FloatArray:
    """Temperature in °F, even below absolute zero: whoever reads it must see what was typed."""
    return as_floats(_scaled(temperature_c, 1.8) + 32)


def fahrenheit_to_celsius(temperature_f: ArrayLike) -> FloatArray:
    """Temperature in °C, even below absolute zero."""
    return _scaled(as_floats(temperature_f) - 32, 1 / 1.8)


def celsius_to_fahrenheit_difference(difference_c: ArrayLike) -> FloatArray:
    """Temperature difference (subcooling, say) in °F."""
    return _scaled(difference_c, 1.8)


def fahrenheit_to_celsius_difference(difference_f: ArrayLike) -> FloatArray:
    """Temperature difference (subcooling, say) in °C."""
    return _scaled(difference_f, 1 / 1.8)


def bar_to_psi(pressure_bar: ArrayLike) -> FloatArray:
    """Pressure in psi; gauge stays gauge and absolute stays absolute."""
    return _scaled(pressure_bar, KPA_PER_BAR / KPA_PER_PSI)


def psi_to_bar(pressure_psi: ArrayLike) -> FloatArray:
    """Pressure in bar; gauge stays gauge and absolute stays absolute."""
    return _scaled(pressure_psi, KPA_PER_PSI / KPA_PER_BAR)


def kpa_to_psi(pressure_kpa: ArrayLike) -> FloatArray:
    """Pressure in psi; gauge stays gauge and absolute stays absolute."""
    return _scaled(pressure_kpa, 1 / KPA_PER_PSI)


def psi_to_kpa(pressure_psi: ArrayLike) -> FloatArray:
    """Pressure in kPa; gauge stays gauge and absolute stays absolute."""
    return _scaled(pressure_psi, KPA_PER_PSI)


def metres_to_feet(length_m: ArrayLike) -> FloatArray:
    """Length in ft."""
    return _scaled(length_m, 1 / M_PER_FT)


def feet_to_metres(length_ft: ArrayLike) -> FloatArray:
    """Length in m."""
    return _scaled(length_ft, M_PER_FT)


def mm_to_inches(length_mm: ArrayLike) -> FloatArray:
    """Length in inches."""
    return _scaled(length_mm, 1 / MM_PER_IN)


def inches_to_mm(length_in: ArrayLike) -> FloatArray:
    """Length in mm."""
    return _scaled(length_in, MM_PER_IN)


def lb_to_kg(mass_lb: ArrayLike) -> FloatArray:
    """Mass in kg; a flow in lb/h becomes kg/h."""
    return _scaled(mass_lb, KG_PER_LB)


def kg_to_lb(mass_kg: ArrayLike) -> FloatArray:
    """Mass in lb; a flow in kg/h becomes lb/h."""
    return _scaled(mass_kg, 1 / KG_PER_LB)


def bore_area_in2(*, bore_in: ArrayLike) -> FloatArray:
    """Area of a round bore in square inches; NaN for a bore under zero."""
    return as_floats(np.pi / 4 * nan_outside(bore_in, 0.0) ** 2)
