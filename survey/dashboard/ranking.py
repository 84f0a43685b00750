"""The ranked list: filter it, tick a work list, see what each costs and what mending buys."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import numpy as np
import streamlit as st

from survey.dashboard import cards, downloads, drawing, frames, look, my_list, ranked_table, state
from survey.findings import Findings
from survey.reports import tables, words
from survey.reports.shares import cost_pareto

_VIEWS = ("The list", "Cost of each", "Cost added up")


def show() -> None:
    """Draw the page."""
    st.title("What to mend first")
    findings, listed = state.judged(), state.listed()
    places = _filtered(listed)
    view = st.segmented_control(
        "Show", _VIEWS, default=_VIEWS[0], key="kept_view", label_visibility="collapsed"
    )
    currency = str(findings.summary.get("currency", ""))
    if not len(places):
        st.info("No device passes these filters. Take one away to see more.")
    elif view == _VIEWS[1]:
        _cost_of_each(replace(findings, table=listed.rows(places)))
    elif view == _VIEWS[2]:
        _added_up(replace(findings, table=listed.rows(places)))
    else:
        with st.container(key="wide"):
            ranked_table.show(listed, places, currency)
            _large(listed, places, currency)
        with st.container(key="narrow"):
            cards.show(listed, places, currency)
    my_list.show()
    st.subheader("Take the findings away", anchor=False)
    downloads.report_buttons(findings)
    with st.expander("As a table for other programs: every column, nothing left out"):
        downloads.findings_buttons(findings)
        downloads.rejects_button(findings)
    look.onward("Make the owner's link", "owner_link.py")


def _large(listed: frames.Listed, places: np.ndarray, currency: str) -> None:
    """Offer the cards of a phone beside the table: its boxes to tick cannot be made larger."""
    folded = look.folded("The first of them with large buttons", "large")
    if folded.open:
        with folded:
            cards.show(listed, places, currency, key="large_")


def _filtered(listed: frames.Listed) -> np.ndarray:
    """Draw the filters; return the places of the rows that pass them."""
    only_to_do = st.toggle("Only what needs something done", value=True, key="kept_only_to_do")
    with st.expander("Filter by place, device, state, cause or type"):
        part = st.text_input("Tag has in it", key="kept_tag_part", max_chars=80)
        columns = st.columns(2)
        picks = {
            name: columns[position % 2].multiselect(
                label,
                listed.choices(name),
                key=f"kept_filter_{name}",
                format_func=partial(frames.in_words, name),
                placeholder="all",
            )
            for position, (name, label) in enumerate(frames.FILTERS.items())
        }
    places = listed.places(picks, tag_part=part, only_to_do=only_to_do)
    st.markdown(f"{words.whole(len(places))} of {words.whole(len(listed.order))} devices shown.")
    return places


def _cost_of_each(shown: Findings) -> None:
    picture = cost_pareto(shown)
    if picture is None:
        st.info("Fewer than three of the devices shown lose steam, so there is nothing to draw.")
    else:
        drawing.picture(picture)


def _added_up(chosen: Findings) -> None:
    curve = tables.cumulative(chosen)
    if curve.empty:
        st.info("None of the devices shown loses steam, so there is no cost to add up.")
        return
    flattens_at = tables.flattens_at(curve)
    said = (
        f"Mend the dearest first: the first {words.counted(flattens_at, 'unit')} of "
        f"{words.whole(len(curve))} carry 80 % of the cost of those shown; after that the curve "
        "flattens."
    )
    drawing.added_up(curve, flattens_at, said)
    with st.expander("The same as a table"):
        money = partial(st.column_config.NumberColumn, format=look.number_format())
        shown = curve.round({"annual_cost": 0, "running": 0, "share": 3})
        st.dataframe(
            shown,
            hide_index=True,
            width="stretch",
            column_config={
                "tag": "Tag",
                "annual_cost": money("Cost a year"),
                "running": money("Added up"),
                "share": st.column_config.NumberColumn("Share of all", format="percent"),
            },
        )


if __name__ == "__main__":
    show()
