"""Findings -> the small tables that reports are made of. Counting and adding up, nothing else.

Every figure is one that the findings hold, or a plain sum of them. The range of a sum is the
sum of the ranges, which is exact when the errors behind them go together (one price, one
discharge coefficient, one meter) and too wide when they do not; the round's own total keeps
the range that the findings give it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from survey.columns import UNDECIDED
from survey.diagnosis.equipment import equipment_of
from survey.findings import Findings
from survey.readings.gather import without_totals
from survey.reports.words import GROUPS, group_of, tidy

BREAKER = "vacuum_breaker"
SUMMED = (
    "annual_cost",
    "annual_cost_low",
    "annual_cost_high",
    "steam_loss_lb_per_h",
    "steam_loss_low_lb_per_h",
    "steam_loss_high_lb_per_h",
    "annual_co2_t",
)


@dataclass(frozen=True)
class Totals:
    """The round in figures: counts, and sums with their 10-90 % range. Money in ``currency``.

    ``lines_of_totals`` are those of the rows set aside that are no devices at all.
    """

    read: int
    judged: int
    set_aside: int
    lines_of_totals: int
    to_do: int
    groups: dict[str, int]
    currency: str
    annual_cost: float
    annual_cost_low: float
    annual_cost_high: float
    steam_loss_lb_per_h: float
    steam_loss_low_lb_per_h: float
    steam_loss_high_lb_per_h: float
    annual_co2_t: float


@dataclass(frozen=True)
class Job:
    """What is to be done at one piece of equipment: its devices, worst first, and their sums."""

    equipment: str
    area: str
    devices: pd.DataFrame
    kind: str
    sums: dict[str, float]


def totals(findings: Findings) -> Totals:
    """Return the totals: from the summary where it has them, else summed from the rows."""
    table, summary = findings.table, findings.summary
    sums = {name: float(summary.get(name, np.nan)) for name in SUMMED}
    rows = sums_of(table)
    sums = {name: value if np.isfinite(value) else rows[name] for name, value in sums.items()}
    counts = groups(table).value_counts()
    aside = int(summary.get("rows_set_aside", len(findings.rejects)))
    return Totals(
        read=int(summary.get("rows_read", len(table) + aside)),
        judged=len(table),
        set_aside=aside,
        lines_of_totals=lines_of_totals(findings.rejects),
        to_do=int(table["rank"].notna().sum()),
        groups={name: int(counts.get(name, 0)) for name in GROUPS},
        currency=tidy(summary.get("currency", ""), 12),
        **sums,
    )


def lines_of_totals(rejects: pd.DataFrame) -> int:
    """Return how many of the rows set aside are lines that someone added up, not devices."""
    return len(rejects) - len(without_totals(rejects))


def sums_of(rows: pd.DataFrame) -> dict[str, float]:
    """Return the sum of each column in `SUMMED`; a missing column or value adds nothing."""
    return {name: float(rows[name].sum()) if name in rows else 0.0 for name in SUMMED}


def texts(table: pd.DataFrame, name: str) -> pd.Series[str]:
    """Return a column as plain text, '' where it is missing or the table has no such column."""
    if name not in table:
        return pd.Series("", index=table.index, dtype="str")
    values = table[name]
    if isinstance(values.dtype, pd.CategoricalDtype):  # each different value once
        said = pd.array([*_as_text(values.cat.categories.to_series()), ""], dtype="str")
        return pd.Series(said.take(values.cat.codes.to_numpy()), index=table.index)
    return _as_text(values)


def _as_text(values: pd.Series[Any]) -> pd.Series[str]:
    if values.dtype == "str" and getattr(values.dtype, "storage", "") == "pyarrow":
        return values.fillna("")
    values = values.astype(object)
    values = values.where(values.notna(), "")
    try:
        return values.astype("str")
    except UnicodeEncodeError:  # half a character, which only a table of objects can hold
        return values.map(lambda value: str(value).encode("utf-8", "replace").decode())


def of_states(table: pd.DataFrame, said: Callable[[str, str], str]) -> pd.Series[str]:
    """Return what is said of each row's state and device; every different pair is asked once."""
    states, devices = (pd.factorize(texts(table, name)) for name in ("state", "device"))
    pair = states[0] * len(devices[1]) + devices[0]
    different, place = np.unique(pair, return_inverse=True)
    words = [
        said(str(states[1][at // len(devices[1])]), str(devices[1][at % len(devices[1])]))
        for at in different.tolist()
    ]
    return pd.Series(pd.array(words, dtype="str").take(place), index=table.index)


def groups(table: pd.DataFrame) -> pd.Series[str]:
    """Return the group of each row's state: one of the keys of `words.GROUPS`."""
    return of_states(table, group_of)


def worst_first(table: pd.DataFrame) -> pd.DataFrame:
    """Return all rows: the ranked by rank, then the undecided, then the rest, each by tag."""
    undecided = groups(table) == "undecided"
    order = table.assign(_rank=table["rank"].fillna(np.inf), _later=~undecided)
    return order.sort_values(["_rank", "_later", "tag"], kind="stable").drop(
        columns=["_rank", "_later"]
    )


def worst(findings: Findings, count: int) -> pd.DataFrame:
    """Return the rows that cost most, at most ``count``, worst first."""
    table = findings.table
    return worst_first(table[table["rank"].notna()]).head(count)


def causes_of(table: pd.DataFrame) -> pd.Series[str]:
    """Return what is behind each device's state; a breaker's own fault by the breaker's name.

    A trap may be held up by a vent or a check valve, and those are causes; a breaker is none.
    """
    cause, device, state = (texts(table, name) for name in ("cause", "device", "state"))
    own = (device == BREAKER) & (cause == "unknown") & (state != UNDECIDED)
    return cause.mask(own, BREAKER)


def cost_by(findings: Findings, column: str) -> pd.DataFrame:
    """Return devices, devices to see to and sums for each value of a column, dearest first.

    Parameters
    ----------
    findings
        The judged round.
    column
        area, station, equipment, cause, state, trap_type or any other text column.

    Returns
    -------
    pandas.DataFrame
        name, devices, to_do, and the columns of `SUMMED`. A blank name gathers the rows that
        have none. The sums over all rows equal the sums over the findings.
    """
    table = findings.table
    names = causes_of(table) if column == "cause" else texts(table, column)
    figures = pd.DataFrame({name: table.get(name, 0.0) for name in SUMMED}, index=table.index)
    figures.insert(0, "to_do", table["rank"].notna().astype("int64"))
    figures.insert(0, "devices", 1)
    summed = figures.groupby(names, observed=True).sum().rename_axis("name").reset_index()
    return summed.sort_values(
        ["annual_cost", "steam_loss_lb_per_h", "to_do", "name"],
        ascending=[False, False, False, True], ignore_index=True,
    )


def state_counts(findings: Findings) -> pd.DataFrame:
    """Return how many of each device are in each state: device, state, group, count."""
    table = findings.table
    frame = pd.DataFrame({n: texts(table, n) for n in ("device", "state")})
    counts = frame.groupby(["device", "state"]).size().rename("count").reset_index()
    counts.insert(2, "group", groups(counts))
    return counts.sort_values(
        ["device", "count", "state"], ascending=[True, False, True], ignore_index=True
    )


def cumulative(findings: Findings, by: str = "annual_cost") -> pd.DataFrame:
    """Return what repairing in order takes away: tag, the figure, its running sum and share."""
    ranked = findings.table[findings.table["rank"].notna()]
    curve = ranked.sort_values([by, "rank"], ascending=[False, True])[["tag", by]]
    curve = curve[curve[by] > 0].reset_index(drop=True)
    running = curve[by].cumsum()
    total = float(findings.table[by].sum())
    return curve.assign(running=running, share=running / total if total > 0 else 0.0)


def flattens_at(curve: pd.DataFrame, share: float = 0.8) -> int:
    """Return how many devices, dearest first, it takes to reach a share of the whole.

    Where the ranked devices do not reach the share between them, all of them are counted.
    """
    reached = np.flatnonzero(curve["share"].to_numpy() >= share)
    return int(reached[0]) + 1 if len(reached) else len(curve)


def jobs(
    findings: Findings, by: str = "annual_cost", most: Mapping[str, int] | None = None
) -> dict[str, tuple[list[Job], int]]:
    """Return the devices that need something, grouped by equipment, dearest group first.

    A device with no equipment named is a job of its own. A job is of the kind of its gravest
    device: one that lets steam out, else one that holds back, else an undecided one.

    Parameters
    ----------
    findings
        The judged round.
    by
        The column of `SUMMED` that puts the jobs in order.
    most
        How many jobs to return of each kind; None returns all.

    Returns
    -------
    dict
        Kind -> its first jobs, and how many there are of it.
    """
    order = {kind: at for at, kind in enumerate(GROUPS)}
    ranked = worst_first(findings.table[findings.table["rank"].notna()])
    gravity = groups(ranked).map(order)
    ranked = ranked.loc[gravity.sort_values(kind="stable").index]
    codes = _job_codes(findings.table, ranked)
    sums = pd.DataFrame({name: ranked.get(name, 0.0) for name in {by, *SUMMED, "rank"}})
    whole = sums.groupby(codes).sum().assign(
        gravity=gravity.loc[ranked.index].groupby(codes).min(),
        first=ranked["rank"].groupby(codes).min(),
    ).sort_values([by, "first"], ascending=[False, True])
    rows = ranked.groupby(codes).indices
    found: dict[str, tuple[list[Job], int]] = {}
    for kind, grave in order.items():
        these = whole.index[whole["gravity"] == grave]
        limit = len(these) if most is None else most.get(kind, 0)
        first = [_job(ranked.iloc[rows[code]], kind) for code in these[:limit]]
        found[kind] = (first, len(these))
    return found


def _job_codes(table: pd.DataFrame, ranked: pd.DataFrame) -> pd.Series[Any]:
    heater = equipment_of(table)
    alone = -1 - np.arange(len(table))  # no heater's code
    return pd.Series(np.where(heater < 0, alone, heater), index=table.index).loc[ranked.index]


def _job(rows: pd.DataFrame, kind: str) -> Job:
    place = [str(texts(rows, name).iloc[0]) for name in ("equipment", "area")]
    return Job(place[0], place[1], rows, kind, sums_of(rows))
