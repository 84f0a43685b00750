"""How the file was understood, header by header, with what needs a decision on top."""

from __future__ import annotations

import pandas as pd
import streamlit as st

from survey.dashboard import flow, headers, look, remembered, say, state
from survey.dashboard.corrections import any_other, correct, use_map
from survey.dashboard.judging import Upload
from survey.dashboard.wording import opening_words, screen_words
from survey.errors import SurveyError
from survey.readings import HeaderMatch, dump_header_map
from survey.reports import numerals


def show() -> None:
    """Draw the page."""
    st.title(opening_words.HEADERS_TITLE)
    work = state.work()
    if work.upload is None:
        st.info(opening_words.NO_FILE)
        look.onward(screen_words.TO_THE_FIRST_PAGE, "start.py")
        return
    if not work.understood.matches:
        _read_again(work)
    say.text(say.shown(work.upload.name, 80))
    _recalled(work)
    doubts = headers.to_decide(work.understood, work.header_map)
    if doubts:
        st.warning(opening_words.LOOK_AT_THIS)
        say.items(doubts)
    else:
        st.success(opening_words.NOTHING_TO_DECIDE)
    if st.button(opening_words.JUDGE, type="primary", width="stretch", key="judge"):
        flow.judge_now(confirmed=True)
    notes = work.understood.notes
    matches = tuple({match.header: match for match in work.understood.matches}.values())
    settled = [name for name, column in work.header_map.items() if column == headers.KEPT]
    asked = [m for m in matches if m.header not in settled and headers.doubtful(m, notes)]
    for match in asked:
        correct(match)
    _table(matches)
    any_other([match for match in matches if match not in asked])
    _take_away(work)
    if work.understood.notes:
        st.subheader(opening_words.NOTICED, anchor=False)
        say.items(work.understood.notes)


def _read_again(work: state.Work) -> None:
    """Read the headers of a round that was opened as it was judged before."""
    assert work.upload is not None
    try:
        work.plain = headers.headers_of(work.upload)
        work.understood = headers.headers_of(work.upload, work.header_map)
    except SurveyError as error:
        say.problem(error)
        st.stop()


def _recalled(work: state.Work) -> None:
    if not work.recalled:
        return
    st.info(opening_words.READ_AS_BEFORE)
    if st.button(opening_words.READ_AFRESH, width="stretch", key="forget_headers"):
        remembered.forget(work.plain)
        work.recalled, work.header_map = False, {}
        work.understood, work.findings = work.plain, None
        st.rerun()


def _table(matches: tuple[HeaderMatch, ...]) -> None:
    st.subheader(opening_words.EVERY_HEADER, anchor=False)
    rows = [
        (say.shown(match.header, 200), headers.taken_for(match), say.shown(_first(match), 200))
        for match in matches
    ]
    say.table(pd.DataFrame(rows, columns=list(opening_words.HEADER_HEADS)))


def _first(match: HeaderMatch) -> str:
    return numerals.read_at(match.sample) if match.column == "read_at" else match.sample


def _take_away(work: state.Work) -> None:
    if work.header_map:
        st.download_button(
            opening_words.KEEP_CORRECTIONS,
            data=dump_header_map(work.understood.matches),
            file_name="map.toml",
            mime="application/toml",
            on_click="ignore",
            width="stretch",
        )
    given = st.file_uploader(opening_words.GIVE_MAP, key="map_file")
    if given is not None and st.session_state.get("taken_map") != given.file_id:
        st.session_state["taken_map"] = given.file_id
        try:
            kept = headers.map_in(Upload(given.name, given.getvalue()))
        except SurveyError as error:
            say.problem(error)
        else:
            use_map(kept)


if __name__ == "__main__":
    show()
