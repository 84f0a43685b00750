"""The steps from a file to findings that more than one page can start."""

from __future__ import annotations

import logging

import streamlit as st

from survey.dashboard import state
from survey.dashboard.headers import headers_of, plain_to_see
from survey.dashboard.judging import Upload, judge, site_of
from survey.errors import SurveyError

_LOG = logging.getLogger(__name__)


def open_round(upload: Upload) -> None:
    """Read the headers; judge at once where they are the columns' own names, else ask first."""
    state.start_over()
    work = state.work()
    try:
        with st.spinner("Reading the headers …"):
            work.understood = headers_of(upload)
        work.upload = upload
    except Exception as error:  # whatever a file can do, the person gets words
        _fail(error)
    if not plain_to_see(work.understood):
        st.switch_page("understood.py")
    judge_now()


def judge_now() -> None:
    """Judge the open round and go to the overview, or say on the first page why it cannot be."""
    work = state.work()
    assert work.upload is not None
    work.problem = None
    try:
        with st.spinner("Judging the round …"):
            site = site_of(work.site_file, work.site_given)
            work.findings = judge(work.upload, site=site, header_map=work.header_map)
    except Exception as error:  # whatever a file can do, the person gets words
        _fail(error)
    st.switch_page("overview.py")


def _fail(error: Exception) -> None:
    if not isinstance(error, SurveyError):
        _LOG.exception("not foreseen")
    work = state.work()
    work.problem, work.findings = error, None
    st.switch_page("start.py")
