"""The lines that `survey rounds list` and `survey rounds unit` print, in the manner of now."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING

from survey.reports import measures, numerals
from survey.reports.words import figure, money, percent, state_words, tidy

if TYPE_CHECKING:
    from survey.rounds.store import KeptRound
    from survey.rounds.units import UnitHistory


def round_lines(kept: Sequence[KeptRound]) -> list[str]:
    """Return a head and one line for each round; at least one is given."""
    days = _days([one.read_on for one in kept])
    lines = [f"{'round':>5}  {'read on':<{len(days[0])}}  {'devices':>7}  {_lost():>9}  "
             f"{'cost a year':>14}  name"]  # fmt: skip
    for one, day in zip(kept, days, strict=True):
        totals, loss, cost = one.summary, "-", "-"
        if measures.FLOW in totals:
            loss = _loss(totals[measures.FLOW])
        if "annual_cost" in totals:
            cost = money(totals["annual_cost"], str(totals.get("currency") or ""))
        lines.append(f"{one.number:>5}  {day}  {numerals.grouped(one.devices):>7}  {loss:>9}  "
                     f"{cost:>14}  {tidy(one.name)}".rstrip())  # fmt: skip
    return lines


def history_lines(history: UnitHistory) -> list[str]:
    """Return a head and a line for each round that a unit was read in, then repairs and notes."""
    rows = history.rows
    days = _days(rows["read_on"].tolist())
    width = max([len(day) for day in days], default=10)
    lines = [f"{'read on':<{width}}  {'tag':<12}  {'state':<26}  {'sure':>9}  {_lost():>9}"]
    lines += [
        f"{day}  {tidy(row['tag'], 12):<12}  "
        f"{state_words(row['state'], row['device']):<26}  {percent(row['confidence']):>9}  "
        f"{_loss(row['steam_loss_lb_per_h']):>9}"
        for day, row in zip(days, rows.to_dict("records"), strict=True)
    ]
    for repair in history.repairs:
        cost = "" if repair.cost is None else f", cost {numerals.grouped(repair.cost)}"
        lines.append(f"Repair {repair.number}, {numerals.short_day(repair.done_on)}: "
                     f"{tidy(repair.what, 2000) or 'repaired'}{cost}")  # fmt: skip
    return lines + [
        f"Note {note.number}, {numerals.short_day(note.made_at.date())}: {tidy(note.words, 2000)}"
        for note in history.notes
    ]


def _lost() -> str:
    return f"{measures.unit(measures.FLOW)} lost"


def _loss(lb_per_h: float) -> str:
    return figure(measures.value(measures.FLOW, lb_per_h))


def _days(days: Sequence[date]) -> list[str]:
    """Return days as they are written, all of one width."""
    said = [numerals.short_day(day) for day in days]
    return [day.ljust(max(map(len, said))) for day in said]
