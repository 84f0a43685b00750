"""How each published quantity is worked out here: the inputs of a row in, a number out."""

from __future__ import annotations

import functools
import math
from collections.abc import Callable

import numpy as np
import pytest

from survey.losses.priced import LB_PER_KLB
from survey.physics import (
    condensate,
    heaters,
    orifice,
    piping,
    radiation,
    saturation,
    sound,
    steam_cost,
    units,
)
from survey.site import KG_CO2_PER_MMBTU, Site

from . import cross_checks

UNIT_BORE_IN = 2 / math.sqrt(math.pi)  # one square inch


def psia(gauge_psig: str) -> float:
    return float(gauge_psig) + 14.695949


def if97_saturation_mpa(temperature_k: str) -> float:
    pressure = saturation.saturation_psia(temperature_f=float(temperature_k) * 1.8 - 459.67)
    return float(pressure) * units.KPA_PER_PSI / 1000


def if97_saturation_k(pressure_mpa: str) -> float:
    pressure = (float(pressure_mpa) * 1000 / units.KPA_PER_PSI)
    return (float(saturation.saturation_f(pressure_psia=pressure)) + 459.67) / 1.8


def flash_percent(upstream_psig: str, downstream_psig: str) -> float:
    fraction = saturation.flash_fraction(
        upstream_psia=psia(upstream_psig), downstream_psia=psia(downstream_psig)
    )
    return float(100 * fraction)


def flash_kg(mass_kg: str, upstream_mpa: str, downstream_mpa: str) -> float:
    fraction = saturation.flash_fraction(
        upstream_psia=(float(upstream_mpa) * 1000 / units.KPA_PER_PSI),
        downstream_psia=(float(downstream_mpa) * 1000 / units.KPA_PER_PSI),
    )
    return float(mass_kg) * float(fraction)


def napier(bore_in: str, upstream_psia: str, discharge_coefficient: str) -> float:
    return float(
        cross_checks.napier_lb_per_h(
            bore_in=float(bore_in),
            upstream_psia=float(upstream_psia),
            discharge_coefficient=float(discharge_coefficient),
        )
    )


def flux(
    flow: Callable[..., np.ndarray], upstream_psia: str, coefficient: float = 1.0
) -> float:
    flow_lb_per_h = flow(
        bore_in=UNIT_BORE_IN,
        upstream_psia=float(upstream_psia),
        discharge_coefficient=coefficient,
    )
    return float(flow_lb_per_h) / float(upstream_psia)


def flow_to_atmosphere_over_napier(gauge_psig: str) -> float:
    bore = {"bore_in": 0.2, "upstream_psia": psia(gauge_psig), "discharge_coefficient": 1.0}
    flow = orifice.steam_flow_lb_per_h(downstream_psia=psia("0"), **bore)
    return float(flow / cross_checks.napier_lb_per_h(**bore))


def flow_over_choked(pressure_ratio: str) -> float:
    factor = orifice.back_pressure_factor(
        upstream_psia=100.0, downstream_psia=100.0 * float(pressure_ratio)
    )
    return float(factor)


def critical_ratio(exponent: str) -> float:
    assert float(exponent) == orifice.EXPANSION_EXPONENT
    return orifice.CRITICAL_PRESSURE_RATIO


def relief_valve_area_mm2(
    mass_kg_per_h: str,
    upstream_kpa: str,
    discharge_coefficient: str,
    napier_correction: str,
    napier_constant: str,
) -> float:
    # The standard rounds Napier's 3600/70 up to a constant of its own; its figure is judged by it.
    coefficient = float(discharge_coefficient) * float(napier_constant) / (3600 / 70)
    upstream_psia = float(float(upstream_kpa) / units.KPA_PER_PSI)
    assert napier_correction_of(upstream_kpa) == pytest.approx(float(napier_correction), abs=1e-4)
    per_in2 = flux(cross_checks.napier_lb_per_h, str(upstream_psia), coefficient)
    area_in2 = float(mass_kg_per_h) / units.KG_PER_LB / (per_in2 * upstream_psia)
    return area_in2 * 25.4**2


def napier_correction_of(upstream_kpa: str) -> float:
    upstream_psia = str(float(float(upstream_kpa) / units.KPA_PER_PSI))
    return flux(cross_checks.napier_lb_per_h, upstream_psia) / (3600 / 70)


def liquid_ratio(vapour_kpa: str) -> float:
    vapour = (float(vapour_kpa) / units.KPA_PER_PSI)
    return float(condensate.liquid_critical_ratio(vapour_psia=vapour))


def fuel_cost_of_a_loss(
    loss_lb_per_h: str,
    hours_per_year: str,
    heat_btu_per_lb: str,
    fuel_price_per_mmbtu: str,
    boiler_efficiency: str,
) -> float:
    cost = steam_cost_per_klb(heat_btu_per_lb, fuel_price_per_mmbtu, boiler_efficiency)
    return cost_of_a_loss(loss_lb_per_h, hours_per_year, str(cost))


def cost_of_a_loss(loss_lb_per_h: str, hours_per_year: str, cost_per_klb: str) -> float:
    return float(loss_lb_per_h) * float(hours_per_year) / LB_PER_KLB * float(cost_per_klb)


def steam_cost_per_klb(
    heat_btu_per_lb: str, fuel_price_per_mmbtu: str, boiler_efficiency: str
) -> float:
    return float(
        steam_cost.steam_cost_per_klb(
            heat_btu_per_lb=float(heat_btu_per_lb),
            fuel_price_per_mmbtu=float(fuel_price_per_mmbtu),
            boiler_efficiency=float(boiler_efficiency),
        )
    )


