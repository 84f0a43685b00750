"""Correcting what a header was taken for: one choice for each, used as soon as it is made."""

from __future__ import annotations

import streamlit as st

from survey.dashboard import headers, say, state
from survey.dashboard.wording import opening_words
from survey.errors import SurveyError
from survey.readings import HeaderMatch


def correct(match: HeaderMatch) -> None:
    """Draw a header that needs a decision, and the choice of what it holds."""
    with st.container(border=True):
        said, value = say.shown(match.header, 120), say.shown(match.sample, 60)
        say.text(opening_words.HEADER_AND_VALUE.format(header=said, value=value))
        if match.column is not None:
            unit = headers.unit_in_words(match.unit)
            say.text(opening_words.UNIT_ASSUMED.format(unit=unit))
        _choose(match, confirm=match.how != "set by map")


def any_other(matches: list[HeaderMatch]) -> None:
    """Draw the choice of any other header, to be corrected too."""
    with st.expander(opening_words.CORRECT_ANOTHER):
        names = [match.header for match in matches]
        name = st.selectbox(
            opening_words.HEADER,
            names,
            key="kept_header_to_correct",
            format_func=lambda header: say.shown(header, 120),
        )
        for match in matches:
            if match.header == name:
                _choose(match, confirm=False)


def _choose(match: HeaderMatch, *, confirm: bool) -> None:
    targets = headers.targets_for(match)
    now = headers.target_of(match)
    picked = st.selectbox(
        opening_words.COLUMN_HOLDS,
        targets,
        index=targets.index(now),
        format_func=headers.target_in_words,
        key=f"target_{now}_{match.header}",
    )
    confirmed = confirm and st.button(
        opening_words.LEAVE_IT if match.column is None else opening_words.RIGHT,
        key=f"right_{match.header}",
        width="stretch",
    )
    if picked != now or confirmed:
        use_map({**state.work().header_map, match.header: picked})


def use_map(header_map: dict[str, str]) -> None:
    """Read the headers again with these corrections; the old ones stay where they do not fit."""
    work = state.work()
    assert work.upload is not None
    try:
        work.understood = headers.headers_of(work.upload, header_map)
    except SurveyError as error:
        say.problem(error)
        return
    work.header_map, work.findings = header_map, None
    st.rerun()
