"""The steps from a file to findings that more than one page can start."""

from __future__ import annotations

import logging

import streamlit as st

from survey.dashboard import kept, remembered, state
from survey.dashboard.headers import doubtful, headers_of, plain_to_see, to_decide
from survey.dashboard.judging import Upload, judge, site_of
from survey.dashboard.wording import screen_words
from survey.errors import SurveyError

_LOG = logging.getLogger(__name__)


def open_round(upload: Upload) -> None:
    """Read the headers; judge at once where they are clear or were confirmed before, else ask."""
    state.start_over()
    work = state.work()
    try:
        with st.spinner(screen_words.READING_HEADERS):
            work.plain = work.understood = headers_of(upload)
            _recall(work, upload)
        work.upload = upload
    except Exception as error:  # whatever a file can do, the person gets words
        _fail(error)
    if not (work.recalled or plain_to_see(work.understood)):
        st.switch_page("understood.py")
    judge_now()


def _recall(work: state.Work, upload: Upload) -> None:
    known = remembered.recalled(work.plain)
    if known is None:
        return
    try:
        work.understood = headers_of(upload, known)
    except SurveyError:
        return  # it fits no more: the person is asked again
    work.header_map = known
    work.recalled = not to_decide(work.understood, known)


def judge_now(*, confirmed: bool = False) -> None:
    """Judge the open round and go to the overview, or say on the first page why it cannot be.

    Parameters
    ----------
    confirmed
        A person has seen how the headers were read; that is remembered for the next file.
    """
    work = state.work()
    assert work.upload is not None
    work.problem = None
    try:
        with st.spinner(screen_words.JUDGING):
            site = site_of(work.site_file, work.site_given)
            work.findings = judge(work.upload, site=site, header_map=work.header_map)
    except Exception as error:  # whatever a file can do, the person gets words
        _fail(error)
    _keep(work, confirmed=confirmed)
    st.switch_page("overview.py")


def _keep(work: state.Work, *, confirmed: bool) -> None:
    """Keep the round and the corrections for next time; a full disk must not stop the work."""
    assert work.findings is not None
    try:
        work.mark = kept.keep(
            kept.KeptRound(
                work.findings, work.upload, work.site_file, work.site_given, work.header_map,
                work.picked, work.filters,
            )
        )  # fmt: skip
        if confirmed:
            # What was left unused although it looked like a reading is settled by judging, too.
            notes = work.understood.notes
            remembered.remember(work.plain, [
                m for m in work.understood.matches
                if m.header in work.header_map or (m.column is None and doubtful(m, notes))
            ])  # fmt: skip
    except (SurveyError, OSError):
        _LOG.warning("the round could not be kept for next time")


def _fail(error: Exception) -> None:
    if not isinstance(error, SurveyError):
        _LOG.exception("not foreseen")
    work = state.work()
    work.problem, work.findings = error, None
    st.switch_page("start.py")
