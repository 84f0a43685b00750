"""Hot condensate through the seat of a trap, flashing counted."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from survey.physics.arrays import FloatArray, as_floats, nan_outside
from survey.physics.saturation import (
    HIGHEST_PSIA,
    LOWEST_F,
    LOWEST_PSIA,
    saturation_f,
    saturation_psia,
    water_density_lb_per_ft3,
)
from survey.physics.units import (
    IN2_PER_FT2,
    KPA_PER_PSI,
    POUND_FORCE_LB_FT_PER_S2,
    SECONDS_PER_HOUR,
    bore_area_in2,
)

LIQUID_PRESSURE_RECOVERY = 0.9
"""FL of a globe valve, parabolic plug, flow to open, the nearest to a trap's seat: IEC 60534-2-1,
example 1, as given in the documentation of an open library."""
CRITICAL_POINT_PSIA = 22_064 / KPA_PER_PSI


def liquid_critical_ratio(*, vapour_psia: ArrayLike) -> FloatArray:
    """FF: pressure at which hot water flashing in a seat chokes, over its vapour pressure.

    Vapour pressure in psia, any shape; outside 0..3,020: NaN.
    Source: IEC 60534-2-1, FF = 0.96 - 0.28 sqrt(pv / pc).
    """
    vapour = nan_outside(vapour_psia, 0.0, HIGHEST_PSIA)
    return as_floats(0.96 - 0.28 * np.sqrt(vapour / CRITICAL_POINT_PSIA))


def condensate_capacity_lb_per_h(
    *,
    bore_in: ArrayLike,
    upstream_psia: ArrayLike,
    downstream_psia: ArrayLike,
    temperature_f: ArrayLike,
    discharge_coefficient: ArrayLike,
) -> FloatArray:
    """Most condensate that a wide-open seat passes, flashing counted.

    Cold condensate follows the pressure difference. Near saturation it flashes in the seat and
    chokes: lowering the pressure behind it then passes no more, so a capacity worked from the
    whole difference would promise two to four times what comes through. Even this is the upper
    side: were flashing complete inside the seat, a third (at 5 psig) to two thirds (at 600) would
    pass. The seat of a trap is too short for that, so the truth lies between.

    Parameters
    ----------
    bore_in
        Bore, in. Under zero: NaN.
    upstream_psia, downstream_psia
        Absolute pressures, psia. Upstream outside 0.0886..3,020, downstream under zero: NaN.
    temperature_f
        Temperature of the condensate at the seat, °F. Outside 32..696.5: NaN. Water is never
        hotter than saturation, so a higher reading is taken as saturation.
    discharge_coefficient
        Share of the ideal flow that passes. Shapes broadcast.

    Returns
    -------
    ndarray of float64
        Capacity, lb/h; 0 where the pressure ahead does not exceed the one behind.

    References
    ----------
    IEC 60534-2-1, liquids: the difference that drives flow is at most FL2 (p1 - FF pv).
    """
    upstream = nan_outside(upstream_psia, LOWEST_PSIA, HIGHEST_PSIA)
    given_f = nan_outside(temperature_f, LOWEST_F)
    water_f = np.minimum(given_f, saturation_f(pressure_psia=upstream))
    vapour = np.minimum(saturation_psia(temperature_f=water_f), upstream)
    choking = LIQUID_PRESSURE_RECOVERY**2 * (
        upstream - liquid_critical_ratio(vapour_psia=vapour) * vapour
    )
    driving = np.minimum(upstream - nan_outside(downstream_psia, 0.0), choking)
    head = np.clip(driving, 0.0, None) * IN2_PER_FT2 * 2 * POUND_FORCE_LB_FT_PER_S2
    per_ft2_s = np.sqrt(head * water_density_lb_per_ft3(temperature_f=water_f))
    area_ft2 = bore_area_in2(bore_in=bore_in) / IN2_PER_FT2
    coefficient = nan_outside(discharge_coefficient, 0.0)
    return as_floats(SECONDS_PER_HOUR * per_ft2_s * area_ft2 * coefficient)
