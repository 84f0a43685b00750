"""What holds each station's pressure up: the unit that binds, and what would free it."""

from __future__ import annotations

from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

from survey.plant.heating import needed_for_heat_psia
from survey.plant.lift import Needs, below
from survey.plant.units import Units
from survey.plant.wording import place_words

FLOOD_CHANCE_ALLOWED = 0.10
"""Chance of standing back that a unit may have at the lowest pressure planned."""
LEAST_LIFT_FT = 0.5
THROTTLED_PSI = 5.0
"""A unit so far under its station is not so by friction in a main; common practice, no source."""
_NORMAL = NormalDist()
_quantile = np.frompyfunc(lambda share: _NORMAL.inv_cdf(min(max(share, 1e-15), 1 - 1e-12)), 1, 1)

FREED_BY = {
    "heat": (
        "Clean its coil and filter, or open its vent if the heater is air-bound; a larger heater, "
        "or less heat asked of it, is for the site to decide."
    ),
    "lift": (
        "See first that its check valve, if it has one, opens freely; then the options for "
        "licensed people are a return piped lower, or a pumping trap or condensate pump."
    ),
    "trap": (
        "Read its bore and load first; a trap with a larger seat or a lower need is an option "
        "for licensed people."
    ),
    "lift_as_written": (
        "It drains today with less pressure than its lift as written asks: measure the lift and "
        "read the pressure at the unit again."
    ),
    "return": (
        "Find what raises the pressure in its return (live steam from a blown trap, a shut valve, "
        "a full receiver) before anything is re-piped."
    ),
}
KIND_WORDS = {
    "heat": "too little heat",
    "lift": "its lift",
    "trap": "its trap's capacity",
    "lift_as_written": "its lift as written",
    "return": "the pressure in its return",
}


@dataclass(frozen=True)
class Limits:
    """For n units of one station, the lowest pressure each allows, as the station's own.

    Parameters
    ----------
    station_psia
        Pressure at the station today: the middle of its units.
    offset_psi
        How much more than that each unit has, (n,).
    drain_psia, heat_psia
        Lowest station pressure at which each drains, at which it heats; NaN where not known.
    limit_psia
        The higher of the two; NaN where neither is known.
    kind
        What binds each: a key of `KIND_WORDS`, '' where nothing is known.
    """

    station_psia: float
    offset_psi: np.ndarray
    drain_psia: np.ndarray
    heat_psia: np.ndarray
    limit_psia: np.ndarray
    kind: np.ndarray


def limits(units: Units, need: Needs, *, spare_share: float) -> Limits:
    """Work out what each unit of one station allows."""
    known = units.supply_psia[~np.isnan(units.supply_psia)]
    station = float(np.median(known)) if len(known) else float("nan")
    offset = np.nan_to_num(units.supply_psia - station)
    drain = safe_psia(units, need) - offset
    heat = needed_for_heat_psia(units, spare_share=spare_share) - offset
    limit = np.fmax(drain, heat)
    return Limits(station, offset, drain, heat, limit, _kinds(units, need, drain, heat))


def safe_psia(units: Units, need: Needs) -> np.ndarray:
    """Return the pressure ahead of each trap at which its chance to flood is the one allowed.

    It is never under what the unit needs by its own figures.
    """
    now = below((units.supply_psia - need.needed_psia) / need.spread_psi)
    drains = units.hot >= 0.5
    share = (1.0 - FLOOD_CHANCE_ALLOWED) * np.where(drains & ~np.isnan(now), now, 1.0)
    safe = need.needed_psia + need.spread_psi * _quantile(share).astype(float)
    return np.asarray(np.fmax(safe, need.needed_psia))


def _kinds(units: Units, need: Needs, drain: np.ndarray, heat: np.ndarray) -> np.ndarray:
    by_heat = np.nan_to_num(heat, nan=-1.0) > np.nan_to_num(drain, nan=-1.0)
    back = need.return_psia - np.nanmin(need.return_psia) if len(units) else need.return_psia
    lifts = np.maximum(need.head_psi, 0.0) >= np.maximum(need.trap_psi, back)
    kind = np.where(back > np.maximum(need.trap_psi, 1.0), "return", "trap")
    kind = np.where((units.lift_ft > LEAST_LIFT_FT) & lifts, "lift", kind)
    contradicts = (units.hot >= 0.5) & (need.needed_psia > units.supply_psia)
    kind = np.where(contradicts, "lift_as_written", kind)
    kind = np.where(by_heat, "heat", kind)
    return np.where(np.isnan(drain) & np.isnan(heat), "", kind).astype(object)


