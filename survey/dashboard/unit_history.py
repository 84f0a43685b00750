"""One unit through the rounds that are kept, and the repairs noted on it."""

from __future__ import annotations

from datetime import date
from typing import Any

import pandas as pd
import streamlit as st

from survey.dashboard import look, say
from survey.dashboard.number_field import forget, number_field
from survey.dashboard.rounds_kept import any_kept, store
from survey.dashboard.wording import findings_words
from survey.errors import RoundsError, SurveyError
from survey.reports import measures, numerals, words
from survey.rounds.repairs import add_repair
from survey.rounds.units import UnitHistory, find_unit, unit_history

_SHOWN = ("inlet_temp_f", "outlet_temp_f", "sound_db", "steam_loss_lb_per_h")
_LONGEST_REPAIR = 300
_DEAREST_REPAIR = 1e9


def show(row: pd.Series[Any], currency: str) -> None:
    """Draw the history of the unit of this row; how to begin one where none is kept.

    ``currency`` is that of the findings, and so that of what a repair cost.
    """
    st.subheader(findings_words.HISTORY, anchor=False)
    try:
        history = _history(str(row["tag"])) if any_kept() else None
    except SurveyError as error:
        say.problem(error)
        return
    if history is None:
        st.markdown(findings_words.NO_HISTORY)
        return
    say.table(as_table(history))
    for done in history.repairs:
        day, what = numerals.short_day(done.done_on), done.what or findings_words.NOT_SAID_HOW
        what = say.shown(what, 300)
        if done.cost is None:
            say.text(findings_words.REPAIRED.format(day=day, what=what))
        else:
            cost = words.money(done.cost, currency)
            say.text(findings_words.REPAIRED_AT_COST.format(day=day, what=what, cost=cost))
    for note in history.notes:
        say.text(findings_words.HISTORY_NOTE.format(said=say.shown(note.words, 600)))
    _repair_form(history.unit.number, currency)


def _history(tag: str) -> UnitHistory | None:
    with store() as opened:
        try:
            return unit_history(opened, find_unit(opened, tag).number)
        except RoundsError:
            return None


def as_table(history: UnitHistory) -> pd.DataFrame:
    """Return the rows of a history in words, in the units shown, the latest first."""
    told = []
    for _, row in history.rows.iloc[::-1].iterrows():
        line = {
            findings_words.HISTORY_READ_ON: numerals.short_day(row["read_on"]),
            findings_words.HISTORY_STATE: words.state_words(row["state"], row.get("device")),
            findings_words.HISTORY_SURE: words.percent(float(str(row["confidence"]))),
        }
        for name in _SHOWN:
            line[measures.head(name)] = _reading(name, row.get(name))
        told.append({**line, findings_words.HISTORY_ROUND: say.shown(row["round_name"], 80)})
    return pd.DataFrame(told, dtype="str")


def _reading(name: str, value: Any) -> str:
    given = isinstance(value, int | float) and pd.notna(value)
    return measures.reading(name, round(float(value), 1)) if given else ""


def _repair_form(unit: int, currency: str) -> None:
    cost_key = f"repair_cost_{unit}"
    with st.expander(findings_words.NOTE_REPAIR), st.form("repair", clear_on_submit=True):
        today = date.today()
        done_on = look.day_input(findings_words.DONE_ON, today, key="repaired_on", last=today)
        what = st.text_input(findings_words.WHAT_WAS_DONE, max_chars=_LONGEST_REPAIR)
        cost = number_field(
            findings_words.REPAIR_COST.format(currency=say.escaped(currency)).rstrip(", "),
            key=cost_key, low=0.0, high=_DEAREST_REPAIR,
        )  # fmt: skip
        if not st.form_submit_button(findings_words.NOTE_IT, width="stretch"):
            return
        try:
            with store() as opened:
                add_repair(opened, unit, on=done_on, what=what, cost=cost)
        except SurveyError as error:
            say.problem(error)
            return
    forget(cost_key)
    st.rerun()
