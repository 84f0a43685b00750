"""When to survey again: the interval at which steam lost and the cost of looking add up to least.

Between two looks a trap that fails loses steam until the next one. With failures at a steady
rate r a year, a loss of w a year for each failed trap under steam all that time, n traps and c
for a look at all of them, an interval of t years costs in a year::

    c / t  +  n w (1 - (1 - exp(-r t)) / (r t))

The second part is the share of time that a trap spends failed and not found, if what is found is
mended at once. For small r t it is n w r t / 2, and the least is at sqrt(2 c / (r n w)).

Where steam is on for a season only, traps are taken to fail and to lose only then, and looks can
only be taken then: t counts the share of a season's steam that lies between two looks.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from survey.plant.units import numbers_of, text_of
from survey.rounds.pressure_classes import (
    PRESSURE_CLASSES,
    WEEKS_PER_YEAR,
    PressureClass,
    pressure_class,
)
from survey.rounds.reliability import Reliability

SHORTEST_WEEKS, LONGEST_WEEKS = 1.0, 5 * WEEKS_PER_YEAR
FLAT = 1.10
"""How much over the least cost still counts as near it."""
COST_PER_LOOK = 12.0
"""Cost of reading one trap, in the site's currency: some 60 a day by one person. Common
practice, no source."""
HOURS_PER_YEAR = 8766.0
LOSING = ("p_leaking", "p_failed_open")
_LIKE_THE_PLANT = 2.0
"""How many failed traps' worth the plant's mean loss counts for in a class of few."""
_LOSS_LOG_SPREAD = 0.5
"""Spread of a failed trap's loss about its class's mean, natural log. No source."""


@dataclass(frozen=True)
class Effort:
    """What looking costs, in the site's currency.

    Parameters
    ----------
    per_trap
        For each trap read.
    per_visit
        For each visit, however many are read.
    """

    per_trap: float = COST_PER_LOOK
    per_visit: float = 0.0


@dataclass(frozen=True)
class Interval:
    """When to look again at one pressure class.

    Parameters
    ----------
    traps
        How many it has.
    rate
        Failures of a trap a year that lose steam.
    loss
        What a trap that fails so costs in a year, in the site's currency.
    season_weeks
        Weeks of steam in a year.
    weeks, weeks_low, weeks_high
        The best interval in weeks of steam, and its range by what is not known of rate and loss
        (10 % and 90 %).
    flat_low, flat_high
        Between these intervals the cost stays within 10 % of the least.
    cost, cost_published_short, cost_published_long, cost_yearly
        Steam lost and looking, a year: at the best, at both ends of the published interval, and
        with one look a season.
    """

    pressure: PressureClass
    traps: int
    rate: float
    loss: float
    season_weeks: float
    weeks: float
    weeks_low: float
    weeks_high: float
    flat_low: float
    flat_high: float
    cost: float
    cost_published_short: float
    cost_published_long: float
    cost_yearly: float

    @property
    def worth(self) -> float:
        """Return what it saves a year against one look a season, in the site's currency."""
        return self.cost_yearly - self.cost


def yearly_cost(
    *, seasons: np.ndarray, rate: float, loss: float, traps: float, look: float
) -> np.ndarray:
    """Return the cost in a year of looking at this interval.

    Parameters
    ----------
    seasons
        Interval in seasons of steam (in years where steam never rests), any shape, over 0.
    rate, loss
        Failures of a trap a year; what each costs in a year until it is found.
    look
        Cost of one look at all traps.
    """
    failed = rate * np.asarray(seasons, dtype=float)
    # Short of this the difference of two numbers close to 1 loses its digits: use the series.
    small = failed / 2 - failed**2 / 6
    safe = np.maximum(failed, 1e-5)
    share = np.where(failed < 1e-5, small, 1.0 + np.expm1(-safe) / safe)
    return np.asarray(look / seasons + traps * loss * share)


def best_seasons(*, rate: float, loss: float, traps: float, look: float) -> float:
    """Return the interval of least cost in seasons of steam, from a week to five years."""
    grid = _grid()
    cost = yearly_cost(seasons=grid, rate=rate, loss=loss, traps=traps, look=look)
    return float(grid[int(cost.argmin())])


def _grid() -> np.ndarray:
    first, last = (math.log(weeks / WEEKS_PER_YEAR) for weeks in (SHORTEST_WEEKS, LONGEST_WEEKS))
    return np.asarray(np.exp(np.linspace(first, last, 4001)))


