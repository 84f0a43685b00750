"""What is lost and what to do about it, as the owner's page shows it: jobs, splits, worst."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import pandas as pd
from markupsafe import Markup

from survey.findings import Findings
from survey.reports import charts, measures, sentences, tables, words
from survey.reports.tables import Job, Totals
from survey.reports.units import (
    Unit,
    loss_figures,
    loss_span,
    loss_words,
    temperature_sentence,
    units,
)

JOBS = {"out": 8, "held": 6, "undecided": 5}
DEVICES_PER_JOB = 5
WORST_CARDS = 5
BARS = 10
ROWS = 25
CURVE_TARGET = 0.8
CURVE_END = 0.995
_CURVE_STEPS = (1, 2, 3, 5, 10, 20, 50, 100, 200, 500, 1000)
SPLITS = ("area", "station")
_TITLES = {"area": "By area", "station": "By reducing station", "cause": "What is behind it"}
_NO_NAME = {"area": "no area given", "station": "no station given", "cause": "no cause given"}


@dataclass(frozen=True)
class Task:
    """A job as it is shown: place, its devices in words, its loss in words, how many more."""

    equipment: str
    area: str
    units: list[Unit]
    figure: str
    span: str
    more: int


@dataclass(frozen=True)
class Split:
    """The loss split by one column: a chart, a sentence, and its rows as a table."""

    column: str
    title: str
    sentence: str
    chart: Markup
    rows: list[dict[str, Any]]
    more: int


def tasks(findings: Findings, total: Totals, *, show_money: bool) -> dict[str, dict[str, Any]]:
    """Return the first jobs of each kind, and how many more there are of it."""
    jobs = tables.jobs(findings, _by(show_money), JOBS)
    return {
        kind: {"shown": [_task(job, total, show_money) for job in first],
               "more": count - len(first)}
        for kind, (first, count) in jobs.items()
    }


def undecided_sentence(findings: Findings, total: Totals, *, show_money: bool) -> str:
    """Return how many devices could not be settled, and how much hangs on them."""
    rows = findings.table[tables.groups(findings.table) == "undecided"]
    said = f"{words.counted(len(rows), 'device')} could not be settled"
    sums = tables.sums_of(rows)
    figure = loss_words(sums, total.currency, show_money)
    if not figure:
        return f"{said}. Each line names the one reading that would settle it."
    after = " a year" if show_money else ""
    return (
        f"{said}; {figure}{after} of the total hangs on them. "
        "Each line names the one reading that would settle it."
    )


def splits(
    findings: Findings, total: Totals, *, show_money: bool, most: int = BARS
) -> list[Split]:
    """Return the loss by area and, where there are several, by station; ``most`` bars each.

    None where no device is out or undecided: what is left is the small chance of a leak that every
    working trap has, and no place carries it.
    """
    by, group = _by(show_money), tables.groups(findings.table)
    if not (group.isin(["out", "undecided"]) & (findings.table[by] > 0)).any():
        return []
    found = (_split(findings, column, total, show_money, most) for column in SPLITS)
    return [split for split in found if split]


def causes(findings: Findings, *, show_money: bool) -> Split | None:
    """Return how many devices are down to each cause, None where none needs anything.

    Counted, not priced: a trap that is held back by something else loses no steam.
    """
    rows = tables.cost_by(findings, "cause")
    rows = rows[rows["to_do"] > 0].sort_values("to_do", ascending=False, kind="stable")
    if rows.empty:
        return None
    rows["said"] = [_name("cause", name) for name in rows["name"]]
    sentence = sentences.causes_sentence(rows)
    bars = [
        charts.Bar(row["said"], row["to_do"], math.nan, math.nan, words.whole(row["to_do"]))
        for row in _records(rows, BARS)
    ]
    chart = charts.bars("by-cause", _TITLES["cause"], sentence, bars, "working")
    listed = [_line(row, show_money) for row in _records(rows, ROWS)]
    return Split("cause", _TITLES["cause"], sentence, chart, listed, max(0, len(rows) - ROWS))


def running(findings: Findings, *, show_money: bool) -> dict[str, Any]:
    """Return the curve of what repairing in order takes away; None under three devices."""
    by = _by(show_money)
    curve = tables.cumulative(findings, by)
    if len(curve) < 3:
        return {"curve": None}
    mark = tables.flattens_at(curve, CURVE_TARGET)
    curve = curve.head(tables.flattens_at(curve, CURVE_END))
    said = sentences.curve_sentence(curve, mark)
    title = "What repairing in order takes away"
    chart = charts.curve("running", title, said, list(curve["share"]), mark)
    steps = sorted({*_CURVE_STEPS, mark, len(curve)})
    shown = curve.iloc[[step - 1 for step in steps if step <= len(curve)]]
    figure = words.whole if show_money else words.figure
    running = measures.value(by, curve["running"])
    rows = [
        {"repaired": at + 1, "last": words.tidy(row["tag"], 40),
         "share": words.percent(row["share"]), "running": figure(running[at])}
        for at, row in zip(shown.index, shown.to_dict("records"), strict=True)
    ]
    return {"curve": chart, "curve_title": title, "curve_sentence": said, "curve_rows": rows}


def worst(findings: Findings, total: Totals, *, show_money: bool) -> list[dict[str, Any]]:
    """Return the devices that lose most, each with a chart of its temperatures if it has any."""
    table, by = findings.table, _by(show_money)
    losing = table[(table[by] > 0) & table["rank"].notna() & (tables.groups(table) == "out")]
    rows = losing.sort_values([by, "rank"], ascending=[False, True]).head(WORST_CARDS)
    shown = units(rows, currency=total.currency, show_money=show_money)
    return [{"unit": one, "chart": _temperatures(at, one)} for at, one in enumerate(shown)]


def _temperatures(at: int, one: Unit) -> Markup | None:
    if not one.marks:
        return None
    title = f"Temperatures at {one.tag}"
    return charts.temperatures(f"temperatures-{at}", title, temperature_sentence(one), one.marks)


def _by(show_money: bool) -> str:
    return "annual_cost" if show_money else "steam_loss_lb_per_h"


def _task(job: Job, total: Totals, show_money: bool) -> Task:
    rows = job.devices.head(DEVICES_PER_JOB)
    return Task(
        equipment=words.tidy(job.equipment, 40),
        area=words.tidy(job.area, 40),
        units=list(units(rows, currency=total.currency, show_money=show_money)),
        figure=loss_words(job.sums, total.currency, show_money),
        span=loss_span(job.sums, show_money),
        more=len(job.devices) - len(rows),
    )


def _split(
    findings: Findings, column: str, total: Totals, show_money: bool, most: int
) -> Split | None:
    by = _by(show_money)
    rows = tables.cost_by(findings, column)
    rows["said"] = [_name(column, name) for name in rows["name"]]
    if not (rows[by] > 0).any() or (column == "station" and len(rows) < 2):
        return None
    rows = rows.sort_values([by, "to_do"], ascending=False, kind="stable")
    bars = [_bar(row, total, show_money) for row in _records(rows, most)]
    bars = [bar for bar in bars if bar.words]
    if not bars:
        return None  # next to nothing everywhere: a picture of no bars is no picture
    sentence = sentences.split_sentence(rows, by, column)
    return Split(
        column=column,
        title=_TITLES[column],
        sentence=sentence,
        chart=charts.bars(f"by-{column}", _TITLES[column], sentence, bars),
        rows=[_line(row, show_money) for row in _records(rows, ROWS)],
        more=max(0, len(rows) - ROWS),
    )


def _records(rows: pd.DataFrame, most: int) -> Sequence[dict[str, Any]]:
    return [{str(k): v for k, v in row.items()} for row in rows.head(most).to_dict("records")]


def _name(column: str, name: str) -> str:
    said = words.tidy(name, 40)
    if column == "cause":
        said = words.BEHIND_IT.get(said, said.replace("_", " "))
    return words.capital(said or _NO_NAME[column])


def _bar(row: dict[str, Any], total: Totals, show_money: bool) -> charts.Bar:
    value, low, high = loss_figures(row, show_money)
    said = loss_words(row, total.currency, show_money)
    return charts.Bar(row["said"], value, low, high, said)


def _line(row: dict[str, Any], show_money: bool) -> dict[str, Any]:
    by = _by(show_money)
    value, low, high = (measures.value(by, figure) for figure in loss_figures(row, show_money))
    shown = words.whole if show_money else words.figure
    return {
        "name": row["said"], "devices": row["devices"], "to_do": row["to_do"],
        "exact": f"{value:.2f}", "value": shown(value), "low": shown(low), "high": shown(high),
    }
