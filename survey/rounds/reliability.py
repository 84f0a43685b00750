"""How often traps fail, by type, service, pressure and age; and which fails next, with odds."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import partial

import numpy as np
import pandas as pd

from survey.rounds.lives import DAYS_PER_YEAR, Lives, Rounds, lives_of
from survey.rounds.survival import (
    AGES,
    LEVELS,
    REFERENCE_YEARS,
    SCALE,
    SHAPE_AT,
    Array,
    Fit,
    fit,
    prior_draws,
    survival,
)

AGE_BANDS = ((0.0, 1.0), (1.0, 3.0), (3.0, 5.0), (5.0, 8.0))
DRAWS = 100
_FAILED = 0.5


@dataclass(frozen=True)
class Reliability:
    """What rounds tell about how traps fail.

    Parameters
    ----------
    rates
        One row per group: by (all, trap_type, service, pressure, age), level, traps, years
        (trap-years between rounds), failures (seen between rounds, by chances), per_100 (per
        100 traps a year), low, high (10 % and 90 % points), from_rounds (share of the doubt
        that this plant's rounds took away, 0 to 1).
    shape, shape_low, shape_high
        Weibull shape: over 1, traps wear out; under 1, they fail young.
    share_at_4_years
        Share failed after four years without maintenance, with its 10 % and 90 % points.
    """

    rates: pd.DataFrame
    shape: float
    shape_low: float
    shape_high: float
    share_at_4_years: tuple[float, float, float]
    lives: Lives
    fit: Fit


def reliability(
    rounds: Rounds, *, repairs: Mapping[str, Sequence[date]] | None = None
) -> Reliability:
    """Fit failure rates to rounds.

    Parameters
    ----------
    rounds
        Day and findings table of each round; one is enough for a first guess.
    repairs
        By unit (column ``unit``, else tag): days on which it was mended or replaced.
    """
    lives = lives_of(rounds, repairs=repairs)
    fitted = fit(lives)
    draws = fitted.draws(2 * DRAWS)
    shapes = np.exp(draws[:, SHAPE_AT])
    plant = _mean_scale(fitted, np.ones(len(lives), dtype=bool), draws)
    shares = 1.0 - np.exp(-np.exp(plant))
    best = float(1.0 - np.exp(-np.exp(_mean_scale(fitted, None, fitted.best[None, :])[0])))
    return Reliability(
        pd.DataFrame(_rates(lives, fitted, draws)), float(np.exp(fitted.best[SHAPE_AT])),
        *_ends(shapes), (best, *_ends(shares)), lives, fitted,
    )  # fmt: skip


def _ends(drawn: Array) -> tuple[float, float]:
    low, high = np.quantile(drawn, [0.1, 0.9])
    return float(low), float(high)


def fails_next(result: Reliability, *, before: date) -> pd.DataFrame:
    """Return each trap's chance to fail before a day, the likeliest first.

    Parameters
    ----------
    before
        The day. What is reckoned is from when the trap was last looked at until then.

    Returns
    -------
    DataFrame
        unit, tag, area, equipment, trap_type, service, pressure, seen; chance (works when last
        looked at, and fails before the day), chance_low, chance_high (10 % and 90 % points);
        failed_already (chance that it had failed when last looked at). Traps that had more
        likely failed than not are left out: they are to be mended, not to be waited for.
    """
    lives, best = result.lives, result.fit.best
    ahead = np.array([(before - seen).days for seen in lives.traps["seen"]], dtype=float)
    ahead = np.maximum(ahead, 0.0) / DAYS_PER_YEAR
    chance, failed = _chances(lives, result.fit, best, ahead)
    draws = result.fit.draws(DRAWS)
    drawn = np.array([_chances(lives, result.fit, one, ahead)[0] for one in draws])
    low, high = np.quantile(drawn, [0.1, 0.9], axis=0) if len(lives) else (chance, chance)
    table = lives.traps.assign(
        chance=chance, chance_low=np.minimum(low, chance), chance_high=np.maximum(high, chance),
        failed_already=failed,
    )  # fmt: skip
    kept = table["latest"].to_numpy(dtype=bool) & (failed < _FAILED)
    table = table.loc[kept].drop(columns="latest")
    return table.sort_values(["chance", "tag"], ascending=[False, True], ignore_index=True)


def _chances(lives: Lives, fitted: Fit, parameters: Array, ahead: Array) -> tuple[Array, Array]:
    """Return each life's chance to fail within the years ahead, and to have failed already."""
    scale, shape = fitted.log_scale(parameters)[lives.life], float(parameters[SHAPE_AT])
    young, old = lives.ages(float(np.exp(parameters[AGES])))
    low = survival(young, log_scale=scale, log_shape=shape)
    high = survival(old, log_scale=scale, log_shape=shape)
    later = survival(young + ahead[lives.life], log_scale=scale, log_shape=shape)
    whole = np.bincount(lives.life, lives.chance * (low - high), minlength=len(lives))
    living = np.where(lives.open, lives.chance, 0.0)
    working = np.bincount(lives.life, living * low, minlength=len(lives)) / whole
    failing = np.bincount(lives.life, living * (low - later), minlength=len(lives)) / whole
    return failing, 1.0 - working


def _rates(lives: Lives, fitted: Fit, draws: Array) -> list[dict[str, object]]:
    years, failures = _watched(lives, fitted)
    groups = [("all", "all traps", np.ones(len(lives), dtype=bool))]
    for place, (kind, level) in enumerate(fitted.design.levels):
        groups.append((kind, level, fitted.design.of_life[:, place] > 0))
    rows: list[dict[str, object]] = []
    for kind, level, members in groups:
        known = {
            "by": kind, "level": level, "traps": int(members.sum()),
            "years": float(years[members].sum()), "failures": float(failures[members].sum()),
        }  # fmt: skip
        rows.append(known | _spoken(partial(_first_years, fitted, members), fitted, draws))
    for band in AGE_BANDS:
        known = {"by": "age", "level": f"{band[0]:g} to {band[1]:g} years", "traps": 0,
                 "years": np.nan, "failures": np.nan}  # fmt: skip
        rows.append(known | _spoken(partial(_at_age, fitted, band), fitted, draws))
    return rows


def _spoken(log_rate: Callable[[Array], Array], fitted: Fit, draws: Array) -> dict[str, object]:
    """Return a rate with its range, and how much of its doubt the rounds took away."""
    drawn = log_rate(draws)
    before = float(log_rate(prior_draws(fitted.prior, len(draws))).var())
    low, high = _ends(np.exp(drawn))
    return {
        "per_100": float(np.exp(log_rate(fitted.best[None, :])[0])), "low": float(low),
        "high": float(high), "from_rounds": max(0.0, 1.0 - float(drawn.var()) / before),
    }  # fmt: skip


def _first_years(fitted: Fit, members: Array, parameters: Array) -> Array:
    """Log of failures per 100 traps a year over the first four years of life, on average."""
    return np.asarray(np.log(100.0 / REFERENCE_YEARS) + _mean_scale(fitted, members, parameters))


def _at_age(fitted: Fit, band: tuple[float, float], parameters: Array) -> Array:
    """Log of failures per 100 traps a year between two ages."""
    scale, shape = _mean_scale(fitted, None, parameters), np.exp(parameters[:, SHAPE_AT])
    first, last = ((years / REFERENCE_YEARS) ** shape for years in band)
    return np.asarray(scale + np.log(100.0 * (last - first) / (band[1] - band[0])))


def _mean_scale(fitted: Fit, members: Array | None, parameters: Array) -> Array:
    """Return the log of the lives' mean cumulative hazard at four years, per set, (sets,)."""
    which = fitted.design.of_life if members is None else fitted.design.of_life[members]
    if not len(which):
        return np.asarray(parameters[:, SCALE])
    kinds, counts = np.unique(which, axis=0, return_counts=True)
    each = np.exp(parameters[:, LEVELS] @ kinds.T)
    return np.asarray(parameters[:, SCALE] + np.log(each @ counts / counts.sum()))


def _watched(lives: Lives, fitted: Fit) -> tuple[Array, Array]:
    """Return trap-years between each life's first and last look, and failures in them."""
    scale, shape = fitted.log_scale(fitted.best)[lives.life], float(fitted.best[SHAPE_AT])
    young, old = lives.ages(float(np.exp(fitted.best[AGES])))
    low = survival(young, log_scale=scale, log_shape=shape)
    high = survival(old, log_scale=scale, log_shape=shape)
    share = lives.chance * (low - high)
    share /= np.bincount(lives.life, share, minlength=len(lives))[lives.life]
    before_first = lives.low_years == 0.0
    closed = ~lives.open & ~before_first
    failures = np.bincount(lives.life, np.where(closed, share, 0.0), minlength=len(lives))
    # Until half way through the bracket in which it failed: brackets under way count in full.
    span = np.where(closed, lives.high_years - lives.low_years, 0.0)
    lived = np.zeros(len(lives))
    alive_at = _alive_at_low(lives, share)
    np.add.at(lived, lives.life, span * np.where(closed, alive_at - share / 2, 0.0))
    return lived, failures


def _alive_at_low(lives: Lives, share: Array) -> Array:
    """Return, for each bracket, the chance of failing in it or later (same start of age)."""
    last = np.flatnonzero(lives.open)
    start = np.concatenate([[0], last[:-1] + 1]) if len(last) else np.zeros(0, dtype=int)
    result = np.zeros(len(share))
    for first, end in zip(start, last, strict=True):
        result[first : end + 1] = np.cumsum(share[first : end + 1][::-1])[::-1]
    return result


