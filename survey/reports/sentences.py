"""The sentences of a report that carry figures. Each figure is one of `tables`, in words."""

from __future__ import annotations

from datetime import datetime

import pandas as pd

from survey.findings import Findings
from survey.reports import measures, numerals, words
from survey.reports.tables import Totals, texts


def headline(total: Totals, *, show_money: bool) -> str:
    """Return the round as an owner would ask for it, and what of it these figures leave out."""
    said = _headline(total, show_money=show_money)
    if not total.set_aside:
        return said
    rows = words.counted(total.set_aside, "row")
    verb = "was" if total.set_aside == 1 else "were"
    said = f"{said} {rows} of {numerals.grouped(total.read)} {verb} set aside, not judged"
    return f"{said}{_no_devices(total)}."


def _no_devices(total: Totals) -> str:
    """Say which rows set aside never were devices, so that nobody thinks some are missing."""
    count = total.lines_of_totals
    if not count:
        return ""
    said = "a line of totals, not a device" if count == 1 else "lines of totals, not devices"
    if count == total.set_aside:
        return f": {said}"
    return f"; {numerals.grouped(count)} of them {'is' if count == 1 else 'are'} {said}"


def _headline(total: Totals, *, show_money: bool) -> str:
    devices = words.counted(total.to_do, "device")
    judged = numerals.grouped(total.judged)
    needing = f"{devices} of {judged} {'needs' if total.to_do == 1 else 'need'} something"
    if total.steam_loss_lb_per_h <= 0:
        return f"No steam loss was found; {needing} done." if total.to_do else (
            f"No steam loss was found, and none of the {judged} devices needs anything."
        )
    if show_money:
        low, high = words.ends(
            total.annual_cost, total.annual_cost_low, total.annual_cost_high, words.coins
        )
        return f"of steam is being lost each year, most likely between {low} and {high}. {needing}."
    loss = (
        total.steam_loss_lb_per_h, total.steam_loss_low_lb_per_h, total.steam_loss_high_lb_per_h
    )
    value, low, high = (measures.value(measures.FLOW, figure) for figure in loss)
    low, high = words.ends(value, low, high)
    unit = measures.unit(measures.FLOW)
    return f"of steam is being lost, most likely between {low} and {high} {unit}. {needing}."


def headline_figure(total: Totals, *, show_money: bool) -> str:
    """Return the one figure to set large: money a year, or pounds of steam an hour."""
    if total.steam_loss_lb_per_h <= 0:
        return ""
    if show_money:
        return words.money(total.annual_cost, total.currency)
    return measures.flow((total.steam_loss_lb_per_h,))


def when_read(findings: Findings) -> str:
    """Return the day or days of the readings, '' where no row says."""
    times = pd.to_datetime(
        texts(findings.table, "read_at"), errors="coerce", format="ISO8601", utc=True
    ).dropna()
    times = times[times.dt.year.between(1, 9999)]  # a calendar has no others
    if times.empty:
        return ""
    first, last = times.min(), times.max()
    days = [numerals.day(when.date()) for when in (first, last)]
    return days[0] if days[0] == days[1] else f"{days[0]} to {days[1]}"


def when_made(findings: Findings) -> str:
    """Return the day the findings were made, '' where the summary does not say."""
    made = moment_made(findings)
    return "" if made is None else numerals.day(made.date())


def moment_made(findings: Findings) -> datetime | None:
    """Return when the findings were made, UTC; None where the summary names no such day."""
    made = pd.to_datetime(
        str(findings.summary.get("made_at", "")), errors="coerce", format="ISO8601", utc=True
    )
    if pd.isna(made) or not 1 <= made.year <= 9999:
        return None
    moment: datetime = made.to_pydatetime()
    return moment


def states_sentence(total: Totals) -> str:
    """Return how many devices stand in each group, largest first."""
    named = sorted(total.groups.items(), key=lambda item: -item[1])
    return words.capital(
        words.listed([
            f"{numerals.grouped(count)} {words.GROUPS[g].lower()}" for g, count in named if count
        ])
    ) + "."


def split_sentence(rows: pd.DataFrame, by: str, what: str) -> str:
    """Return which part of a split carries most of the loss, with its share."""
    total = float(rows[by].sum())
    if not len(rows) or total <= 0:
        return ""
    first = rows.iloc[0]
    share = words.percent(float(first[by]) / total)
    name = words.capital(first["said"])
    return f"{name} carries {share} of the loss, the most of any {what}."


def curve_sentence(curve: pd.DataFrame, mark: int) -> str:
    """Return how far the dearest few devices go, in words that say when to stop."""
    count, reached = len(curve), float(curve["share"].iloc[mark - 1])
    devices = words.counted(mark, "device")
    if mark == count:
        return f"Seeing to {devices} takes away {words.percent(reached)} of the loss."
    rest = float(curve["share"].iloc[-1]) - reached
    return (
        f"Seeing to the first {devices} takes away {words.percent(reached)} of the loss, the next "
        f"{numerals.grouped(count - mark)} another {words.percent(rest)}. What comes after adds "
        "next to nothing."
    )


def causes_sentence(rows: pd.DataFrame) -> str:
    """Return how many faults are the device's own and how many come from something else."""
    count = int(rows["to_do"].sum())
    own = int(rows.loc[rows["name"] == "trap", "to_do"].sum())
    unknown = int(rows.loc[rows["name"].isin(["unknown", "none", ""]), "to_do"].sum())
    elsewhere = count - own - unknown
    said = [
        f"{numerals.grouped(own)} down to the trap itself",
        f"{numerals.grouped(elsewhere)} to something else",
    ]
    if unknown:
        said.append(f"{numerals.grouped(unknown)} not known yet")
    return f"Of {words.counted(count, 'device')} to see to: {words.listed(said)}."


def set_aside_sentence(total: Totals) -> str:
    """Return the count that closes the books: rows read are rows judged and rows set aside."""
    return (
        f"{words.counted(total.read, 'row')} read, {numerals.grouped(total.judged)} judged "
        f"and {numerals.grouped(total.set_aside)} set aside."
    )
