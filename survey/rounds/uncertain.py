"""How far a difference of two rounds may be off: what they share, and what is each one's own.

A unit's loss in a round is taken as: coefficient x bore x opening, or nothing at all with what is
left of the chance that it passes steam. The discharge coefficient is one number, unknown, for all
units and both rounds; the bore is one number, unknown, for one unit in both rounds; opening and
state are each round's own. So a coefficient taken too high makes a saving too large by the same
share, and can never make one out of nothing.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from survey.columns import NORMAL_90
from survey.diagnosis.flow_spread import flow_log_spread
from survey.diagnosis.priors import (
    BORE_LOG_SPREAD,
    BORE_UNKNOWN_LOG_SPREAD,
    COEFFICIENT_LOG_SPREAD,
    OPENING_LEAKING,
    OPENING_OPEN,
)

OPENING_LOG_SPREAD = float(
    np.sqrt(np.log(np.mean(OPENING_LEAKING**2) / np.mean(OPENING_LEAKING) ** 2))
)
"""Spread of the log of what an opening passes, where a row's range starts at nothing and so does
not tell it: that of the openings a leaking trap is assumed to have, one as likely as the other."""
OPEN_OVER_LEAKING = float(np.mean(OPENING_OPEN) / np.mean(OPENING_LEAKING))
"""How much more a trap passes that has blown open than one that leaks, by the openings assumed."""
_WIDEST_LOG_SPREAD = 2.0
_LEAST_CHANCE = 1e-9
NOTHING_CHANCE = 0.1
"""Over this chance that nothing was lost, a range that starts at the 10 % point holds nothing."""


@dataclass(frozen=True)
class Figure:
    """An expected value and its 10 % and 90 % points."""

    expected: float
    low: float
    high: float


@dataclass(frozen=True)
class Losses:
    """The losses of n units in one round, (n,) each.

    Parameters
    ----------
    mean_lb_per_h, low_lb_per_h, high_lb_per_h
        Expected loss, and its 10 % and 90 % points.
    chance
        That it passes live steam at all.
    log_spread
        Spread of the log of the loss where it does, everything unknown taken together.
    bore_log_spread
        Part of it that is the bore's.
    """

    mean_lb_per_h: np.ndarray
    low_lb_per_h: np.ndarray
    high_lb_per_h: np.ndarray
    chance: np.ndarray
    log_spread: np.ndarray
    bore_log_spread: np.ndarray

    def times(self, factor: np.ndarray | float) -> Losses:
        """Return the losses multiplied, and no less sure."""
        return replace(
            self,
            mean_lb_per_h=self.mean_lb_per_h * factor,
            low_lb_per_h=self.low_lb_per_h * factor,
            high_lb_per_h=self.high_lb_per_h * factor,
        )


@dataclass(frozen=True)
class Differences:
    """First three cumulants of each unit's difference, (n,), the coefficient taken as known.

    Parameters
    ----------
    chance_before, chance_after
        That it passed any steam at all in either round, (n,).
    low_at_most, low_at_least, high_at_most, high_at_least
        What the ranges of the two losses allow for the ends of their difference: it is never more
        than the loss before, and never less than all of the loss after, lost anew.
    """

    first: np.ndarray
    second: np.ndarray
    third: np.ndarray
    chance_before: np.ndarray
    chance_after: np.ndarray
    low_at_most: np.ndarray
    low_at_least: np.ndarray
    high_at_most: np.ndarray
    high_at_least: np.ndarray


def losses_of(table: pd.DataFrame) -> Losses:
    """Read the losses of a table of findings, and how far each may be off.

    The chance is p_leaking + p_failed_open, of other devices than traps that they do not work; the
    spread is what mean and range say together. A loss that was not estimated counts as none here.
    """
    mean, low, high = (
        np.nan_to_num(numbers(table, f"steam_loss_{part}lb_per_h"))
        for part in ("", "low_", "high_")
    )
    chance = numbers(table, "p_leaking") + numbers(table, "p_failed_open")
    chance = np.where(np.isnan(chance), 1 - chance_working(table), chance)
    chance = np.clip(np.where(np.isnan(chance), 1.0, chance), _LEAST_CHANCE, 1.0)
    given = np.isfinite(numbers(table, "orifice_in"))
    bore = np.where(given, BORE_LOG_SPREAD, BORE_UNKNOWN_LOG_SPREAD)
    least = flow_log_spread(given)
    told = _told_variance(mean, high - low, table, least) + mean**2
    with np.errstate(divide="ignore", invalid="ignore"):
        told = np.sqrt(np.log(told * chance / mean**2))
    untold = ~((mean > 0) & (low > 0) & (high >= low) & np.isfinite(told))
    spread = np.where(untold, np.hypot(least, OPENING_LOG_SPREAD), told)
    return Losses(mean, low, high, chance, np.clip(spread, least, _WIDEST_LOG_SPREAD), bore)


def none_lost(like: Losses) -> Losses:
    """Return losses of nothing, for a round that is not there to be held against."""
    return like.times(0.0)


def differences(
    before: Losses, after: Losses, *, weight_before: np.ndarray, weight_after: np.ndarray
) -> Differences:
    """Return weight x loss before, less weight x loss after, of each unit.

    Parameters
    ----------
    weight_before, weight_after
        What a pound an hour counts in each round, (n,): 1, or money a year.
    """
    shared = np.minimum(before.bore_log_spread, after.bore_log_spread)
    was = _moments(before, weight_before, shared)
    now = _moments(after, weight_after, shared)
    raw = (
        was[0] - now[0],
        was[1] - 2 * was[0] * now[0] + now[1],
        was[2] - 3 * was[1] * now[0] + 3 * was[0] * now[1] - now[2],
    )
    one, two, three = (
        part * np.exp(0.5 * (k * k - k) * shared**2) for k, part in enumerate(raw, start=1)
    )
    cumulants = (one, two - one**2, three - 3 * one * two + 2 * one**3)
    ends = (
        weight_before * before.low_lb_per_h, -weight_after * after.high_lb_per_h,
        weight_before * before.high_lb_per_h, -weight_after * after.low_lb_per_h,
    )  # fmt: skip
    return Differences(*cumulants, before.chance, after.chance, *ends)


def total(of: Differences, mask: np.ndarray | None = None) -> Figure:
    """Return the sum of the differences of some units, the shared coefficient allowed for.

    Where one unit makes up most of what is uncertain, its own range counts for as much.
    """
    some = np.ones(len(of.first), dtype=bool) if mask is None else mask
    sums = [np.atleast_1d(part[some].sum()) for part in (of.first, of.second, of.third)]
    expected = float(sums[0][0])
    if not sums[1][0] > 0:
        return Figure(expected, expected, expected)
    # The chance that not one of them passed any steam: then there was nothing to save, or to lose.
    idle = [
        np.exp(np.log1p(-np.minimum(chance[some], 1 - 1e-12)).sum(keepdims=True))
        for chance in (of.chance_before, of.chance_after)
    ]
    low, high = (float(end[0]) for end in _ends(*sums, *idle))
    most = int(np.argmax(np.where(some, of.second, -1.0)))
    share = float(of.second[most] / sums[1][0]) ** 2
    alone = each(of)[most]
    others = NORMAL_90**2 * (
        float(sums[1][0] - of.second[most])
        + (expected - alone.expected) ** 2 * math.expm1(COEFFICIENT_LOG_SPREAD**2)
    )
    below = math.sqrt((alone.expected - alone.low) ** 2 + others)
    above = math.sqrt((alone.high - alone.expected) ** 2 + others)
    low += share * (expected - below - low)
    high += share * (expected + above - high)
    if idle[0][0] > NOTHING_CHANCE:
        low = min(low, 0.0)
    if idle[1][0] > NOTHING_CHANCE:
        high = max(high, 0.0)
    return Figure(expected, min(low, expected), max(high, expected))


def each(of: Differences) -> list[Figure]:
    """Return the difference of every unit by itself."""
    idle = (1 - of.chance_before, 1 - of.chance_after)
    low, high = _ends(of.first, of.second, of.third, *idle)
    low = np.maximum(np.minimum(low, of.low_at_most), of.low_at_least)
    high = np.maximum(np.minimum(high, of.high_at_most), of.high_at_least)
    low, high = np.minimum(low, of.first), np.maximum(high, of.first)
    return [Figure(*map(float, one)) for one in zip(of.first, low, high, strict=True)]


def _moments(losses: Losses, weight: np.ndarray, shared: np.ndarray) -> list[np.ndarray]:
    """Return the first three raw moments of a loss, over what is its round's own."""
    own = np.maximum(losses.log_spread**2 - shared**2 - COEFFICIENT_LOG_SPREAD**2, 0.0)
    passing = weight * losses.mean_lb_per_h / losses.chance
    return [losses.chance * passing**k * np.exp(0.5 * (k * k - k) * own) for k in (1, 2, 3)]


