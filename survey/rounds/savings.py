"""What was saved between two rounds, as found and brought to the same hours, pressure and price.

It follows, from memory, option A of the International Performance Measurement and Verification
Protocol: retrofit isolation with the key parameter measured. What is measured in both periods is
the steam each unit loses; hours, pressure and price are taken from the site and are the same on
both sides of the difference. saved = baseline + adjustments - reporting period.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from survey.diagnosis.priors import COEFFICIENT_LOG_SPREAD
from survey.rounds.conditions import Conditions, air_psia_of, conditions_of, filled
from survey.rounds.fitting import Fitting
from survey.rounds.outcomes import PAIRED
from survey.rounds.uncertain import (
    Differences,
    Figure,
    Losses,
    differences,
    each,
    losses_of,
    none_lost,
    numbers,
    total,
)


@dataclass(frozen=True)
class Adjustment:
    """One thing that was not the same in both rounds, and what bringing it to one value does.

    Parameters
    ----------
    what
        'pressure', 'hours' or 'price'.
    before, after
        The middle unit's value: psia, hours a year, currency per 1000 lb.
    cost_a_year
        What it adds to the cost of the round that is brought to the other's conditions.
    units
        How many of the units that count it was known for in both rounds.
    air_psia
        Of 'pressure': what to take off to have what gauges show; NaN where no gauge was read.
    """

    what: str
    before: float
    after: float
    cost_a_year: float
    units: int
    air_psia: float = float("nan")



@dataclass(frozen=True)
class Saved:
    """What was saved: before less after, under zero where more is lost now.

    Parameters
    ----------
    steam_lb_per_h, annual_klb, annual_cost, annual_co2_t
        Of the units read and decided in both rounds, at the conditions of one.
    as_found_lb_per_h, as_found_cost
        The same, each round at its own conditions.
    baseline_cost, reporting_cost
        Cost a year of the same units in each round, at the conditions of one.
    by_outcome
        Annual cost saved by the units of each outcome; they add up to ``annual_cost``.
    mended_lb_per_h, rest_lb_per_h, rest_cost
        Steam saved by the units that were mended, steam and cost a year saved by all others that
        count; the cost saved by those mended is in ``by_outcome``.
    with_repair_noted
        Annual cost saved by units that a repair is noted of.
    undecided_cost
        What the units undecided in either round would add: not in any figure above.
    not_read_lb_per_h, new_lb_per_h
        What the units lost that only the earlier, or only the later round read: not in any figure.
    spread_by_source
        Share of the variance of ``annual_cost`` that comes of the discharge coefficient, of the
        bores, and of openings and states; they add up to 1.
    units
        How many were read and decided in both rounds, with a loss estimated in both, and with the
        same hole noted in both (see `fitting`).
    mended_units
        How many of them were mended.
    not_estimated
        How many more there are whose loss is not known in one of them: in no figure.
    """

    steam_lb_per_h: Figure
    annual_klb: Figure
    annual_cost: Figure
    annual_co2_t: Figure
    as_found_lb_per_h: Figure
    as_found_cost: Figure
    baseline_cost: Figure
    reporting_cost: Figure
    by_outcome: dict[str, Figure]
    mended_lb_per_h: Figure
    rest_lb_per_h: Figure
    rest_cost: Figure
    with_repair_noted: Figure
    undecided_cost: Figure
    not_read_lb_per_h: Figure
    new_lb_per_h: Figure
    spread_by_source: dict[str, float]
    units: int
    mended_units: int
    not_estimated: int


def claim(figure: Figure) -> str:
    """Return what a difference supports: 'saved', 'lost_more', 'nothing' or 'cannot_tell'."""
    if figure.low > 0:
        return "saved"
    if figure.high < 0:
        return "lost_more"
    return "nothing" if figure.low == figure.high == 0 else "cannot_tell"


def saved_between(
    before: pd.DataFrame,
    after: pd.DataFrame,
    *,
    outcome: np.ndarray,
    holes: Fitting,
    at: str,
) -> tuple[Saved, tuple[Adjustment, ...], list[Figure]]:
    """Return what was saved, what was adjusted for, and the annual cost saved by each unit.

    Parameters
    ----------
    before, after
        Findings of the two rounds, a row for each unit in the same order.
    outcome
        As `outcomes.outcomes` gives it, (n,).
    holes
        What is noted of each unit's bore and type, and whether a repair is.
    at
        The round whose conditions both are brought to: 'after' or 'before'.
    """
    was, now = losses_of(before), losses_of(after)
    # Another bore after a repair is another hole: what is not known of the one tells nothing of
    # the other.
    now = replace(now, bore_log_spread=np.where(holes.other, 0.0, now.bore_log_spread))
    own = (conditions_of(before), conditions_of(after))
    own = (filled(own[0], own[1]), filled(own[1], own[0]))
    alike = holes.comparable(outcome)
    read = np.isin(outcome, PAIRED) & alike
    paired = read & _estimated(before) & _estimated(after)
    to, moved_losses = (own[1], was) if at == "after" else (own[0], now)
    brought = moved_losses.times(_by_pressure(own, at))
    pair = (brought, now) if at == "after" else (was, brought)
    price = to.yearly_klb() * to.cost_per_klb
    cost = _difference(pair, price)
    found_cost = _difference((was, now), *(c.yearly_klb() * c.cost_per_klb for c in own))
    nothing = none_lost(was)
    one = np.ones(len(was.mean_lb_per_h))
    steam = _difference(pair, one)
    mended = paired & (outcome == "mended")
    saved = Saved(
        steam_lb_per_h=total(steam, paired),
        annual_klb=total(_difference(pair, to.yearly_klb()), paired),
        annual_cost=total(cost, paired),
        annual_co2_t=total(_difference(pair, to.yearly_klb() * to.co2_t_per_klb), paired),
        as_found_lb_per_h=total(_difference((was, now), one), paired),
        as_found_cost=total(found_cost, paired),
        baseline_cost=total(_difference((pair[0], nothing), price), paired),
        reporting_cost=total(_difference((pair[1], nothing), price), paired),
        by_outcome={name: total(cost, paired & (outcome == name)) for name in PAIRED},
        mended_lb_per_h=total(steam, mended),
        rest_lb_per_h=total(steam, paired & ~mended),
        rest_cost=total(cost, paired & ~mended),
        with_repair_noted=total(cost, paired & holes.noted),
        undecided_cost=total(cost, (outcome == "undecided") & alike),
        not_read_lb_per_h=total(_difference((was, nothing), one), outcome == "not_read"),
        new_lb_per_h=total(_difference((now, nothing), one), outcome == "new"),
        spread_by_source=_sources(pair, price, paired),
        units=int(paired.sum()),
        mended_units=int(mended.sum()),
        not_estimated=int((read & ~paired).sum()),
    )
    air = air_psia_of(before, after)
    return saved, _adjustments(own, moved_losses, paired, at, air), each(cost)


def _estimated(table: pd.DataFrame) -> np.ndarray:
    known: np.ndarray = np.isfinite(numbers(table, "steam_loss_lb_per_h"))
    return known


def _difference(
    pair: tuple[Losses, Losses], weight: np.ndarray, weight_after: np.ndarray | None = None
) -> Differences:
    later = weight if weight_after is None else weight_after
    return differences(
        pair[0], pair[1],
        weight_before=np.nan_to_num(weight), weight_after=np.nan_to_num(later),
    )  # fmt: skip


def _by_pressure(own: tuple[Conditions, Conditions], at: str) -> np.ndarray:
    """Return what a loss is multiplied by to bring it to the other round's pressures, 1 unknown."""
    ratio = own[1].flow_lb_per_h / own[0].flow_lb_per_h
    return np.where(np.isfinite(ratio), ratio if at == "after" else 1 / ratio, 1.0)


