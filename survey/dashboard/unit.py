"""One unit: the verdict, why, how sure, what it was held to, and what to do."""

from __future__ import annotations

from typing import Any

import pandas as pd
import streamlit as st

from survey.columns import UNDECIDED
from survey.dashboard import frames, say, state, unit_readings
from survey.findings import Findings
from survey.reports import tables, words

_ABOUT = ("device", "trap_type", "equipment", "area", "station", "service")


def show() -> None:
    """Draw the page."""
    st.title("One unit")
    findings = state.judged()
    tags = tables.worst_first(findings.table)["tag"].astype("str").tolist()
    if st.session_state.get("kept_unit") not in tags:
        st.session_state["kept_unit"] = tags[0]
    tag = st.selectbox(
        "Tag (type to search; the list starts with the dearest)", tags, key="kept_unit"
    )
    row = frames.unit(findings.table, tag)
    _verdict(row, findings)
    unit_readings.readings(row)
    unit_readings.probabilities(row)
    _others(findings, row)


def _verdict(row: pd.Series[Any], findings: Findings) -> None:
    about = [
        words.tidy(frames.in_words(name, str(row[name])))
        for name in _ABOUT
        if name in row.index and words.tidy(row[name])
    ]
    say.text(" · ".join(about))
    with st.container(border=True):
        said = words.capital(words.state_words(row["state"], row.get("device")))
        undecided = row["state"] == UNDECIDED
        sure = "" if undecided else words.sureness(float(row["confidence"])) + ". "
        st.subheader(say.escaped(said), anchor=False)
        say.text(f"{words.capital(sure)}{words.STATE_MEANINGS.get(str(row['state']), '')}")
        if float(row["annual_cost"]) > 0:
            say.text(
                "Costs about "
                + words.money(
                    float(row["annual_cost"]),
                    str(findings.summary.get("currency", "")),
                    float(row["annual_cost_low"]),
                    float(row["annual_cost_high"]),
                )
                + " a year."
            )
    settle = row["state"] == UNDECIDED
    _told("What would settle it" if settle else "What to do", row.get("action"))
    if pd.notna(row["rank"]):
        with st.expander("Before anything is opened or adjusted"):
            say.items(list(words.CAUTION_POINTS))
    _told("Why", row.get("evidence"))
    _told("Doubts about the readings", frames.flags_in_words(row.get("flags")))
    _told("Note", row.get("note"))


def _told(heading: str, what: object) -> None:
    line = words.tidy(what, say.LONGEST)
    if line:
        st.subheader(heading, anchor=False)
        say.text(line)


def _others(findings: Findings, row: pd.Series[Any]) -> None:
    others = frames.same_equipment(findings.table, row)
    if len(others):
        st.subheader("Other devices of the same equipment", anchor=False)
        st.dataframe(
            frames.listing(others)[["tag", "device", "state", "confidence", "action"]],
            hide_index=True,
            width="stretch",
            column_config={
                "tag": "Tag",
                "device": "Device",
                "state": "State",
                "action": "What to do",
                "confidence": st.column_config.NumberColumn("How sure", format="percent"),
            },
        )


if __name__ == "__main__":
    show()
