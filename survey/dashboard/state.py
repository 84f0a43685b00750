"""What one technician's session remembers while pages come and go."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, cast

import streamlit as st

from survey.dashboard.headers import NOTHING_READ
from survey.dashboard.judging import Upload
from survey.findings import Findings
from survey.readings import Understanding
from survey.sharing import SharedLink

_WORK = "work"
_KEPT = "kept_"
_KEPT_SITE = "kept_site_"


@dataclass
class Work:
    """One round on its way from upload to findings."""

    upload: Upload | None = None
    site_file: Upload | None = None
    site_given: dict[str, Any] = field(default_factory=dict)
    understood: Understanding = NOTHING_READ
    header_map: dict[str, str] = field(default_factory=dict)
    findings: Findings | None = None
    problem: Exception | None = None
    new_link: SharedLink | None = None


def work() -> Work:
    """Return this session's work, empty at first."""
    if _WORK not in st.session_state:
        st.session_state[_WORK] = Work()
    return cast(Work, st.session_state[_WORK])


def start_over() -> None:
    """Forget the round and its filters; the site settings stay, they belong to the place."""
    before = work()
    st.session_state[_WORK] = Work(site_file=before.site_file, site_given=before.site_given)
    for key in _kept():
        if not key.startswith(_KEPT_SITE):
            del st.session_state[key]


def keep_choices() -> None:
    """Hold on to filters and picks: Streamlit forgets a widget that a page does not draw."""
    for key in _kept():
        st.session_state[key] = st.session_state[key]


def _kept() -> list[str]:
    return [str(key) for key in st.session_state if str(key).startswith(_KEPT)]


def judged() -> Findings:
    """Return the findings, or say that there are none yet and end the page there."""
    findings = work().findings
    if findings is None:
        st.info("No round is open yet. Give a file, or try the sample round, on the first page.")
        if st.button("Go to the first page", type="primary", width="stretch"):
            st.switch_page("start.py")
        st.stop()
    return findings
