"""The units of two rounds as tables: one for each outcome."""

from __future__ import annotations

import math

import numpy as np

from survey.reports import before_after_words as say
from survey.reports import measures, numerals
from survey.reports.blocks import LONGEST_CELL, Block, Paragraph, Table
from survey.reports.spoken import spoken
from survey.reports.words import capital, figure, money, state_words, tidy, word
from survey.rounds.compare import Comparison, UnitCompared

SMALLEST_SHOWN_LB_PER_H = 0.05


def units_table(
    comparison: Comparison, outcome: str, show_money: bool, most: int
) -> list[Block]:
    """Return the units of an outcome as a table: those that save, or that cost, most come first."""
    every = comparison.of(outcome)
    if not every:
        return []
    failing = outcome == "still_failing"
    if failing:  # what it saves is next to nothing: what it costs is what counts
        every = tuple(sorted(every, key=lambda one: -np.nan_to_num(one.cost_after)))
    money_head = ["cost a year" if failing else "saved a year"] * show_money
    heads: tuple[str, ...]
    if failing:
        heads = ("unit", "where", "what", "steam lost", *money_head, "what to do", "remarks")
        rows = tuple(_failing(unit, comparison, show_money) for unit in every[:most])
    else:
        heads = ("unit", "where", "before", "after", "steam lost", *money_head, "remarks")
        rows = tuple(_row(unit, comparison, show_money) for unit in every[:most])
    count = numerals.grouped(len(every))
    blocks: list[Block] = [
        Table(capital(f"{say.OUTCOME_HEADS[outcome]} ({count})"), heads, rows)
    ]
    if len(every) > most:
        blocks.append(Paragraph(f"And {numerals.grouped(len(every) - most)} more."))
    return blocks


def _row(unit: UnitCompared, comparison: Comparison, show_money: bool) -> tuple[str, ...]:
    lost = [_lost(one.expected) for one in (unit.loss_before_lb_per_h, unit.loss_after_lb_per_h)]
    loses = set(lost) - {"0", "?"}
    steam = f"{lost[0]} to {lost[1]} {measures.unit(measures.FLOW)}" if loses else ""
    known = steam and math.isfinite(unit.saved_cost.expected)
    saved = say.ranged_coins(unit.saved_cost) if known else ""
    return (_name(unit), _where(unit), *_states(unit), steam, *([saved] * show_money),
            say.unit_words(unit, repairs_known=comparison.repairs_known))  # fmt: skip


def _failing(unit: UnitCompared, comparison: Comparison, show_money: bool) -> tuple[str, ...]:
    """Return what still fails as it is now: nothing was done, so what to do is what counts."""
    was, now = _states(unit)
    what = now if was == now else f"{was}, now {now}"
    lost = _lost(unit.loss_after_lb_per_h.expected)
    steam = "" if lost in ("0", "?") else f"{lost} {measures.unit(measures.FLOW)}"
    cost = money(unit.cost_after, comparison.currency) if steam else ""
    names = [unit.tag, unit.equipment, unit.area]
    return (_name(unit), _where(unit), what, steam, *([cost] * show_money),
            spoken(tidy(unit.action, LONGEST_CELL), [tidy(name, 200) for name in names]),
            say.unit_words(unit, repairs_known=comparison.repairs_known))  # fmt: skip


def _name(unit: UnitCompared) -> str:
    tag = tidy(unit.tag)
    return tag if unit.device == "trap" else f"{tag} ({word(unit.device)})"


def _where(unit: UnitCompared) -> str:
    return ", ".join(part for part in (tidy(unit.area, 40), tidy(unit.equipment, 40)) if part)


def _states(unit: UnitCompared) -> list[str]:
    return [
        state_words(state, unit.device) if state else ""
        for state in (unit.state_before, unit.state_after)
    ]


def _lost(lb_per_h: float) -> str:
    if not math.isfinite(lb_per_h):
        return "?"
    shown = measures.value(measures.FLOW, lb_per_h)
    return figure(shown, 2) if lb_per_h >= SMALLEST_SHOWN_LB_PER_H else "0"
