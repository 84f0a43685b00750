"""From a pound of steam to heat, fuel, money and carbon dioxide."""

from __future__ import annotations

from numpy.typing import ArrayLike

from survey.physics.arrays import FloatArray, as_floats, nan_outside
from survey.physics.saturation import steam_enthalpy_btu_per_lb, water_enthalpy_btu_per_lb

BTU_PER_MMBTU = 1e6
LB_PER_KLB = 1e3


def heat_to_make_steam_btu_per_lb(
    *, pressure_psia: ArrayLike, feedwater_f: ArrayLike
) -> FloatArray:
    """Heat in a pound of dry steam over the feedwater it was made from.

    Parameters
    ----------
    pressure_psia
        Absolute pressure of the steam, psia. Outside 0.0886..3,020: NaN.
    feedwater_f
        Temperature of the feedwater, °F. Outside 32..696.5: NaN. Shapes broadcast.

    Returns
    -------
    ndarray of float64
        Heat, Btu/lb.

    References
    ----------
    US DOE AMO Steam Tip Sheet 15.
    """
    steam = steam_enthalpy_btu_per_lb(pressure_psia=pressure_psia)
    return as_floats(steam - water_enthalpy_btu_per_lb(temperature_f=feedwater_f))


def fuel_mmbtu_per_klb(*, heat_btu_per_lb: ArrayLike, boiler_efficiency: ArrayLike) -> FloatArray:
    """Fuel burnt for 1,000 lb of steam.

    Parameters
    ----------
    heat_btu_per_lb
        Heat given to a pound of steam, Btu/lb. Under zero: NaN.
    boiler_efficiency
        Heat in steam over heat in fuel (higher heating value), 0.01 to 1; else NaN.

    Returns
    -------
    ndarray of float64
        Fuel, MMBtu per 1,000 lb; shapes broadcast.
    """
    efficiency = nan_outside(boiler_efficiency, 0.01, 1.0)
    heat = nan_outside(heat_btu_per_lb, 0.0)
    return as_floats(heat * (LB_PER_KLB / BTU_PER_MMBTU) / efficiency)


def steam_cost_per_klb(
    *,
    heat_btu_per_lb: ArrayLike,
    fuel_price_per_mmbtu: ArrayLike,
    boiler_efficiency: ArrayLike,
) -> FloatArray:
    """Fuel cost of 1,000 lb of steam, in the currency of the fuel price.

    Parameters
    ----------
    heat_btu_per_lb, boiler_efficiency
        As for `fuel_mmbtu_per_klb`.
    fuel_price_per_mmbtu
        Price of fuel per MMBtu, higher heating value. Under zero: NaN. Shapes broadcast.

    Returns
    -------
    ndarray of float64
        Cost per 1,000 lb. Water, chemicals and labour are not in it.
    """
    fuel = fuel_mmbtu_per_klb(
        heat_btu_per_lb=heat_btu_per_lb, boiler_efficiency=boiler_efficiency
    )
    return as_floats(fuel * nan_outside(fuel_price_per_mmbtu, 0.0))


def co2_kg_per_klb(
    *, heat_btu_per_lb: ArrayLike, kg_co2_per_mmbtu: ArrayLike, boiler_efficiency: ArrayLike
) -> FloatArray:
    """Carbon dioxide of the fuel for 1,000 lb of steam, kg.

    Parameters
    ----------
    heat_btu_per_lb, boiler_efficiency
        As for `fuel_mmbtu_per_klb`.
    kg_co2_per_mmbtu
        Carbon dioxide of the fuel, kg/MMBtu (40 CFR 98 Table C-1). Under zero: NaN.

    Returns
    -------
    ndarray of float64
        Carbon dioxide, kg per 1,000 lb; shapes broadcast.
    """
    fuel = fuel_mmbtu_per_klb(
        heat_btu_per_lb=heat_btu_per_lb, boiler_efficiency=boiler_efficiency
    )
    return as_floats(fuel * nan_outside(kg_co2_per_mmbtu, 0.0))
