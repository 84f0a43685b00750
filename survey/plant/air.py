"""Air shut in with the steam: how much, what it costs in heat, and which vent to open first."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from survey.diagnosis.equipment import equipment_of
from survey.physics.air import implied_air_fraction
from survey.physics.heaters import unit_heater_output_factor
from survey.physics.saturation import latent_heat_btu_per_lb, saturation_psia
from survey.plant.lift import load_today
from survey.plant.units import Units, text_of, units_of
from survey.plant.wording import place_words
from survey.site import Site

SHUT_STATES = ("isolated", "missing")
LOAD_FACTOR_EITHER_WAY = 2.0
"""A load taken from the trap's size is known within a factor of two; common practice, no source."""
LEAST_CHANCE = 0.5
AIR_NOTE = (
    "The share of air is what would cool the steam to the temperature read (Dalton's law), at the "
    "place where it was read: air is swept to the end and lies as a film on the metal, so far "
    "less in the steam does it. Published analysis of such films (Sparrow and Lin, 1964, from "
    "memory) halves the heat with half a per cent of air by weight in still steam."
)


@dataclass(frozen=True)
class AirBound:
    """One unit that is cold for want of venting.

    Parameters
    ----------
    air_share
        Air by volume that its temperature implies, 0..1.
    output_lost_share
        Heat lost if the whole heater is as cool as its trap's inlet, 0..1: the upper side, as
        air gathers at that end.
    heat_back_btu_per_h
        Heat that venting brings back, weighed by the chance that air is to blame; the low and
        high ends beside it. NaN where neither load nor bore is known.
    """

    tag: str
    station: str
    equipment: str
    where: str
    vents: tuple[str, ...]
    chance: float
    air_share: float
    output_lost_share: float
    heat_back_btu_per_h: float
    heat_back_low_btu_per_h: float
    heat_back_high_btu_per_h: float
    load_given: bool


def air_bound(findings: pd.DataFrame, *, site: Site) -> list[AirBound]:
    """List the air-bound units of a findings table, the most heat to come back first.

    Units of which it cannot be told come last, the coolest first.
    """
    units = units_of(findings, site)
    bound = np.flatnonzero((units.cause == "air_vent") & (units.cold >= LEAST_CHANCE))
    units = units.take(bound)
    heater = equipment_of(findings)
    of_unit = heater[text_of(findings, "device") == "trap"][bound]
    share = implied_air_fraction(total_psia=units.supply_psia, temperature_f=units.inlet_f)
    lost = output_lost_share(units)
    back, low, high, given = _heat_back(units, lost)
    vents = _shut_vents(findings, heater)
    order = np.lexsort((units.tag.astype(str), -np.nan_to_num(lost), -np.nan_to_num(back, nan=-1)))
    return [
        AirBound(
            tag=str(units.tag[i]),
            station=str(units.station[i]),
            equipment=str(units.equipment[i]),
            where=place_words(units.area[i], units.equipment[i]),
            vents=tuple(vents.get(of_unit[i], ())),
            chance=float(units.cold[i]),
            air_share=float(share[i]),
            output_lost_share=float(lost[i]),
            heat_back_btu_per_h=float(back[i]),
            heat_back_low_btu_per_h=float(low[i]),
            heat_back_high_btu_per_h=float(high[i]),
            load_given=bool(given[i]),
        )
        for i in order
    ]


def output_lost_share(units: Units) -> np.ndarray:
    """Share of a heater's heat that is lost if it is as cool throughout as at its trap, (n,)."""
    whole = unit_heater_output_factor(steam_psia=units.supply_psia, air_f=units.ambient_f)
    mixed_psia = saturation_psia(temperature_f=units.inlet_f)
    mixed = unit_heater_output_factor(steam_psia=mixed_psia, air_f=units.ambient_f)
    # A heater no warmer than the air of the rating gives nothing worth a figure.
    mixed = np.where(np.isnan(mixed) & ~np.isnan(units.inlet_f), 0.0, mixed)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(np.clip(1.0 - mixed / whole, 0.0, 1.0))


def _heat_back(
    units: Units, lost: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    given = ~np.isnan(units.load_lb_per_h)
    load = load_today(units, given, units.bore_in)
    latent = latent_heat_btu_per_lb(pressure_psia=units.supply_psia)
    back = units.cold * lost * load * latent
    either_way = np.where(given, 1.0, LOAD_FACTOR_EITHER_WAY)
    # The low end is half of it besides: part of the heater may be as hot as it should be.
    return back, 0.5 * back / either_way, back * either_way, given


def _shut_vents(findings: pd.DataFrame, heater: np.ndarray) -> dict[int, list[str]]:
    """Return the tags of shut vents by their heater's code."""
    shut = (text_of(findings, "device") == "air_vent") & np.isin(
        text_of(findings, "state"), SHUT_STATES
    )
    found: dict[int, list[str]] = {}
    named = shut & (heater >= 0)
    for code, tag in zip(heater[named], text_of(findings, "tag")[named], strict=True):
        found.setdefault(int(code), []).append(tag)
    return found