def heat_to_make(gauge_psig: str, feedwater_f: str) -> float:
    heat = steam_cost.heat_to_make_steam_btu_per_lb(
        pressure_psia=psia(gauge_psig), feedwater_f=float(feedwater_f)
    )
    return float(heat)


def cost_from_the_boiler(
    gauge_psig: str, feedwater_f: str, fuel_price_per_mmbtu: str, boiler_efficiency: str
) -> float:
    heat = heat_to_make(gauge_psig, feedwater_f)
    return steam_cost_per_klb(str(heat), fuel_price_per_mmbtu, boiler_efficiency)


def value_of_flash_steam(
    condensate_lb_per_h: str,
    upstream_psig: str,
    downstream_psig: str,
    makeup_f: str,
    hours_per_year: str,
    fuel_price_per_mmbtu: str,
    boiler_efficiency: str,
) -> float:
    # The source rounds the flash to 10.3 % before it goes on.
    share = round(flash_percent(upstream_psig, downstream_psig), 1) / 100
    heat = heat_to_make(downstream_psig, makeup_f)
    return fuel_cost_of_a_loss(
        str(share * float(condensate_lb_per_h)), hours_per_year, str(heat),
        fuel_price_per_mmbtu, boiler_efficiency,
    )  # fmt: skip


def co2_of_fuel(fuel: str) -> float:
    # A thousandth of an MMBtu in a pound of steam: 1 MMBtu in 1,000 lb.
    kg = steam_cost.co2_kg_per_klb(
        heat_btu_per_lb=1000.0, kg_co2_per_mmbtu=KG_CO2_PER_MMBTU[fuel], boiler_efficiency=1.0
    )
    return float(kg)


def default_hours(days: str, hours_per_day: str) -> float:
    assert float(days) * float(hours_per_day) == Site().hours_per_year
    return Site().hours_per_year


def heater_factor(gauge_psig: str, air_f: str) -> float:
    factor = heaters.unit_heater_output_factor(steam_psia=psia(gauge_psig), air_f=float(air_f))
    return float(factor)


def air_exponent(gauge_psig: str, air_f: str, other_air_f: str) -> float:
    steam_f = float(saturation.saturation_f(pressure_psia=psia(gauge_psig)))
    output = heater_factor(gauge_psig, air_f) / heater_factor(gauge_psig, other_air_f)
    rise = (steam_f - float(air_f)) / (steam_f - float(other_air_f))
    return math.log(output) / math.log(rise)


def level_less_background(level_db: str, background_db: str) -> float:
    """Find the level that with the background makes the whole, by halving."""
    low, high = float(background_db) - 60.0, float(level_db)
    for _ in range(60):
        middle = 0.5 * (low + high)
        together = sound.add_two_levels_db(level_db=middle, other_db=float(background_db))
        low, high = (middle, high) if together < float(level_db) else (low, middle)
    return low


def with_floats(function: Callable[..., np.ndarray]) -> Callable[..., float]:
    def call(**inputs: str) -> float:
        return float(function(**{name: float(value) for name, value in inputs.items()}))

    return call


CHECKS: dict[str, Callable[..., float]] = {
    "saturation pressure of IF97": if97_saturation_mpa,
    "saturation temperature of IF97": if97_saturation_k,
    "saturation temperature": lambda gauge_psig: float(
        saturation.saturation_f(pressure_psia=psia(gauge_psig))
    ),
    "latent heat": lambda gauge_psig: float(
        saturation.latent_heat_btu_per_lb(pressure_psia=psia(gauge_psig))
    ),
    "flash steam": flash_percent,
    "mass of flash steam": flash_kg,
    "steam loss to atmosphere by Napier": napier,
    "choked flux by Rateau": lambda upstream_psia: flux(
        cross_checks.rateau_lb_per_h, upstream_psia
    ),
    "choked isentropic flux": lambda upstream_psia: flux(
        orifice.choked_steam_flow_lb_per_h, upstream_psia
    ),
    "flow to atmosphere over Napier's": flow_to_atmosphere_over_napier,
    "flow over choked flow": flow_over_choked,
    "critical pressure ratio": critical_ratio,
    "relief valve area for steam": relief_valve_area_mm2,
    "correction of Napier": napier_correction_of,
    "liquid critical pressure ratio": liquid_ratio,
    "season's fuel cost": fuel_cost_of_a_loss,
    "annual cost": cost_of_a_loss,
    "cost of steam": steam_cost_per_klb,
    "heat to make steam": heat_to_make,
    "cost of steam from the boiler": cost_from_the_boiler,
    "value of flash steam": value_of_flash_steam,
    "CO2 of fuel": co2_of_fuel,
    "hours under steam": default_hours,
    "head of water": with_floats(piping.head_ft_per_psi),
    "pressure for a 30 ft lift": with_floats(piping.lift_pressure_psi),
    "temperature of steam with air": lambda gauge_psig, air_fraction: float(
        cross_checks.steam_air_temperature_f(
            total_psia=psia(gauge_psig), air_fraction=float(air_fraction)
        )
    ),
    "unit heater output factor": heater_factor,
    "exponent of the air temperature difference": air_exponent,
    "sum of levels": lambda levels_db: float(
        functools.reduce(
            lambda level, other: sound.add_two_levels_db(level_db=level, other_db=other),
            [float(level) for level in levels_db.split()],
        )
    ),
    "level less background": level_less_background,
    "background correction": lambda difference_db: (
        level_less_background(difference_db, "0") - float(difference_db)
    ),
    "emissivity": lambda surface, figure: getattr(radiation.EMISSIVITIES[surface], figure),
    "pressure of the standard atmosphere": with_floats(units.atmosphere_psia),
}
