"""What an infrared thermometer shows of a pipe whose emissivity is not the one it is set to."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from survey.columns import ABSOLUTE_ZERO_F
from survey.physics.arrays import FloatArray, as_floats, nan_outside


class Emissivity(NamedTuple):
    """Emissivity of a surface: the figure and the span published for it, 0..1."""

    typical: float
    low: float
    high: float


EMISSIVITIES = {
    "red_rust": Emissivity(0.69, 0.61, 0.85),
    "oil_paint": Emissivity(0.94, 0.92, 0.96),
    "new_galvanised": Emissivity(0.07, 0.07, 0.07),
}
"""Published emissivity tables: Bramson and Wolfe (rust), Thome 2008 (paint). No span is
published for galvanised sheet; weathered, it is several times higher (common practice, no
source)."""

THERMOMETER_SETTING = 0.95
"""What a thermometer without a setting assumes; common practice, no source."""
_SECOND_CONSTANT_UM_R = 14_387.77 * 1.8  # second radiation constant, micrometre x rankine
_WAVELENGTH_UM = 11.0  # middle of the 8 to 14 micrometre window such thermometers work in
LOWEST_F = -300.0
_LEAST_RADIANCE = 1e-9


def _radiance(temperature_f: FloatArray) -> FloatArray:
    rankine = nan_outside(temperature_f, LOWEST_F) - ABSOLUTE_ZERO_F
    return as_floats(1 / np.expm1(_SECOND_CONSTANT_UM_R / (_WAVELENGTH_UM * rankine)))


def _temperature_f(radiance: FloatArray) -> FloatArray:
    inside = nan_outside(radiance, _LEAST_RADIANCE)
    rankine = _SECOND_CONSTANT_UM_R / (_WAVELENGTH_UM * np.log1p(1 / inside))
    return as_floats(rankine + ABSOLUTE_ZERO_F)


def infrared_reading_f(
    *,
    surface_f: ArrayLike,
    surroundings_f: ArrayLike,
    emissivity: ArrayLike,
    setting: ArrayLike = THERMOMETER_SETTING,
) -> FloatArray:
    """Temperature that an infrared thermometer shows.

    Parameters
    ----------
    surface_f
        True temperature of the surface, °F. Under -300: NaN.
    surroundings_f
        Temperature of what the surface mirrors and of the instrument, °F.
    emissivity
        Of the surface, 0 to 1; else NaN.
    setting
        Emissivity that the instrument assumes, 0.01 to 1; else NaN. Shapes broadcast.

    Returns
    -------
    ndarray of float64
        Reading, °F; NaN where what the instrument would compute is no radiance.

    References
    ----------
    Planck's law at 11 micrometres for an opaque grey surface in uniform surroundings, the
    instrument making up for what it takes to be mirrored.
    """
    assumed = nan_outside(setting, 0.01, 1.0)
    mirrored = _radiance(as_floats(surroundings_f))
    excess = _radiance(as_floats(surface_f)) - mirrored
    share = nan_outside(emissivity, 0.0, 1.0) / assumed
    return _temperature_f(as_floats(mirrored + share * excess))


def surface_temperature_f(
    *,
    reading_f: ArrayLike,
    surroundings_f: ArrayLike,
    relative_emissivity: ArrayLike,
) -> FloatArray:
    """Surface temperature behind a reading: `infrared_reading_f` solved for the surface.

    Parameters
    ----------
    reading_f, surroundings_f
        Reading, and temperature of what the surface mirrors, °F. Under -300: NaN.
    relative_emissivity
        Emissivity of the surface over the instrument's setting, over 0. Shapes broadcast.

    Returns
    -------
    ndarray of float64
        Surface temperature, °F; NaN where no surface gives such a reading.
    """
    mirrored = _radiance(as_floats(surroundings_f))
    excess = _radiance(as_floats(reading_f)) - mirrored
    return _temperature_f(as_floats(mirrored + excess / nan_outside(relative_emissivity, 1e-3)))
