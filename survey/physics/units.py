"""Units, and gauge against absolute pressure at the site's altitude.

One value in, the same shape out as float64; NaN stays NaN. Factors are the exact ones of
the international yard and pound (1959): 1 ft = 0.3048 m, 1 lb = 0.45359237 kg, with the
standard gravity 9.80665 m/s2 for the pound-force.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from survey.columns import standard_atmosphere_psia
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
    return as_floats(standard_atmosphere_psia(height_ft))


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


def bore_area_in2(*, bore_in: ArrayLike) -> FloatArray:
    """Area of a round bore in square inches; NaN for a bore under zero."""
    return as_floats(np.pi / 4 * nan_outside(bore_in, 0.0) ** 2)
