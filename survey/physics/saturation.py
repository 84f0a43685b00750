"""Saturated steam and water over 32 °F..3,020 psia, IAPWS Industrial Formulation 1997.

Saturation pressure and temperature are the formulation's own closed equations. The other
properties come from a steam library through a table built once, on first use: a million
different pressures then cost no more than a hundred.
"""

from __future__ import annotations

from functools import cache
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from survey.physics.arrays import FloatArray, as_floats, nan_outside
from survey.physics.units import (
    KG_PER_M3_PER_LB_PER_FT3,
    KJ_PER_KG_PER_BTU_PER_LB,
    KPA_PER_PSI,
)

_MPA_PER_PSI = KPA_PER_PSI / 1000
_N = (
    0.0, 0.11670521452767e4, -0.72421316703206e6, -0.17073846940092e2, 0.12020824702470e5,
    -0.32325550322333e7, 0.14915108613530e2, -0.48232657361591e4, 0.40511340542057e6,
    -0.23855557567849, 0.65017534844798e3,
)  # fmt: skip
"""Coefficients n1..n10 of R7-97(2012) Table 34; n0 is not in it and keeps the numbers."""

LOWEST_F = 32.0
LOWEST_PSIA = 611.2126774 / 1000 / KPA_PER_PSI
"""Saturation pressure at 32 °F, where water would freeze."""
HIGHEST_PSIA = 3020.0
"""Past the highest gauge reading taken (3,000 psig). At 3,052 psia the formulation itself jumps."""
HIGHEST_F = 696.5
_POINTS_PER_F = 16
_REGION_STEP_F = (662.0, 662.000001)
"""Either side of 623.15 K, where the formulation changes equations and steps by up to 1e-4."""


def saturation_f(*, pressure_psia: ArrayLike) -> FloatArray:
    """Temperature at which steam condenses.

    Parameters
    ----------
    pressure_psia
        Absolute pressure, psia, any shape. Outside 0.0886..3,020: NaN.

    Returns
    -------
    ndarray of float64
        Temperature, °F, same shape.

    References
    ----------
    IAPWS R7-97(2012), eq. 31, coefficients of Table 34.
    """
    beta = (nan_outside(pressure_psia, LOWEST_PSIA, HIGHEST_PSIA) * _MPA_PER_PSI) ** 0.25
    e = beta * beta + _N[3] * beta + _N[6]
    f = _N[1] * beta * beta + _N[4] * beta + _N[7]
    g = _N[2] * beta * beta + _N[5] * beta + _N[8]
    d = 2 * g / (-f - np.sqrt(f * f - 4 * e * g))
    kelvin = (_N[10] + d - np.sqrt((_N[10] + d) ** 2 - 4 * (_N[9] + _N[10] * d))) / 2
    return as_floats(kelvin * 1.8 - 459.67)


def saturation_psia(*, temperature_f: ArrayLike) -> FloatArray:
    """Pressure at which water of this temperature boils.

    Parameters
    ----------
    temperature_f
        Temperature, °F, any shape. Outside 32..696.5: NaN.

    Returns
    -------
    ndarray of float64
        Pressure, psia, same shape.

    References
    ----------
    IAPWS R7-97(2012), eq. 30, coefficients of Table 34.
    """
    kelvin = (nan_outside(temperature_f, LOWEST_F, HIGHEST_F) + 459.67) / 1.8
    theta = kelvin + _N[9] / (kelvin - _N[10])
    a = theta * theta + _N[1] * theta + _N[2]
    b = _N[3] * theta * theta + _N[4] * theta + _N[5]
    c = _N[6] * theta * theta + _N[7] * theta + _N[8]
    root = 2 * c / (-b + np.sqrt(b * b - 4 * a * c))
    return as_floats(root**4 / _MPA_PER_PSI)


class _Grid(NamedTuple):
    temperature_f: FloatArray
    log_psia: FloatArray


@cache
def _grid() -> _Grid:
    points = round((HIGHEST_F - LOWEST_F) * _POINTS_PER_F) + 1
    temperature_f = np.union1d(np.linspace(LOWEST_F, HIGHEST_F, points), _REGION_STEP_F)
    return _Grid(temperature_f, np.log(saturation_psia(temperature_f=temperature_f)))


