"""The ranked list: filter it, see what each costs, and where mending more stops paying."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import pandas as pd
import streamlit as st

from survey.dashboard import downloads, frames, look, state
from survey.findings import Findings
from survey.reports import words

_VIEWS = ("The list", "Cost of each", "Cost added up")


def show() -> None:
    """Draw the page."""
    st.title("What to mend first")
    findings = state.judged()
    rows = _filtered(findings)
    view = st.segmented_control(
        "Show", _VIEWS, default=_VIEWS[0], key="kept_view", label_visibility="collapsed"
    )
    if rows.empty:
        st.info("No device passes these filters. Take one away to see more.")
    elif view == _VIEWS[1]:
        _cost_of_each(findings, rows)
    elif view == _VIEWS[2]:
        _added_up(findings, rows)
    else:
        _list(findings, rows)
    st.subheader("Take the findings away")
    downloads.findings_buttons(findings)
    downloads.rejects_button(findings)
    look.onward("Make the owner's link", "owner_link.py")


def _filtered(findings: Findings) -> pd.DataFrame:
    table = findings.table
    only_to_do = st.toggle("Only what needs something done", value=True, key="kept_only_to_do")
    with st.expander("Filter by place, device, state, cause or type"):
        part = st.text_input("Tag has in it", key="kept_tag_part", max_chars=80)
        columns = st.columns(2)
        picks = {
            name: columns[position % 2].multiselect(
                label,
                frames.choices(table, name),
                key=f"kept_filter_{name}",
                format_func=partial(frames.in_words, name),
                placeholder="all",
            )
            for position, (name, label) in enumerate(frames.FILTERS.items())
        }
    rows = frames.chosen(table, picks, tag_part=part, only_to_do=only_to_do)
    st.markdown(f"{len(rows):,} of {len(table):,} devices shown.")
    return rows


def _list(findings: Findings, rows: pd.DataFrame) -> None:
    shown = frames.listing(rows)
    event = st.dataframe(
        shown,
        hide_index=True,
        width="stretch",
        height=520,
        row_height=44,
        column_config=look.ranked_columns(str(findings.summary.get("currency", ""))),
        on_select="rerun",
        selection_mode="single-row",
        key="ranked_list",
    )
    picked = event["selection"]["rows"]
    if picked and picked[0] < len(shown):
        st.session_state["kept_unit"] = str(shown["tag"].iloc[picked[0]])
        look.onward("Open the picked unit", "unit.py")
    else:
        st.markdown(
            "Tick a row, and a button under the list opens that unit. Tap a heading to sort by it."
        )


def _cost_of_each(findings: Findings, rows: pd.DataFrame) -> None:
    from survey.dashboard import figures

    st.markdown(
        f"The dearest units shown (at most {figures.MOST_BARS}), each with its cost a year; the "
        "thin line spans the 10–90 % range."
    )
    currency = str(findings.summary.get("currency", ""))
    look.chart(figures.cost_bars(rows, currency, look.theme()))
    with st.expander("The same as a table"):
        st.dataframe(
            frames.listing(rows)[["tag", "annual_cost", "annual_cost_low", "annual_cost_high"]],
            hide_index=True,
            width="stretch",
            column_config=look.ranked_columns(str(findings.summary.get("currency", ""))),
        )


def _added_up(findings: Findings, rows: pd.DataFrame) -> None:
    from survey.dashboard import figures
    from survey.reports import tables

    curve = tables.cumulative(replace(findings, table=rows))
    if curve.empty:
        st.info("None of the devices shown loses steam, so there is no cost to add up.")
        return
    flattens_at = tables.flattens_at(curve)
    currency = str(findings.summary.get("currency", ""))
    st.markdown(
        f"Mend the dearest first: the first {words.counted(flattens_at, 'unit')} of "
        f"{len(curve):,} carry 80 % of the cost of those shown; after that the curve flattens."
    )
    look.chart(figures.cost_curve(curve, flattens_at, currency, look.theme()))
    with st.expander("The same as a table"):
        shown = curve.round({"annual_cost": 0, "running": 0, "share": 3})
        st.dataframe(
            shown,
            hide_index=True,
            width="stretch",
            column_config={
                "tag": "Tag",
                "annual_cost": st.column_config.NumberColumn("Cost a year", format="localized"),
                "running": st.column_config.NumberColumn("Added up", format="localized"),
                "share": st.column_config.NumberColumn("Share of all", format="percent"),
            },
        )


if __name__ == "__main__":
    show()
