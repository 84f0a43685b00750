"""A supply pressure nobody read: taken off the hot inlets, as steam there is saturated."""

from __future__ import annotations

import numpy as np

from survey.columns import DEVICES, THERMOMETERS
from survey.diagnosis import priors
from survey.physics.saturation import saturation_f, saturation_psia
from survey.physics.units import atmosphere_psia, gauge_psig

LEAST_HOT = 3
"""Hot inlets needed to take a pressure off them; one or two may be a cold unit's neighbours."""
BOILING_SHARE = 0.97
"""An inlet this near to boiling at the site's air pressure, or over it, counts as hot."""
_SHARE = np.array([priors.THERMOMETER_SHARE[name][0] for name in THERMOMETERS])


def pressure_of_hot_inlets_psig(
    *,
    device: np.ndarray,
    inlet_f: np.ndarray,
    ambient_f: np.ndarray,
    thermometer: np.ndarray,
    altitude_ft: float,
) -> float:
    """Return the gauge pressure at which the hotter half of the hot inlets is saturated.

    Parameters
    ----------
    device, inlet_f, ambient_f, thermometer
        Readings of the devices of one station, (n,); temperatures °F.

    Returns
    -------
    float
        psig; NaN where fewer than `LEAST_HOT` inlets are hot.
    """
    share = np.where(thermometer >= 0, _SHARE[thermometer], _SHARE[0])
    true_f = ambient_f + (inlet_f - ambient_f) / share
    air_psia = float(atmosphere_psia(altitude_ft=altitude_ft))
    boiling_f = float(saturation_f(pressure_psia=air_psia))
    with np.errstate(invalid="ignore"):
        hot = true_f[(true_f > BOILING_SHARE * boiling_f) & (device == DEVICES.index("trap"))]
    if len(hot) < LEAST_HOT:
        return float("nan")
    supply_psia = saturation_psia(temperature_f=float(np.quantile(hot, 0.75)))
    return float(gauge_psig(absolute_psia=supply_psia, altitude_ft=altitude_ft))
