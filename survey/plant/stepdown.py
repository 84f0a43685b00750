"""The plan for bringing each station's pressure down again."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd

from survey.plant import shared_return
from survey.plant.aside import NONE_ASIDE, Rejected, SetAside, set_aside_by_station
from survey.plant.checking import StationChecked, with_unread
from survey.plant.curve import LostCurve, lost_curve
from survey.plant.going_on import UNSETTLED
from survey.plant.heating import SPARE_SHARE
from survey.plant.lift import SIZED_FOR_TIMES_LOAD, Needs, needs
from survey.plant.limits import (
    FLOOD_CHANCE_ALLOWED,
    Binding,
    Limits,
    Unknown,
    bindings,
    limits,
    unknowns,
)
from survey.plant.saving import Saving, savings
from survey.plant.standing import apart_words, pressures_apart_psig, standing_of
from survey.plant.steps import WAIT_HOURS, Step, step_of, stops_psig
from survey.plant.units import Units, site_atmosphere_psia, text_of, units_of
from survey.plant.wording import capital, listed
from survey.site import Site

MOST_BINDING = 12


@dataclass(frozen=True)
class StationPlan:
    """What one station can do. Pressures are true gauge pressures unless said otherwise.

    Parameters
    ----------
    standing
        One of `standing.STANDINGS`; `why` says it in words.
    floor_psig
        Lowest pressure that every unit whose needs are known allows; NaN where none is.
    binding
        Units that hold the pressure over the target, the highest first, at most twelve.
    first
        Units in trouble already at today's pressure: mend before the first step.
    known
        Units whose lift and pressures are all known, of ``units``.
    set_aside
        Its rows that could not be read: they are in nothing else here.
    named
        Tags that may stand in ``why``.
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
    set_aside: SetAside = NONE_ASIDE
    named: tuple[str, ...] = ()


@dataclass(frozen=True)
class PressurePlan:
    """The plan of a whole round: a plan of each station, and what holds for all.

    Parameters
    ----------
    set_aside
        Rows that could not be read and are of no station that is planned.
    """

    stations: tuple[StationPlan, ...]
    returns: tuple[str, ...]
    assumptions: tuple[str, ...]
    currency: str
    set_aside: SetAside = NONE_ASIDE


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
    rejected: Rejected | None = None,
    stations: Collection[str] = (),
    checked: Mapping[str, StationChecked] | None = None,
    before: pd.DataFrame | None = None,
) -> PressurePlan:
    """Plan the way down for every station of a judged round.

    Parameters
    ----------
    findings
        The table of findings.
    calibration
        What the round told of its instruments: ``summary["calibration"]``.
    rejected
        The rows that were set aside when it was read.
    stations
        Plan these only; all where none is named.
    checked
        What the round showed of the last step, by station: where that is not settled, the
        station goes no further.
    before
        The table of findings of the round before that step. Its units that were not read again
        still need what they needed: they stand in the plan as they were.
    """
    units = units_of(findings, site)
    unread: tuple[str, ...] = ()
    if before is not None:
        units, unread = with_unread(units, units_of(before, site))
    need = needs(units)
    air = site_atmosphere_psia(site)
    names = sorted(set(units.station))
    aside, aside_elsewhere = set_aside_by_station(
        rejected, stations=names, judged=set(text_of(findings, "tag"))
    )
    plans = []
    for name in names:
        mine = np.flatnonzero(units.station == name)
        plan = station_plan(
            units.take(mine), need.take(mine), site=site, wishes=wishes, air_psia=air,
            gauge_shift_psi=_told(calibration, "gauge", name, 0.0),
            contact_share=_told(calibration, "contact thermometer", name, float("nan")),
        )  # fmt: skip
        plan = replace(plan, set_aside=aside.get(name, NONE_ASIDE))
        plans.append(_until_settled(plan, (checked or {}).get(name)))
    # The others' returns matter to a station that is planned, also where they are not.
    wanted = [plan for plan in plans if not stations or plan.station in stations]
    return PressurePlan(
        tuple(wanted), shared_return.words(units, plans, of=wanted),
        (*_unread_words(unread), *_assumptions(wishes)),
        site.currency, aside_elsewhere,
    )  # fmt: skip


def _unread_words(tags: tuple[str, ...]) -> tuple[str, ...]:
    words = "Not read again since the step, and taken to need what was needed then: {}."
    return (words.format(listed(tags)),) if tags else ()


def _until_settled(plan: StationPlan, check: StationChecked | None) -> StationPlan:
    """Return the plan, without a step further down where the last one has not held."""
    standing = UNSETTLED.get(check.go_on) if check is not None else None
    if check is None or standing is None:
        return plan
    more = f" {plan.why}" if plan.standing in ("cannot_tell", "stay") else ""
    more = more if plan.why != check.words else ""
    return replace(
        plan, standing=standing, why=f"{capital(check.words)}{more}", steps=(), savings=(),
        end_psig=plan.today_psig,
        named=tuple(unit.tag for unit in check.units if unit.outcome != "held"),
    )  # fmt: skip


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
    apart = pressures_apart_psig(units, air_psia=air_psia)
    known = ~np.isnan(need.needed_psia)
    tops = bounds.limit_psia[~np.isnan(bounds.limit_psia)]
    floor = float(tops.max()) - air_psia if len(tops) else float("nan")
    standing, why = standing_of(
        today_psig=today, floor_psig=floor, target_psig=wishes.to_psig,
        known=int(known.sum()), units=len(units),
    ) if apart is None else ("cannot_tell", apart_words(apart))  # fmt: skip
    if apart is not None:  # no one pressure is theirs, so nothing is held against one
        today = floor = float("nan")
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
    held = () if apart is not None else bindings(
        units, need, bounds, air_psia=air_psia, target_psig=min(wishes.to_psig, today)
    )  # fmt: skip
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
        binding=held[:MOST_BINDING],
        more_binding=max(0, len(held) - MOST_BINDING),
        first=_in_trouble(units),
        steps=tuple(described),
        savings=_savings(units, bounds, end + air_psia, site) if goes_down else (),
        curve=_curve(units, need, bounds, wishes.to_psig + air_psia, air_psia)
        if apart is None else None,
        unknowns=tuple(unknowns(units, need)),
        return_rise_psi=_return_rise(need, bounds, end + air_psia),
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