def _ends(
    first: np.ndarray,
    second: np.ndarray,
    third: np.ndarray,
    idle_before: np.ndarray,
    idle_after: np.ndarray,
) -> tuple[np.ndarray, np.ndarray]:
    """Return the 10 % and 90 % points, of a shifted log-normal with these three cumulants.

    Whatever its form says, the range holds the expected value; and it holds nothing at all where
    the chance that there was nothing to save, or to lose, is more than a tenth.
    """
    squared = COEFFICIENT_LOG_SPREAD**2
    two = (second + first**2) * math.exp(squared)
    three = (third + 3 * first * second + first**3) * math.exp(3 * squared)
    spread = np.sqrt(np.maximum(two - first**2, 0.0))
    central = three - 3 * first * two + 2 * first**3
    skew = np.divide(central, spread**3, out=np.zeros_like(first), where=spread > 0)
    below, above = _standard_ends(np.abs(skew))
    low, high = np.where(skew < 0, -above, below), np.where(skew < 0, -below, above)
    low, high = first + spread * low, first + spread * high
    low = np.where(idle_before > NOTHING_CHANCE, np.minimum(low, 0.0), low)
    high = np.where(idle_after > NOTHING_CHANCE, np.maximum(high, 0.0), high)
    return np.minimum(low, first), np.maximum(high, first)


