"""The ranked list: filter it, tick a work list, see what each costs and what mending buys."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import numpy as np
import streamlit as st

from survey.dashboard import cards, downloads, drawing, frames, look, my_list, ranked_table, state
from survey.dashboard.wording import findings_words, screen_words
from survey.findings import Findings
from survey.reports import tables, words
from survey.reports.shares import cost_pareto

_VIEWS = findings_words.RANKING_VIEWS


def show() -> None:
    """Draw the page."""
    st.title(findings_words.RANKING_TITLE)
    findings, listed = state.judged(), state.listed()
    places = _filtered(listed)
    view = st.segmented_control(
        screen_words.SHOW, _VIEWS, default=_VIEWS[0], key="kept_view", required=True,
        label_visibility="collapsed",
    )  # fmt: skip
    currency = str(findings.summary.get("currency", ""))
    if not len(places):
        st.info(findings_words.NONE_PASSES)
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
    st.subheader(findings_words.TAKE_AWAY, anchor=False)
    downloads.report_buttons(findings)
    with st.expander(findings_words.EVERY_COLUMN):
        downloads.findings_buttons(findings)
        downloads.rejects_button(findings)
    look.onward(findings_words.TO_THE_LINK, "owner_link.py")


def _large(listed: frames.Listed, places: np.ndarray, currency: str) -> None:
    """Offer the cards of a phone beside the table: its boxes to tick cannot be made larger."""
    folded = look.folded(findings_words.LARGE_BUTTONS, "large")
    if folded.open:
        with folded:
            cards.show(listed, places, currency, key="large_")


def _filtered(listed: frames.Listed) -> np.ndarray:
    """Draw the filters; return the places of the rows that pass them."""
    only_to_do = st.toggle(findings_words.ONLY_TO_DO, value=True, key="kept_only_to_do")
    unfolded = st.session_state.get(state.FILTERS_UNFOLDED, False)
    with st.expander(findings_words.FILTER, expanded=unfolded):
        part = st.text_input(screen_words.TAG_PART, key="kept_tag_part", max_chars=80)
        columns = st.columns(2)
        picks = {
            name: columns[position % 2].multiselect(
                label,
                listed.choices(name),
                key=f"kept_filter_{name}",
                format_func=partial(frames.in_words, name),
                placeholder=screen_words.ALL,
            )
            for position, (name, label) in enumerate(frames.FILTERS.items())
        }
    state.keep_filters()  # picks that this round does not have are dropped by Streamlit
    places = listed.places(picks, tag_part=part, only_to_do=only_to_do)
    count, every = words.whole(len(places)), words.whole(len(listed.order))
    st.markdown(findings_words.DEVICES_SHOWN.format(count=count, all=every))
    return places


def _cost_of_each(shown: Findings) -> None:
    picture = cost_pareto(shown)
    if picture is None:
        st.info(findings_words.FEW_LOSE)
    else:
        drawing.picture(picture)


def _added_up(chosen: Findings) -> None:
    curve = tables.cumulative(chosen)
    if curve.empty:
        st.info(findings_words.NONE_LOSES)
        return
    flattens_at = tables.flattens_at(curve)
    said = findings_words.ADDED_UP.format(
        units=words.counted(flattens_at, *screen_words.UNIT), all=words.whole(len(curve))
    )
    drawing.added_up(curve, flattens_at, said)
    with st.expander(screen_words.SAME_AS_TABLE):
        money = partial(st.column_config.NumberColumn, format=look.number_format())
        heads = findings_words.ADDED_UP_HEADS
        shown = curve.round({"annual_cost": 0, "running": 0, "share": 3})
        st.dataframe(
            shown,
            hide_index=True,
            width="stretch",
            column_config={
                "tag": heads["tag"],
                "annual_cost": money(heads["annual_cost"]),
                "running": money(heads["running"]),
                "share": st.column_config.NumberColumn(heads["share"], format="percent"),
            },
        )


if __name__ == "__main__":
    show()
