"""One unit: the verdict, why, how sure, what it was held to, and what to do."""

from __future__ import annotations

from typing import Any

import pandas as pd
import streamlit as st

from survey.columns import UNDECIDED
from survey.dashboard import drawing, frames, say, state, unit_history, unit_readings
from survey.dashboard.wording import findings_words, screen_words
from survey.findings import Findings
from survey.reports import words

MOST_CHOICES = 1000
_ABOUT = ("device", "trap_type", "equipment", "area", "station", "service")


def show() -> None:
    """Draw the page."""
    st.title(findings_words.UNIT_TITLE)
    findings = state.judged()
    tag = _picked(state.listed().tags)
    row = frames.unit(findings.table, tag)
    _verdict(row, findings)
    _on_the_list(tag)
    unit_readings.readings(row)
    unit_readings.probabilities(row)
    unit_readings.other_readings(findings, row)
    unit_history.show(row, str(findings.summary.get("currency", "")))
    _others(findings, row)


def _picked(tags: list[str]) -> str:
    """Draw the choice of unit; a list too long for a choice is searched by a part of the tag."""
    if st.session_state.get("kept_unit") not in tags:
        st.session_state["kept_unit"] = tags[0]
    if len(tags) > MOST_CHOICES:
        part = st.text_input(screen_words.TAG_PART, key="kept_unit_part", max_chars=80).casefold()
        now = st.session_state["kept_unit"]
        found = [tag for tag in tags if part in tag.casefold() and tag != now]
        tags = [now, *found[: MOST_CHOICES - 1]]
    tag: str = st.selectbox(findings_words.PICK_UNIT, tags, key="kept_unit")
    return tag


def _on_the_list(tag: str) -> None:
    on_it = tag in state.work().picked
    said = findings_words.TAKE_OFF_LIST if on_it else findings_words.PUT_ON_LIST
    if st.button(said, width="stretch", key="pick_this"):
        state.pick(tag, on=not on_it)
        st.rerun()


def _verdict(row: pd.Series[Any], findings: Findings) -> None:
    about = [
        words.tidy(frames.in_words(name, str(row[name])))
        for name in _ABOUT
        if name in row.index and words.tidy(row[name])
    ]
    say.text(" · ".join(about))
    with st.container(border=True):
        said = words.capital(words.state_words(row["state"], row.get("device")))
        st.subheader(say.escaped(said), anchor=False)
        meaning = words.STATE_MEANINGS.get(str(row["state"]), "")
        if row["state"] != UNDECIDED:
            sure = words.capital(words.sureness(float(row["confidence"])))
            meaning = findings_words.SURE_AND_MEANING.format(sure=sure, meaning=meaning)
        say.text(meaning)
        if float(row["annual_cost"]) > 0:
            cost = words.money(
                float(row["annual_cost"]),
                str(findings.summary.get("currency", "")),
                float(row["annual_cost_low"]),
                float(row["annual_cost_high"]),
            )
            say.text(findings_words.UNIT_COSTS.format(cost=cost))
    settle = row["state"] == UNDECIDED
    names = [row.get(name) for name in ("tag", "equipment", "area", "station")]
    action, evidence = (drawing.told(row.get(name), names) for name in ("action", "evidence"))
    _told(findings_words.WOULD_SETTLE if settle else findings_words.TO_DO, action)
    if pd.notna(row["rank"]):
        say.cautions()
    _told(findings_words.WHY, evidence)
    _told(findings_words.DOUBTS, frames.flags_in_words(row.get("flags")))
    _told(findings_words.NOTE, row.get("note"))


def _told(heading: str, what: object) -> None:
    line = words.tidy(what, say.LONGEST)
    if line:
        st.subheader(heading, anchor=False)
        say.text(line)


def _others(findings: Findings, row: pd.Series[Any]) -> None:
    others = frames.same_equipment(findings.table, row)
    if len(others):
        st.subheader(findings_words.SAME_EQUIPMENT, anchor=False)
        shown = frames.listing(others)
        shown["confidence"] = shown["confidence"].map(words.percent)
        say.table(shown[["tag", "device", "state", "confidence", "action"]], screen_words.HEADS)


if __name__ == "__main__":
    show()