def _adjustments(
    own: tuple[Conditions, Conditions], losses: Losses, paired: np.ndarray, at: str,
    air_psia: float,
) -> tuple[Adjustment, ...]:
    """Return one step after the other, each on top of those before it."""
    start, end = own if at == "after" else own[::-1]
    loss = np.where(paired, losses.mean_lb_per_h, 0.0)
    steps = (
        ("pressure", [c.supply_psia for c in own], loss * _by_pressure(own, at), start),
        ("hours", [c.hours_per_year for c in own], None,
         replace(start, hours_per_year=end.hours_per_year)),
        ("price", [c.cost_per_klb for c in own], None, end),
    )  # fmt: skip
    made, last, pressed = [], _cost(loss, start), loss
    for what, values, moved, conditions in steps:
        pressed = pressed if moved is None else moved
        cost = _cost(pressed, conditions)
        known = paired & np.isfinite(values[0]) & np.isfinite(values[1])
        made.append(Adjustment(
            what, _middle(values[0][known]), _middle(values[1][known]), cost - last,
            int(known.sum()), air_psia if what == "pressure" else float("nan"),
        ))  # fmt: skip
        last = cost
    return tuple(made)


def _cost(loss_lb_per_h: np.ndarray, at: Conditions) -> float:
    return float(np.nansum(loss_lb_per_h * at.yearly_klb() * at.cost_per_klb))


def _middle(values: np.ndarray) -> float:
    return float(np.median(values)) if len(values) else float("nan")


def _sources(
    pair: tuple[Losses, Losses], weight: np.ndarray, paired: np.ndarray
) -> dict[str, float]:
    """Return where the variance comes from, each source taken on its own."""
    of = _difference(pair, weight)
    shared = np.minimum(pair[0].bore_log_spread, pair[1].bore_log_spread)
    coefficient = float(of.first[paired].sum() ** 2 * np.expm1(COEFFICIENT_LOG_SPREAD**2))
    bores = float((of.first**2 * np.expm1(shared**2))[paired].sum())
    rest = max(0.0, float(of.second[paired].sum()) - bores)
    whole = coefficient + bores + rest
    names = ("discharge coefficient", "bores", "openings and states")
    parts = (coefficient, bores, rest)
    return {n: p / whole if whole > 0 else 0.0 for n, p in zip(names, parts, strict=True)}