@cache
def _property(quality: int, number: int) -> FloatArray:
    """Return a property of steam (quality 1) or water (0) on the grid, by the library's number."""
    import seuif97  # on first use: nothing else in the package needs it

    celsius = ((_grid().temperature_f - 32) / 1.8).tolist()
    values = as_floats([seuif97.tx(t, quality, number) for t in celsius])
    if np.any(values <= -9000):  # its word for out of range
        raise ArithmeticError("the steam library gave no value inside its own range")
    return values


@cache
def _steam_enthalpy() -> FloatArray:
    return _property(1, 4) / KJ_PER_KG_PER_BTU_PER_LB


@cache
def _water_enthalpy() -> FloatArray:
    return _property(0, 4) / KJ_PER_KG_PER_BTU_PER_LB


@cache
def _log_steam_density() -> FloatArray:
    return as_floats(np.log(_property(1, 2) / KG_PER_M3_PER_LB_PER_FT3))


@cache
def _water_density() -> FloatArray:
    return _property(0, 2) / KG_PER_M3_PER_LB_PER_FT3


def _by_pressure(pressure_psia: ArrayLike, values: FloatArray) -> FloatArray:
    log_psia = np.log(nan_outside(pressure_psia, LOWEST_PSIA, HIGHEST_PSIA))
    return as_floats(np.interp(log_psia, _grid().log_psia, values))


def _by_temperature(temperature_f: ArrayLike, values: FloatArray) -> FloatArray:
    inside_f = nan_outside(temperature_f, LOWEST_F, HIGHEST_F)
    return as_floats(np.interp(inside_f, _grid().temperature_f, values))


def latent_heat_btu_per_lb(*, pressure_psia: ArrayLike) -> FloatArray:
    """Heat that a pound of dry steam gives up in condensing, Btu/lb.

    Absolute pressure in psia, any shape; outside 0.0886..3,020: NaN. Source: IAPWS R7-97(2012).
    """
    return _by_pressure(pressure_psia, _steam_enthalpy() - _water_enthalpy())


def steam_enthalpy_btu_per_lb(*, pressure_psia: ArrayLike) -> FloatArray:
    """Enthalpy of dry saturated steam over water at 32 °F, Btu/lb.

    Absolute pressure in psia, any shape; outside 0.0886..3,020: NaN. Source: IAPWS R7-97(2012).
    """
    return _by_pressure(pressure_psia, _steam_enthalpy())


def water_enthalpy_btu_per_lb(*, temperature_f: ArrayLike) -> FloatArray:
    """Enthalpy of saturated water over water at 32 °F, Btu/lb.

    Temperature in °F, any shape; outside 32..696.5: NaN. Source: IAPWS R7-97(2012).
    """
    return _by_temperature(temperature_f, _water_enthalpy())


def steam_density_lb_per_ft3(*, pressure_psia: ArrayLike) -> FloatArray:
    """Density of dry saturated steam, lb/ft3.

    Absolute pressure in psia, any shape; outside 0.0886..3,020: NaN. Source: IAPWS R7-97(2012).
    """
    return as_floats(np.exp(_by_pressure(pressure_psia, _log_steam_density())))


def water_density_lb_per_ft3(*, temperature_f: ArrayLike) -> FloatArray:
    """Density of saturated water, lb/ft3.

    Temperature in °F, any shape; outside 32..696.5: NaN. Source: IAPWS R7-97(2012).
    """
    return _by_temperature(temperature_f, _water_density())


def flash_fraction(*, upstream_psia: ArrayLike, downstream_psia: ArrayLike) -> FloatArray:
    """Share of saturated water that turns to steam when let down to a lower pressure.

    Parameters
    ----------
    upstream_psia, downstream_psia
        Absolute pressures, psia; shapes broadcast. Outside 0.0886..3,020: NaN.

    Returns
    -------
    ndarray of float64
        Pound of flash steam per pound of condensate, 0..1; 0 where there is no let-down.

    References
    ----------
    Heat balance at constant enthalpy, as in US DOE AMO Steam Tip Sheet 12.
    """
    water = _water_enthalpy()
    surplus = _by_pressure(upstream_psia, water) - _by_pressure(downstream_psia, water)
    latent = latent_heat_btu_per_lb(pressure_psia=downstream_psia)
    return as_floats(np.clip(surplus / latent, 0.0, 1.0))
