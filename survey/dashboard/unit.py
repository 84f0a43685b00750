"""One unit: the verdict, why, how sure, what it was held to, and what to do."""

from __future__ import annotations

from typing import Any

import pandas as pd
import streamlit as st

from survey.columns import TRAP_STATES, UNDECIDED
from survey.dashboard import frames, look, say, state
from survey.findings import Findings
from survey.reports import tables, words

_READ = {
    "supply_psig": "Supply pressure, psig",
    "return_psig": "Return pressure, psig",
    "inlet_temp_f": "Inlet temperature, °F",
    "outlet_temp_f": "Outlet temperature, °F",
    "sound_db": "Sound on the device, dB",
    "background_db": "Background sound, dB",
    "sound_over_background_db": "Sound over its background, dB",
    "subcooling_f": "Inlet below saturation, °F",
    "sound_pattern": "What was heard",
    "valve_position": "Isolating valve",
    "observed": "What came out",
    "present": "Fitted",
    "lift_ft": "Lift to the return, ft",
    "read_at": "Read at",
}
_HELD_TO = {"inlet_temp_f": "saturation_f", "outlet_temp_f": "return_saturation_f",
            "sound_db": "background_db"}
_ABOUT = ("device", "trap_type", "equipment", "area", "station", "service")


def show() -> None:
    """Draw the page."""
    st.title("One unit")
    findings = state.judged()
    tags = tables.worst_first(findings.table)["tag"].astype("str").tolist()
    if st.session_state.get("kept_unit") not in tags:
        st.session_state["kept_unit"] = tags[0]
    tag = st.selectbox("Tag (type to search; the list starts with the dearest)", tags,
                       key="kept_unit")
    row = frames.unit(findings.table, tag)
    _verdict(row, findings)
    _readings(row)
    _probabilities(row)
    _others(findings, row)


def _verdict(row: pd.Series[Any], findings: Findings) -> None:
    about = [words.tidy(frames.in_words(name, str(row[name]))) for name in _ABOUT
             if name in row.index and words.tidy(row[name])]
    say.text(" · ".join(about))
    with st.container(border=True):
        said = words.capital(words.state_words(row["state"], row.get("device")))
        sure = words.sureness(float(row["confidence"]))
        st.subheader(say.escaped(said), anchor=False)
        say.text(f"{words.capital(sure)}. {words.STATE_MEANINGS.get(str(row['state']), '')}")
        if float(row["annual_cost"]) > 0:
            say.text("Costs about " + words.money(
                float(row["annual_cost"]), str(findings.summary.get("currency", "")),
                float(row["annual_cost_low"]), float(row["annual_cost_high"]),
            ) + " a year.")
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


def _readings(row: pd.Series[Any]) -> None:
    from survey.dashboard import figures

    st.subheader("Readings against what they are held to", anchor=False)
    marks = {
        "inlet": row.get("inlet_temp_f"), "outlet": row.get("outlet_temp_f"),
        "steam at supply": row.get("saturation_f"),
        "steam at return": row.get("return_saturation_f"),
        "air round it": row.get("ambient_f"),
    }
    if pd.notna(marks["inlet"]) or pd.notna(marks["outlet"]):
        st.markdown("Dots are read; strokes are what they are held to.")
        look.chart(figures.temperature_line(
            {k: float("nan") if v is None else float(v) for k, v in marks.items()}, look.theme()))
    read = [
        {"reading": label, "value": _cell(row.get(name)),
         "held to": _cell(row.get(_HELD_TO.get(name, "")))}
        for name, label in _READ.items() if _cell(row.get(name))
    ]
    st.dataframe(pd.DataFrame(read, columns=["reading", "value", "held to"]), hide_index=True,
                 width="stretch", height="content")


def _cell(value: object) -> str:
    if isinstance(value, float):
        return f"{round(value, 1):g}" if pd.notna(value) else ""
    return words.tidy(words.word(value))


def _probabilities(row: pd.Series[Any]) -> None:
    shares = {s: float(row.get(f"p_{s}", float("nan"))) for s in TRAP_STATES}
    if any(pd.isna(share) for share in shares.values()):
        return
    st.subheader("How probable each state is", anchor=False)
    table = pd.DataFrame({"state": [words.STATES[s] for s in shares],
                          "probability": [round(share, 3) for share in shares.values()]})
    st.dataframe(
        table.sort_values("probability", ascending=False), hide_index=True, width="stretch",
        column_config={"state": "State", "probability": st.column_config.ProgressColumn(
            "Probability", format="percent", min_value=0.0, max_value=1.0)},
    )


def _others(findings: Findings, row: pd.Series[Any]) -> None:
    others = frames.same_equipment(findings.table, row)
    if len(others):
        st.subheader("Other devices of the same equipment", anchor=False)
        st.dataframe(
            frames.listing(others)[["tag", "device", "state", "confidence", "action"]],
            hide_index=True, width="stretch", column_config={
                "tag": "Tag", "device": "Device", "state": "State", "action": "What to do",
                "confidence": st.column_config.NumberColumn("How sure", format="percent"),
            },
        )


if __name__ == "__main__":
    show()