def intervals(
    findings: pd.DataFrame, result: Reliability, *, hours_per_year: float, effort: Effort
) -> list[Interval]:
    """Return when to look again, one for each pressure class that has traps, highest first.

    Parameters
    ----------
    findings
        The latest round: its losses tell what a failed trap costs.
    hours_per_year
        Hours under steam where a row has none (the site's).
    """
    kind = text_of(findings, "device")
    traps = findings.loc[(kind == "trap") | (kind == "")]
    classes = pressure_class(traps)
    losses = _loss_of_failed(traps, classes)
    found = []
    for one in reversed(PRESSURE_CLASSES):
        members = traps.loc[classes == one.name]
        if len(members):
            found.append(_interval(one, members, losses[one.name], result, hours_per_year, effort))
    return found


def _interval(
    one: PressureClass, members: pd.DataFrame, loss: tuple[float, float], result: Reliability,
    hours_per_year: float, effort: Effort,
) -> Interval:  # fmt: skip
    traps = len(members)
    rate, rate_spread = _losing_rate(one.name, members, result)
    hours = numbers_of(members, "hours_per_year")
    hours = np.where(np.isnan(hours), hours_per_year, hours)
    season = WEEKS_PER_YEAR * float(np.clip(hours.mean() / HOURS_PER_YEAR, 0.02, 1.0))
    look = effort.per_visit + effort.per_trap * traps
    given: Mapping[str, float] = {"rate": rate, "loss": loss[0], "traps": traps, "look": look}
    grid = _grid()
    cost = yearly_cost(seasons=grid, **given)
    near = grid[cost <= FLAT * cost.min()]
    # The best goes with one over the root of rate and loss, so half their doubt is its own.
    doubt = math.exp(1.2815515655446004 * math.hypot(rate_spread, loss[1]) / 2)
    best = best_seasons(**given)
    # The published interval is by the calendar, of which a season has only so many weeks.
    short, longest, yearly = yearly_cost(
        seasons=np.array([one.shortest_weeks / season, one.longest_weeks / season, 1.0]).clip(
            max=1.0
        ),
        **given,
    )
    return Interval(
        pressure=one, traps=traps, rate=rate, loss=loss[0], season_weeks=season,
        weeks=best * season, weeks_low=best * season / doubt, weeks_high=best * season * doubt,
        flat_low=float(near[0]) * season, flat_high=float(near[-1]) * season,
        cost=float(cost.min()), cost_published_short=float(short),
        cost_published_long=float(longest), cost_yearly=float(yearly),
    )  # fmt: skip


def _losing_rate(name: str, members: pd.DataFrame, result: Reliability) -> tuple[float, float]:
    """Return failures a year that lose steam, and the spread of its natural log."""
    rates = result.rates
    row = rates.loc[(rates["by"] == "pressure") & (rates["level"] == name)]
    row = row if len(row) else rates.loc[rates["by"] == "all"]
    low, high = float(row["low"].iloc[0]), float(row["high"].iloc[0])
    losing = sum(float(numbers_of(members, column).sum()) for column in LOSING)
    shut = float(numbers_of(members, "p_failed_closed").sum())
    # Two in three failures pass steam where the round has none to tell. No source.
    share = (losing + 2.0) / (losing + shut + 3.0)
    rate = float(row["per_100"].iloc[0]) / 100.0
    return share * rate, math.log(high / low) / (2 * 1.2815515655446004)


def _loss_of_failed(traps: pd.DataFrame, classes: np.ndarray) -> dict[str, tuple[float, float]]:
    """Return what a trap that passes steam costs in a year, and its log spread, by class."""
    cost = np.nan_to_num(numbers_of(traps, "annual_cost"))
    failed = sum((np.nan_to_num(numbers_of(traps, name)) for name in LOSING), np.zeros(len(traps)))
    psia = np.nan_to_num(numbers_of(traps, "supply_psig"), nan=0.0) + 14.7
    # Flow goes with absolute pressure: so a class of few borrows the loss of the others.
    per_psi = cost.sum() / max(float((failed * psia).sum()), 1e-9)
    found = {}
    for one in PRESSURE_CLASSES:
        member = classes == one.name
        typical = per_psi * float(psia[member].mean()) if member.any() else 0.0
        count = float(failed[member].sum())
        mean = (float(cost[member].sum()) + _LIKE_THE_PLANT * typical) / (count + _LIKE_THE_PLANT)
        found[one.name] = (mean, _LOSS_LOG_SPREAD / math.sqrt(count / 2 + 1.0))
    return found
