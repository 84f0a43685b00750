"""The ranked list as a table, for a screen with the room: sort it, tick rows, open a unit.

A box to tick is 37 px wide, too narrow for a glove, and cannot be made wider: so a row can be
touched anywhere, and large buttons over the table then open that unit or put it on the list.
"""

from __future__ import annotations

import zlib
from functools import partial
from typing import Any

import numpy as np
import streamlit as st

from survey.dashboard import frames, look, say, state
from survey.dashboard.wording import findings_words, screen_words
from survey.reports import words

MOST_LISTED = 3000
_ROW_PX = 44
_ROWS_SEEN = 24
_PART = "kept_part"


def show(listed: frames.Listed, places: np.ndarray, currency: str) -> None:
    """Draw the rows at some places of the list; ticked ones are on the work list."""
    rows = listed.rows(_part(places))
    shown = frames.with_range(frames.listing(rows))
    tags = rows["tag"].astype("str").tolist()
    work = state.work()
    # Ticks are kept by position, so a list of other rows is another table.
    key = f"ranked_{zlib.crc32(chr(0).join(tags).encode()):08x}"
    _touched_row(work, tags)
    picked = set(work.picked)
    ticked = [place for place, tag in enumerate(tags) if tag in picked] if picked else []
    _tick(key, ticked)
    st.dataframe(
        shown,
        hide_index=True,
        width="stretch",
        height=(min(_ROWS_SEEN, len(shown)) + 1) * _ROW_PX + 4,
        row_height=_ROW_PX,
        column_config=look.ranked_columns(currency, dearest=float(shown["annual_cost"].max())),
        on_select=partial(_ticked, key, tags),
        selection_mode=["multi-row", "single-cell"],
        selection_default={"selection": {"rows": ticked}},
        key=key,
    )


def _tick(key: str, ticked: list[int]) -> None:
    """Tick what a button put on the list; a new table would forget how this one is sorted."""
    now = st.session_state.get(key)
    if now is not None and sorted(now["selection"]["rows"]) != ticked:
        st.session_state[key] = {"selection": {**now["selection"], "rows": ticked}}


def _touched_row(work: state.Work, tags: list[str]) -> None:
    """Draw the large buttons for the row that was touched last; what they are for, before."""
    tag = work.touched if work.touched in tags else ""
    with st.container(horizontal=True, key="touched"):
        if not tag:
            st.markdown(findings_words.TOUCH_A_ROW)
            return
        said = say.escaped(tag)
        open_it = screen_words.OPEN_UNIT.format(unit=said)
        if st.button(open_it, width="stretch", key="open_touched"):
            st.session_state["kept_unit"] = tag
            st.switch_page("unit.py")
        on_it = tag in work.picked
        pick = screen_words.OFF_MY_LIST if on_it else screen_words.TO_MY_LIST
        if st.button(pick.format(unit=said), width="stretch", key="pick_touched"):
            state.pick(tag, on=not on_it)
            st.rerun()


def _part(places: np.ndarray) -> np.ndarray:
    """Return the places listed at once; draw the choice of part where there are more."""
    if len(places) <= MOST_LISTED:
        return places
    starts = range(0, len(places), MOST_LISTED)
    ends = {start: min(start + MOST_LISTED, len(places)) for start in starts}
    if st.session_state.get(_PART) not in ends:
        st.session_state[_PART] = 0
    start = st.selectbox(
        findings_words.PARTS.format(count=words.whole(MOST_LISTED)),
        list(ends),
        format_func=lambda at: screen_words.RANGE.format(
            low=words.whole(at + 1), high=words.whole(ends[at])
        ),
        key=_PART,
    )
    return places[start : ends[start]]


def _ticked(key: str, tags: list[str]) -> None:
    """Take the ticks over: of the rows shown, those and no others are on the work list."""
    selection = st.session_state[key]["selection"]
    places: list[int] = selection["rows"]
    work: Any = state.work()
    cells: list[tuple[int, str]] = selection.get("cells", [])
    if cells and cells[0][0] < len(tags):
        work.touched = tags[cells[0][0]]
    now = [tags[place] for place in places if place < len(tags)]
    gone = set(tags) - set(now)
    kept = [tag for tag in work.picked if tag not in gone]
    state.set_list(kept + [tag for tag in now if tag not in set(kept)])
