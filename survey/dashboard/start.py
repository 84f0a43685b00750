"""First page: give a round, or try the sample."""

from __future__ import annotations

import streamlit as st

from survey.dashboard import downloads, flow, look, say, state
from survey.dashboard.figures_form import figures_form
from survey.dashboard.judging import Upload, sample
from survey.dashboard.settings import LARGEST_UPLOAD_MB
from survey.dashboard.site_form import site_form
from survey.dashboard.wording import opening_words, screen_words


def show() -> None:
    """Draw the page."""
    st.title(screen_words.NAME)
    st.markdown(opening_words.START_INTRO)
    work = state.work()
    if work.problem is not None:
        say.problem(work.problem)
        _all_set_aside(work.problem)
    if work.upload is not None or work.findings is not None:
        _open_round(work)
    else:
        state.open_last()
    _file_and_sample(work)
    site_form(work)
    figures_form()


def _all_set_aside(problem: Exception) -> None:
    findings = getattr(problem, "findings", None)
    if findings is not None:
        st.dataframe(findings.rejects, hide_index=True, width="stretch")
        downloads.rejects_button(findings)


def _open_round(work: state.Work) -> None:
    with st.container(border=True):
        name = work.upload.name if work.upload is not None else screen_words.UNNAMED_ROUND
        say.text(opening_words.OPEN_NOW.format(name=say.shown(name, 80)))
        if work.findings is not None:
            look.onward(opening_words.TO_THE_FINDINGS, "overview.py")
        if work.upload is not None:
            look.onward(opening_words.HOW_READ, "understood.py")
        if st.button(opening_words.CLOSE_ROUND, width="stretch"):
            state.start_over()
            st.rerun()


def _file_and_sample(work: state.Work) -> None:
    given = st.file_uploader(
        opening_words.GIVE_ROUND.format(megabytes=LARGEST_UPLOAD_MB), key="round_file"
    )
    if given is not None and st.session_state.get("taken_file") != given.file_id:
        st.session_state["taken_file"] = given.file_id
        flow.open_round(Upload(given.name, given.getvalue()))
    if st.button(opening_words.TRY_SAMPLE, width="stretch", key="sample"):
        its_round, work.site_file = sample()
        flow.open_round(its_round)


if __name__ == "__main__":
    show()
