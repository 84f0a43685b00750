"""The steps down: how far each time, what the readings should be, and which units to watch."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from survey.columns import NORMAL_90
from survey.physics.saturation import saturation_f
from survey.plant.curve import lost_at
from survey.plant.lift import Needs, flood_chance
from survey.plant.limits import Limits
from survey.plant.units import Units
from survey.plant.wording import place_words

WAIT_HOURS = 24.0
"""Long enough to have seen a cold start and a full load; common practice, no source."""
LARGEST_STEP_PSI = 5.0
STEP_SHARE = 0.25
SMALLEST_STEP_PSI = 1.0
"""No more than five psi nor a quarter of the gauge at once; common practice, no source."""
LEAST_WATCHED = 3
WATCHED_CHANCE = 0.01
"""Watch the three likeliest to stand back, and whatever else has this chance of it: none less."""


@dataclass(frozen=True)
class Watched:
    """A unit to look at after a step, with its chance of standing back.

    Parameters
    ----------
    inlet_f
        What its inlet should have if it drains, °F.
    reads_f
        What the round's own thermometer should show then; NaN where it cannot be told.
    """

    tag: str
    where: str
    chance: float
    margin_psi: float
    inlet_f: float
    reads_f: float


@dataclass(frozen=True)
class Band:
    """Where the inlets of working traps of one type should lie, °F."""

    trap_type: str
    low_f: float
    high_f: float


@dataclass(frozen=True)
class Step:
    """One step down. Pressures are gauge, true and as the station's gauge shows them."""

    number: int
    psig: float
    gauge_shows_psig: float
    saturation_f: float
    bands: tuple[Band, ...]
    wait_hours: float
    watch: tuple[Watched, ...]
    lost_expected: float
    lost_low: float
    lost_high: float
    lost_today: float
    binds_next: str


def step_psi(*, today_psig: float) -> float:
    """Return the most that a station goes down at once."""
    return min(LARGEST_STEP_PSI, max(SMALLEST_STEP_PSI, STEP_SHARE * today_psig))


def stops_psig(*, today_psig: float, end_psig: float) -> list[float]:
    """Return the pressures to stop at, from the first step down to the end."""
    stops: list[float] = []
    # A pressure that came by way of a temperature is off in its last digits: 8 psig is no more.
    now = round(today_psig, 6)
    while now > end_psig + 1e-6:
        size = step_psi(today_psig=now)
        after = float(np.ceil(2 * (now - size)) / 2)  # to the half psi a gauge can be read to
        left = after - end_psig
        if 0.5 * SMALLEST_STEP_PSI <= left < 0.5 * size:
            after = float(np.round(now + end_psig) / 2)  # two alike, no stub that costs a wait
        # What is left would be less than a step of its own: taken with this one or the last.
        now = end_psig if left < 0.5 * SMALLEST_STEP_PSI else min(after, now - 0.5)
        stops.append(now)
    return stops


def step_of(
    number: int,
    psig: float,
    *,
    units: Units,
    need: Needs,
    bounds: Limits,
    air_psia: float,
    gauge_shift_psi: float,
    contact_share: float,
    wait_hours: float,
) -> Step:
    """Describe one step of one station.

    Parameters
    ----------
    gauge_shift_psi
        What to add to the station's gauge to have the true pressure.
    contact_share
        Share of the way to the true temperature that its contact thermometer reads; NaN where
        not known.
    """
    station_psia = psig + air_psia
    hot_f = float(saturation_f(pressure_psia=station_psia))
    expected, low, high = lost_at(units, need, bounds.offset_psi, np.array([station_psia]))
    today = lost_at(units, need, bounds.offset_psi, np.array([bounds.station_psia]))[0]
    return Step(
        number=number,
        psig=psig,
        gauge_shows_psig=psig - gauge_shift_psi,
        saturation_f=hot_f,
        bands=_bands(units, hot_f),
        wait_hours=wait_hours,
        watch=_watch(units, need, bounds, station_psia, contact_share),
        lost_expected=float(expected[0]),
        lost_low=float(low[0]),
        lost_high=float(high[0]),
        lost_today=float(today[0]),
        binds_next=_binds_next(units, bounds, station_psia),
    )


def _bands(units: Units, hot_f: float) -> tuple[Band, ...]:
    found: dict[str, Band] = {}
    for name, under, spread in zip(
        units.trap_type, units.subcooling_f, units.subcooling_spread_f, strict=True
    ):
        low = hot_f - under - NORMAL_90 * spread
        found.setdefault(name, Band(str(name), float(low), hot_f))
    return tuple(sorted(found.values(), key=lambda band: band.trap_type))


def _watch(
    units: Units, need: Needs, bounds: Limits, station_psia: float, contact_share: float
) -> tuple[Watched, ...]:
    supply = station_psia + bounds.offset_psi
    chance = flood_chance(units, need, supply_psia=supply)
    drains = units.held_by_lift < 0.5
    spare = supply - need.needed_psia
    order = np.lexsort((spare, -np.nan_to_num(chance, nan=-1.0)))
    order = order[(drains & ~np.isnan(chance))[order]]
    inlet = saturation_f(pressure_psia=supply) - units.subcooling_f
    reads = units.ambient_f + contact_share * (inlet - units.ambient_f)
    reads = np.where(units.thermometer == "infrared", np.nan, reads)
    return tuple(
        Watched(
            tag=str(units.tag[i]),
            where=place_words(units.area[i], units.equipment[i]),
            chance=float(chance[i]),
            margin_psi=float(spare[i]),
            inlet_f=float(inlet[i]),
            reads_f=float(reads[i]),
        )
        for place, i in enumerate(order)
        if place < LEAST_WATCHED or chance[i] >= WATCHED_CHANCE
    )


def _binds_next(units: Units, bounds: Limits, station_psia: float) -> str:
    below_it = np.where(bounds.limit_psia <= station_psia, bounds.limit_psia, np.nan)
    if np.isnan(below_it).all():
        return ""
    return str(units.tag[int(np.nanargmax(below_it))])