def drain_kinds(units: Units, need: Needs, bounds: Limits) -> np.ndarray:
    """Return what binds each unit when only draining is asked of it: a key of `KIND_WORDS`."""
    no_heat = np.full(len(units), np.nan)
    return _kinds(units, need, bounds.drain_psia, no_heat)


def bound_by(units: Units, need: Needs, kind: str, i: int) -> str:
    """Return in words what binds the unit at a place, with the parts of what it needs."""
    if kind == "heat":
        return f"{KIND_WORDS[kind]}: under this it gives less than is asked of it"
    return (
        f"{KIND_WORDS[kind]}: {units.lift_ft[i]:.0f} ft up takes {need.head_psi[i]:.1f} psi, its "
        f"check valve {need.check_psi:.2f}, its trap {need.trap_psi[i]:.1f}, over its return; "
        f"known to {need.spread_psi[i]:.1f} psi, which is allowed for"
    )


@dataclass(frozen=True)
class Binding:
    """One unit that holds the station's pressure up, the highest first.

    Parameters
    ----------
    limit_psig
        Lowest pressure at the station that it allows.
    freed_floor_psig
        What the next unit allows: the floor once this one and those above it are freed; NaN
        where it is the last whose needs are known.
    """

    tag: str
    where: str
    limit_psig: float
    kind: str
    why: str
    freed_by: str
    freed_floor_psig: float


def bindings(
    units: Units, need: Needs, bounds: Limits, *, air_psia: float, target_psig: float
) -> tuple[Binding, ...]:
    """Return the units that hold their station over a pressure, the highest first."""
    limit = bounds.limit_psia - air_psia
    nan = float("nan")
    order = np.argsort(-np.nan_to_num(limit, nan=-1e9), kind="stable")
    return tuple(
        Binding(
            tag=str(units.tag[i]),
            where=place_words(units.area[i], units.equipment[i]),
            limit_psig=float(limit[i]),
            kind=str(bounds.kind[i]),
            why=bound_by(units, need, str(bounds.kind[i]), int(i)) + said[0],
            freed_by=said[1] + FREED_BY[bounds.kind[i]],
            freed_floor_psig=float(limit[order[place + 1]]) if place + 1 < len(order) else nan,
        )
        for place, i in enumerate(order)
        if limit[i] > target_psig
        for said in [_throttled(-float(bounds.offset_psi[i]))]
    )


def _throttled(under_psi: float) -> tuple[str, str]:
    """Say of a unit far under its station's pressure that it is, and to look there first."""
    if under_psi < THROTTLED_PSI:
        return "", ""
    return (
        f"; it stands {under_psi:.0f} psi under its station, and is taken to at every pressure",
        f"Find what takes {under_psi:.0f} psi ahead of it: its control valve, a strainer, a valve "
        "left half shut. ",
    )


@dataclass(frozen=True)
class Unknown:
    """Something that a plan needs and a round did not give: how many units, and which."""

    what: str
    count: int
    tags: tuple[str, ...]
    do: str


MOST_TAGS = 12


def unknowns(units: Units, need: Needs) -> list[Unknown]:
    """Count what is not known of a station's units; nothing of it is assumed silently."""
    needs_temperature = np.isin(units.service, ("process", "tracing"))
    listed = [
        ("lift not given", np.isnan(units.lift_ft),
         "measure the rise from the trap to the highest point of its return (0 where it falls)"),
        ("pressure not known", np.isnan(units.supply_psia), "read the pressure ahead of the trap"),
        ("return pressure taken as vented (0 psig)", ~units.return_given,
         "read the pressure in the return"),
        ("bore not given, so its loss and flash are not counted", np.isnan(units.bore_in),
         "read it off the trap's plate"),
        ("load not given, taken as half of what the trap passes today", ~need.load_given,
         "take the heater's rating and put it in a column load_lb_per_h"),
        ("temperature that its process or tracing needs not given, so its heat is not checked",
         needs_temperature, "ask who runs it for the lowest steam temperature it can do with"),
    ]  # fmt: skip
    return [
        Unknown(what, int(mask.sum()), tuple(map(str, units.tag[mask][:MOST_TAGS])), do)
        for what, mask, do in listed
        if mask.any()
    ]
