"""Lifting condensate: how high a pressure carries hot water."""

from __future__ import annotations

from numpy.typing import ArrayLike

from survey.physics.arrays import FloatArray, as_floats, nan_outside
from survey.physics.saturation import water_density_lb_per_ft3
from survey.physics.units import IN2_PER_FT2


def head_ft_per_psi(*, temperature_f: ArrayLike) -> FloatArray:
    """Height of water that one psi holds up.

    Parameters
    ----------
    temperature_f
        Temperature of the water, °F, any shape. Outside 32..696.5: NaN.

    Returns
    -------
    ndarray of float64
        Head, ft/psi.

    References
    ----------
    Density of saturated water, IAPWS R7-97(2012).
    """
    return as_floats(IN2_PER_FT2 / water_density_lb_per_ft3(temperature_f=temperature_f))


def lift_pressure_psi(*, lift_ft: ArrayLike, temperature_f: ArrayLike) -> FloatArray:
    """Pressure difference that a rise of the return takes, water standing in it.

    Parameters
    ----------
    lift_ft
        Rise, ft; a fall (under zero) gives a pressure under zero: it helps.
    temperature_f
        Temperature of the water, °F. Outside 32..696.5: NaN. Shapes broadcast.

    Returns
    -------
    ndarray of float64
        Pressure, psi. Friction is not in it.
    """
    return as_floats(nan_outside(lift_ft) / head_ft_per_psi(temperature_f=temperature_f))
