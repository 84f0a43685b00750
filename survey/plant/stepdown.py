"""The plan for bringing each station's pressure down again."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from survey.plant import shared_return
from survey.plant.curve import LostCurve, lost_curve
from survey.plant.heating import SPARE_SHARE
from survey.plant.lift import SIZED_FOR_TIMES_LOAD, Needs, needs
from survey.plant.limits import (
    FLOOD_CHANCE_ALLOWED,
    FREED_BY,
    KIND_WORDS,
    Binding,
    Limits,
    Unknown,
    limits,
    unknowns,
)
from survey.plant.saving import Saving, savings
from survey.plant.steps import WAIT_HOURS, Step, step_of, stops_psig
from survey.plant.units import Units, site_atmosphere_psia, units_of
from survey.plant.wording import place_words
from survey.site import Site

STANDINGS = ("to_target", "part_way", "stay", "already_there", "cannot_tell")
MOST_BINDING = 12
LEAST_STEP_PSI = 0.5


@dataclass(frozen=True)
class StationPlan:
    """What one station can do. Pressures are true gauge pressures unless said otherwise.

    Parameters
    ----------
    standing
        One of `STANDINGS`; `why` says it in words.
    floor_psig
        Lowest pressure that every unit whose needs are known allows; NaN where none is.
    binding
        Units that hold the pressure over the target, the highest first, at most twelve.
    first
        Units in trouble already at today's pressure: mend before the first step.
    known
        Units whose lift and pressures are all known, of ``units``.
    """

    station: str
    today_psig: float
    gauge_shows_psig: float
    target_psig: float
    standing: str
    why: str
    floor_psig: float
    end_psig: float
    units: int
    known: int
    binding: tuple[Binding, ...]
    more_binding: int
    first: tuple[str, ...]
    steps: tuple[Step, ...]
    savings: tuple[Saving, ...]
    curve: LostCurve | None
    unknowns: tuple[Unknown, ...]
    return_rise_psi: float


@dataclass(frozen=True)
class PressurePlan:
    """The plan of a whole round: a plan of each station, and what holds for all."""

    stations: tuple[StationPlan, ...]
    returns: tuple[str, ...]
    assumptions: tuple[str, ...]
    currency: str


@dataclass(frozen=True)
class Wishes:
    """What the person who plans has chosen."""

    to_psig: float
    spare_share: float = SPARE_SHARE
    wait_hours: float = WAIT_HOURS


def plan_pressure(
    findings: pd.DataFrame,
    *,
    site: Site,
    wishes: Wishes,
    calibration: Sequence[Mapping[str, Any]] = (),
) -> PressurePlan:
    """Plan the way down for every station of a judged round.

    Parameters
    ----------
    findings
        The table of findings.
    calibration
        What the round told of its instruments: ``summary["calibration"]``.
    """
    units = units_of(findings, site)
    need = needs(units)
    air = site_atmosphere_psia(site)
    plans = []
    for name in sorted(set(units.station)):
        mine = np.flatnonzero(units.station == name)
        plans.append(
            station_plan(
                units.take(mine), need.take(mine), site=site, wishes=wishes, air_psia=air,
                gauge_shift_psi=_told(calibration, "gauge", name, 0.0),
                contact_share=_told(calibration, "contact thermometer", name, float("nan")),
            )
        )  # fmt: skip
    return PressurePlan(
        tuple(plans), shared_return.words(units, plans), _assumptions(wishes), site.currency
    )


def _told(
    calibration: Sequence[Mapping[str, Any]], what: str, group: str, otherwise: float
) -> float:
    for line in calibration:
        if line.get("what") == what and line.get("group") == group:
            return float(line["value"])
    return otherwise


def _assumptions(wishes: Wishes) -> tuple[str, ...]:
    return (
        f"A heater can do with {100 * wishes.spare_share:.0f} % less heat than it gives today on "
        "the coldest day (set it with --spare; the site knows).",
        f"Where a load is not given, a trap is taken to pass {SIZED_FOR_TIMES_LOAD:g} times its "
        "load at today's pressure.",
        "Every unit is taken to have a check valve of 0.25 psi; friction in the return is not "
        "counted, only allowed for in the chances.",
        f"A pressure is planned where no unit's chance of standing back is over "
        f"{100 * FLOOD_CHANCE_ALLOWED:.0f} %. Pressures are read to about 0.7 psi, lifts to a "
        "foot and 5 %.",
        "Heat at a lower pressure follows two makers' published table for unit heaters "
        "(fitted exponent 0.998 of the rise at 60 °F air; 1.09 for other air).",
    )


def station_plan(
    units: Units,
    need: Needs,
    *,
    site: Site,
    wishes: Wishes,
    air_psia: float,
    gauge_shift_psi: float = 0.0,
    contact_share: float = float("nan"),
) -> StationPlan:
    """Plan one station from its units and what they need."""
    bounds = limits(units, need, spare_share=wishes.spare_share)
    today = bounds.station_psia - air_psia
    known = ~np.isnan(need.needed_psia)
    tops = bounds.limit_psia[~np.isnan(bounds.limit_psia)]
    floor = float(tops.max()) - air_psia if len(tops) else float("nan")
    standing, why = _standing(today, floor, wishes.to_psig, int(known.sum()), len(units))
    goes_down = standing in ("to_target", "part_way")
    # Up to the half psi, which only asks for more than every unit needs.
    end = max(wishes.to_psig, float(np.ceil(2 * floor) / 2)) if goes_down else today
    described = [
        step_of(
            number, psig, units=units, need=need, bounds=bounds, air_psia=air_psia,
            gauge_shift_psi=gauge_shift_psi, contact_share=contact_share,
            wait_hours=wishes.wait_hours,
        )
        for number, psig in enumerate(stops_psig(today_psig=today, end_psig=end), start=1)
    ] if goes_down else []  # fmt: skip
    binding = _binding(units, need, bounds, air_psia, wishes.to_psig)
    return StationPlan(
        station=str(units.station[0]),
        today_psig=today,
        gauge_shows_psig=today - gauge_shift_psi,
        target_psig=wishes.to_psig,
        standing=standing,
        why=why,
        floor_psig=floor,
        end_psig=end,
        units=len(units),
        known=int(known.sum()),
        binding=tuple(binding[:MOST_BINDING]),
        more_binding=max(0, len(binding) - MOST_BINDING),
        first=_in_trouble(units),
        steps=tuple(described),
        savings=_savings(units, bounds, end + air_psia, site) if goes_down else (),
        curve=_curve(units, need, bounds, wishes.to_psig + air_psia, air_psia),
        unknowns=tuple(unknowns(units, need)),
        return_rise_psi=_return_rise(need, bounds, end + air_psia),
    )


def _standing(
    today: float, floor: float, target: float, known: int, units: int
) -> tuple[str, str]:
    if np.isnan(today):
        return "cannot_tell", "No pressure is known here: read it at the station first."
    if not known:
        return "cannot_tell", (
            f"No lift is known for any of its {units:,} units, so nothing tells whether they "
            "would still drain: measure the lifts first."
        )
    if today <= target + LEAST_STEP_PSI:
        return "already_there", "It is at or under the pressure asked for."
    if floor > today - LEAST_STEP_PSI:
        return "stay", "At least one unit needs all of today's pressure, or more, as things stand."
    gaps = "" if known == units else (
        f" That holds for the {known:,} of {units:,} units whose lift is known; measure the "
        "others before the first step."
    )  # fmt: skip
    if floor > target:
        return "part_way", f"Down to {np.ceil(2 * floor) / 2:.1f} psig as things stand.{gaps}"
    return "to_target", f"Down to {target:g} psig.{gaps}"


def _binding(
    units: Units, need: Needs, bounds: Limits, air_psia: float, target: float
) -> list[Binding]:
    limit = bounds.limit_psia - air_psia
    nan = float("nan")
    order = np.argsort(-np.nan_to_num(limit, nan=-1e9), kind="stable")
    return [
        Binding(
            tag=str(units.tag[i]),
            where=place_words(units.area[i], units.equipment[i]),
            limit_psig=float(limit[i]),
            kind=str(bounds.kind[i]),
            why=_why(units, need, bounds, int(i)),
            freed_by=FREED_BY[bounds.kind[i]],
            freed_floor_psig=float(limit[order[place + 1]]) if place + 1 < len(order) else nan,
        )
        for place, i in enumerate(order)
        if limit[i] > target
    ]


def _why(units: Units, need: Needs, bounds: Limits, i: int) -> str:
    kind = str(bounds.kind[i])
    if kind == "heat":
        return f"{KIND_WORDS[kind]}: under this it gives less than is asked of it"
    return (
        f"{KIND_WORDS[kind]}: {units.lift_ft[i]:.0f} ft up takes {need.head_psi[i]:.1f} psi, its "
        f"check valve {need.check_psi:.2f}, its trap {need.trap_psi[i]:.1f}, over its return; "
        f"known to {need.spread_psi[i]:.1f} psi"
    )


def _in_trouble(units: Units) -> tuple[str, ...]:
    return tuple(map(str, units.tag[(units.backed >= 0.5) | (units.cold >= 0.5)]))


def _savings(units: Units, bounds: Limits, end_psia: float, site: Site) -> tuple[Saving, ...]:
    return savings(units, offset_psi=bounds.offset_psi, end_psia=end_psia, site=site)


def _curve(
    units: Units, need: Needs, bounds: Limits, target_psia: float, air_psia: float
) -> LostCurve | None:
    if np.isnan(bounds.station_psia) or np.isnan(need.needed_psia).all():
        return None
    least = float(np.nanmin(need.needed_psia - bounds.offset_psi)) - 3.0
    low = max(1.0, min(target_psia, least, bounds.station_psia - 5.0))
    high = max(bounds.station_psia, float(np.nanmax(need.needed_psia - bounds.offset_psi)) + 3.0)
    return lost_curve(
        units, need, bounds.offset_psi, low_psia=low, high_psia=high, air_psia=air_psia
    )


def _return_rise(need: Needs, bounds: Limits, end_psia: float) -> float:
    # How far the return may rise before a unit that drains by its middle figures stands back.
    spare = end_psia + bounds.offset_psi - need.needed_psia
    spare = spare[~np.isnan(spare) & (spare > 0)]
    return float(spare.min()) if len(spare) else float("nan")
