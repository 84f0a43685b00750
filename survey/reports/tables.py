"""Findings -> the small tables that reports are made of. Counting and adding up, nothing else.

Every figure is one that the findings hold, or a plain sum of them. The range of a sum is the
sum of the ranges, which is exact when the errors behind them go together (one price, one
discharge coefficient, one meter) and too wide when they do not; the round's own total keeps
the range that the findings give it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from survey.errors import UsageError
from survey.findings import Findings
from survey.reports.words import GROUPS, group_of, tidy

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
    """The round in figures: counts, and sums with their 10-90 % range. Money in ``currency``."""

    read: int
    judged: int
    set_aside: int
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
        to_do=int(table["rank"].notna().sum()),
        groups={name: int(counts.get(name, 0)) for name in GROUPS},
        currency=tidy(summary.get("currency", ""), 12),
        **sums,
    )


def sums_of(rows: pd.DataFrame) -> dict[str, float]:
    """Return the sum of each column in `SUMMED`; a missing column or value adds nothing."""
    return {name: float(rows[name].sum()) if name in rows else 0.0 for name in SUMMED}


def texts(table: pd.DataFrame, name: str) -> pd.Series[str]:
    """Return a column as plain text, '' where it is missing or the table has no such column."""
    if name not in table:
        return pd.Series("", index=table.index, dtype="str")
    values = table[name].astype(object)
    return values.where(values.notna(), "").astype("str")


def groups(table: pd.DataFrame) -> pd.Series[str]:
    """Return the group of each row's state: one of the keys of `words.GROUPS`."""
    pairs = zip(texts(table, "state"), texts(table, "device"), strict=True)
    return pd.Series([group_of(*pair) for pair in pairs], index=table.index, dtype="str")


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
    names = texts(table, column)
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
    frame["group"] = groups(table)
    counts = frame.groupby(["device", "state", "group"]).size().rename("count").reset_index()
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


def jobs(findings: Findings, by: str = "annual_cost") -> list[Job]:
    """Return the devices that need something, grouped by equipment, dearest group first.

    A device with no equipment named is a job of its own.
    """
    ranked = worst_first(findings.table[findings.table["rank"].notna()])
    equipment, area = texts(ranked, "equipment"), texts(ranked, "area")
    alone = pd.Series(np.arange(len(ranked)), index=ranked.index).where(equipment == "", -1)
    kinds = groups(ranked)
    order = {kind: at for at, kind in enumerate(GROUPS)}
    ranked = ranked.loc[kinds.map(order).sort_values(kind="stable").index]
    found = [
        Job(str(name), str(place), rows, _kind(kinds.loc[rows.index]), sums_of(rows))
        for (name, place, _), rows in ranked.groupby([equipment, area, alone], sort=False)
    ]
    return sorted(found, key=lambda job: (-job.sums[by], float(job.devices["rank"].min())))


def _kind(kinds: pd.Series[str]) -> str:
    return next(kind for kind in (*GROUPS,) if (kinds == kind).any())


def narrowed(findings: Findings, areas: Sequence[str] | None) -> Findings:
    """Return the findings of some areas only, with nothing left that tells of the others.

    Counts and sums are those of the rows kept. Rows set aside are kept where they name one of
    the areas. Notes on reading the file are dropped, and so is every assumption or finding
    about the instruments that names a place or a device which is not shown.

    Raises
    ------
    UsageError
        An area is not in the findings, or none is given.
    """
    if areas is None:
        return findings
    table, rejects = findings.table, findings.rejects
    chosen = _known_areas(areas, texts(table, "area"))
    kept = table[texts(table, "area").isin(chosen)]
    aside = rejects[texts(rejects, "area").isin(chosen)]
    summary = {name: findings.summary[name] for name in _SITE_WIDE if name in findings.summary}
    hidden = _names_only_in(table, kept)
    for name in ("assumptions", "calibration"):
        said = findings.summary.get(name, [])
        summary[name] = [entry for entry in said if not hidden & _names_in(entry)]
    summary |= {
        **sums_of(kept),
        "rows_read": len(kept) + len(aside),
        "rows_judged": len(kept),
        "rows_set_aside": len(aside),
    }
    return Findings(kept, aside, summary)


_SITE_WIDE = ("currency", "site_name", "loss_basis", "made_at", "version")
_NAME = re.compile(r"\w+(?:[-/.]\w+)*")


def _names_only_in(table: pd.DataFrame, kept: pd.DataFrame) -> set[str]:
    gone: set[str] = set()
    for column in ("area", "station", "equipment", "tag"):
        left = set(texts(table, column)) - set(texts(kept, column))
        gone |= {name for text in left for name in _NAME.findall(text)}
        gone -= {name for text in set(texts(kept, column)) for name in _NAME.findall(text)}
    return gone


def _names_in(entry: Any) -> set[str]:
    said = " ".join(map(str, entry.values())) if isinstance(entry, dict) else str(entry)
    return set(_NAME.findall(said))


def _known_areas(areas: Iterable[str], present: pd.Series[str]) -> list[str]:
    chosen, known = list(areas), sorted(set(present) - {""})
    unknown = [area for area in chosen if area not in known]
    if unknown or not chosen:
        names = ", ".join(tidy(area, 40) for area in known[:20]) or "the findings name no area"
        raise UsageError(
            "Areas that are in the findings were expected",
            found=", ".join(tidy(area, 40) for area in unknown[:5]) or "none",
            do=f"choose from: {names}",
        )
    return chosen
