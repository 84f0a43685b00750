"""From pounds an hour to a year's steam, money and carbon dioxide."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from survey.physics.saturation import latent_heat_btu_per_lb
from survey.physics.steam_cost import (
    co2_kg_per_klb,
    heat_to_make_steam_btu_per_lb,
    steam_cost_per_klb,
)
from survey.site import KG_CO2_PER_MMBTU, Site

KG_PER_T = 1000.0
BASIS_WORDS = {
    "whole_pound": (
        "Loss counted by the whole pound: heat from feedwater to steam, and its water gone."
    ),
    "latent_heat": "Loss counted by latent heat: the condensate comes back to the boiler.",
}


@dataclass(frozen=True)
class Prices:
    """What a thousand pounds of lost steam costs and emits at each device, (n,)."""

    cost_per_klb: np.ndarray
    co2_t_per_klb: np.ndarray


def prices(site: Site, *, supply_psia: np.ndarray) -> Prices:
    """Price the steam of each device at its own pressure.

    A cost of steam given for the site stands; else it follows from the fuel. Where no
    pressure is known, heat is taken at 15 psig: it changes by under 4 % up to 150 psig.
    """
    pressure = np.where(np.isfinite(supply_psia), supply_psia, 29.7)
    if site.loss_basis == "latent_heat":
        heat = latent_heat_btu_per_lb(pressure_psia=pressure)
    else:
        heat = heat_to_make_steam_btu_per_lb(
            pressure_psia=pressure, feedwater_f=np.full_like(pressure, site.feedwater_f)
        )
    cost = steam_cost_per_klb(
        heat_btu_per_lb=heat,
        fuel_price_per_mmbtu=site.fuel.price_per_mmbtu,
        boiler_efficiency=site.boiler_efficiency,
    )
    if site.steam_cost_per_klb is not None:
        cost = np.full_like(pressure, site.steam_cost_per_klb)
    co2_kg = co2_kg_per_klb(
        heat_btu_per_lb=heat,
        kg_co2_per_mmbtu=KG_CO2_PER_MMBTU[site.fuel.kind],
        boiler_efficiency=site.boiler_efficiency,
    )
    return Prices(cost, co2_kg / KG_PER_T)