def _standard_ends(skew: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return 10 % and 90 % points of a shifted log-normal of mean 0 and spread 1, by its skew."""
    half = 0.5 * (skew**2 + 2 + np.sqrt(skew**4 + 4 * skew**2))
    ratio = np.cbrt(half) + 1 / np.cbrt(half) - 1  # the exponential of its log spread squared
    excess = np.maximum(ratio - 1, 1e-12)
    log_spread = np.sqrt(np.log1p(excess))
    ends = [
        (np.exp(sign * NORMAL_90 * log_spread - 0.5 * log_spread**2) - 1) / np.sqrt(excess)
        for sign in (-1.0, 1.0)
    ]
    return ends[0], ends[1]


def _told_variance(
    mean: np.ndarray, width: np.ndarray, table: pd.DataFrame, least: np.ndarray
) -> np.ndarray:
    """Return the variance that a mean and a 10-90 % range tell of, where the range starts over 0.

    A range of openings is nearly normal, that of bores log-normal; a small chance of blown open is
    past the 90 % point, and so is added.
    """
    deviate = 0.5 * width * np.sqrt(np.expm1(least**2))
    deviate = deviate / (np.sinh(NORMAL_90 * least) * np.exp(-0.5 * least**2))
    leaking = np.nan_to_num(numbers(table, "p_leaking"))
    opened = np.nan_to_num(numbers(table, "p_failed_open"))
    step = mean * (OPEN_OVER_LEAKING - 1) / np.maximum(leaking + OPEN_OVER_LEAKING * opened, 1e-9)
    told: np.ndarray = deviate**2 + np.where(opened < 0.1, leaking * opened * step**2, 0.0)
    return told


def chance_working(table: pd.DataFrame) -> np.ndarray:
    """Return the chance that each works; where p_working is missing, by the verdict's own."""
    confidence, known = numbers(table, "confidence"), numbers(table, "p_working")
    works = table["state"].astype(object).eq("working").to_numpy()
    chance: np.ndarray = np.where(works, confidence, 1 - confidence)
    filled: np.ndarray = np.where(np.isnan(known), chance, known)
    return filled


def numbers(table: pd.DataFrame, name: str) -> np.ndarray:
    """Return a column as floats, NaN where it is missing or holds none."""
    if name not in table:
        return np.full(len(table), np.nan)
    values: np.ndarray = pd.to_numeric(table[name], errors="coerce").to_numpy(dtype=float)
    return values
