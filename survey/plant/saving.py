"""What a lower pressure saves: live steam through failed traps, flash steam, heat off the pipes."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from survey.columns import NORMAL_90
from survey.diagnosis.priors import COEFFICIENT_LOG_SPREAD
from survey.losses.money import prices
from survey.physics.orifice import steam_flow_lb_per_h
from survey.physics.saturation import flash_fraction, latent_heat_btu_per_lb, saturation_f
from survey.plant.lift import load_today
from survey.plant.units import Units
from survey.site import Site

LOAD_FACTOR = 0.40
"""Mean load over the year as a share of the load at work; common practice, no source."""
LOAD_FACTOR_LOG_SPREAD = 0.4
SIZED_BY_LOAD = ("unit_heater", "process")
"""Traps whose size tells something of their load; a drip's or a tracer's does not."""
SIZING_LOG_SPREAD = 0.5
"""A trap is sized for 1.5 to 4 times its load (from memory), and its capacity itself is known to
a third at best."""
_LB_PER_KLB = 1000.0
_FLASH = "flash steam from condensate"
_NO_LOADS = (
    "No load is known of any trap, so nothing could be counted: give the condensate of each unit "
    "in a column load_lb_per_h, or the bore of each trap and, in the column service, that it "
    "drains a unit_heater or a process."
)


@dataclass(frozen=True)
class Saving:
    """One kind of saving: expected, and its 10 % and 90 % points.

    Parameters
    ----------
    unit
        'lb/h' or '% of the pipes' loss'.
    expected, low, high
        NaN where nothing could be counted; ``note`` says what is missing.
    cost
        A year of it in the site's currency; NaN where it cannot be told.
    """

    what: str
    unit: str
    expected: float
    low: float
    high: float
    cost: float
    cost_low: float
    cost_high: float
    note: str


def savings(
    units: Units, *, offset_psi: np.ndarray, end_psia: float, site: Site
) -> tuple[Saving, ...]:
    """Estimate what is saved at the lower pressure; kinds are not added up.

    Parameters
    ----------
    end_psia
        Station pressure at the end of the plan, psia.
    """
    end = end_psia + offset_psi
    price = prices(site, supply_psia=units.supply_psia).cost_per_klb
    yearly = units.hours / _LB_PER_KLB * price
    return (
        _leak(units, end, yearly),
        _flash(units, end, yearly),
        _pipes(units, end),
    )


def _leak(units: Units, end: np.ndarray, yearly: np.ndarray) -> Saving:
    now, then = (
        steam_flow_lb_per_h(
            bore_in=1.0,
            upstream_psia=psia,
            downstream_psia=units.return_psia,
            discharge_coefficient=1.0,
        )
        for psia in (units.supply_psia, end)
    )
    with np.errstate(divide="ignore", invalid="ignore"):
        less = np.nan_to_num(np.where(now > 0, 1.0 - then / now, 0.0))
    each = units.loss_lb_per_h * less
    own = float(((units.loss_spread_lb_per_h * less) ** 2).sum())
    total = float(each.sum())
    spread = math.sqrt(math.log1p(own / total**2) + COEFFICIENT_LOG_SPREAD**2) if total > 0 else 0.0
    note = "Only while the failed traps stay unmended; mending them saves all of it."
    return _saving("live steam through failed traps", each, spread, yearly, note)


def _flash(units: Units, end: np.ndarray, yearly: np.ndarray) -> Saving:
    given = ~np.isnan(units.load_lb_per_h)
    load = np.nan_to_num(load_today(units, given, units.bore_in))
    load = np.where(given | np.isin(units.service, SIZED_BY_LOAD), load, 0.0)
    heat = LOAD_FACTOR * load * latent_heat_btu_per_lb(pressure_psia=units.supply_psia)

    def flashed(psia: np.ndarray) -> np.ndarray:
        share = flash_fraction(upstream_psia=psia, downstream_psia=units.return_psia)
        return np.asarray(heat / latent_heat_btu_per_lb(pressure_psia=psia) * share)

    less = flashed(units.supply_psia) - flashed(end)
    if not ((load > 0) & np.isfinite(less)).any():
        nan = float("nan")
        return Saving(_FLASH, "lb/h", nan, nan, nan, nan, nan, nan, _NO_LOADS)
    each = np.nan_to_num(less)
    spread = math.hypot(LOAD_FACTOR_LOG_SPREAD, 0.0 if given.all() else SIZING_LOG_SPREAD)
    source = "as given" if given.all() else "mostly by their size"
    counted = int(((load > 0) & np.isfinite(less)).sum())
    note = (
        f"Only where the return's flash steam is vented, which a round does not tell; "
        f"{counted:,} of {len(units):,} traps counted, their loads {source}, "
        "mean load taken as 40 % of the full one."
    )
    return _saving(_FLASH, each, spread, yearly, note)


def _saving(
    what: str, each: np.ndarray, spread: float, yearly: np.ndarray, note: str
) -> Saving:
    total, cost = float(each.sum()), float(np.nansum(each * yearly))
    down, up = (math.exp(-0.5 * spread**2 + side * NORMAL_90 * spread) for side in (-1, 1))
    return Saving(
        what, "lb/h", total, total * down, total * up, cost, cost * down, cost * up, note
    )


def _pipes(units: Units, end: np.ndarray) -> Saving:
    # Lagged pipe loses in step with the difference, pipe that only radiates with the fourth
    # powers; the truth of any pipe lies between.
    known = ~np.isnan(units.supply_psia)
    hot = float(np.median(saturation_f(pressure_psia=units.supply_psia[known])))
    cooler = float(np.median(saturation_f(pressure_psia=end[known])))
    air = float(np.median(units.ambient_f))
    lagged = 1.0 - (cooler - air) / (hot - air)
    absolute = [f + 459.67 for f in (hot, cooler, air)]
    bare = 1.0 - (absolute[1] ** 4 - absolute[2] ** 4) / (absolute[0] ** 4 - absolute[2] ** 4)
    nan = float("nan")
    return Saving(
        "heat off the pipes", "% of what they lose today",
        50.0 * (lagged + bare), 100.0 * lagged, 100.0 * bare, nan, nan, nan,
        "From lagged pipe to bare; the length of the mains is not in a round, so not in money.",
    )  # fmt: skip
