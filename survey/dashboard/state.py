"""What one technician's session remembers while pages come and go."""

from __future__ import annotations

import logging
from dataclasses import dataclass, field
from typing import Any, cast

import pandas as pd
import streamlit as st

from survey.dashboard import frames, kept, what_if
from survey.dashboard.headers import NOTHING_READ
from survey.dashboard.judging import Upload, site_of
from survey.dashboard.say import shown
from survey.dashboard.wording import screen_words
from survey.errors import SurveyError
from survey.findings import Findings
from survey.readings import Understanding
from survey.reports import manner, numerals
from survey.rounds.reliability import Reliability
from survey.sharing import SharedLink

_LOG = logging.getLogger(__name__)
_WORK = "work"
_KEPT = "kept_"
_KEPT_SITE = "kept_site_"
SITE_IN_SI = "site_in_si_"
FILTERS_UNFOLDED = "filters_unfolded"


@dataclass
class Work:
    """One round on its way from upload to findings."""

    upload: Upload | None = None
    site_file: Upload | None = None
    site_given: dict[str, Any] = field(default_factory=dict)
    plain: Understanding = NOTHING_READ
    understood: Understanding = NOTHING_READ
    header_map: dict[str, str] = field(default_factory=dict)
    recalled: bool = False
    findings: Findings | None = None
    problem: Exception | None = None
    new_link: SharedLink | None = None
    picked: list[str] = field(default_factory=list)
    filters: dict[str, Any] = field(default_factory=dict)
    mark: str = ""
    touched: str = ""
    listed: frames.Listed | None = None
    others: tuple[str, pd.DataFrame] | None = None
    calibrated: what_if.Calibrated | None = None
    kept_as: int = 0
    fitted: tuple[tuple[object, ...], Reliability] | None = None


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
        st.info(screen_words.NO_ROUND)
        open_last()
        if st.button(screen_words.TO_THE_FIRST_PAGE, type="primary", width="stretch"):
            st.switch_page("start.py")
        st.stop()
    return findings


def open_last() -> None:
    """Draw the button that opens the round judged last, on whatever page one stands."""
    last = kept.about()
    if last is None:
        return
    when = numerals.short_moment(last.kept_at.astimezone())
    if st.button(screen_words.OPEN_LAST, width="stretch", key="open_last_round"):
        its = kept.opened()
        if its is None:
            kept.forget()
            st.error(screen_words.LAST_UNREADABLE)
            return
        _fill_site_form(its.site_given)
        _set_filters(its.filters)
        st.session_state[_WORK] = Work(
            upload=its.upload,
            site_file=its.site_file,
            site_given=its.site_given,
            header_map=its.header_map,
            findings=its.findings,
            picked=its.picked,
            filters=its.filters,
            mark=its.mark,
        )
        st.rerun()
    name = last.name or screen_words.UNNAMED_ROUND
    st.text(shown(screen_words.LAST_ROUND.format(name=name, when=when), 120))


def _fill_site_form(given: dict[str, Any]) -> None:
    fuel = dict(given.get("fuel") or {})
    flat = {**given, "fuel": fuel.get("kind"), "price_per_mmbtu": fuel.get("price_per_mmbtu")}
    for name, value in flat.items():
        if value is not None:
            st.session_state[f"{_KEPT_SITE}{name}"] = value
            st.session_state.pop(f"{SITE_IN_SI}{name}", None)


def _set_filters(kept_ones: dict[str, Any]) -> None:
    # Folded away, a filter that was kept would hide rows with nothing on the screen to say why.
    st.session_state[FILTERS_UNFOLDED] = bool(kept_ones.keys() - {"only_to_do"})
    for name, first in frames.AT_FIRST.items():
        value = kept_ones.get(name, first)
        st.session_state[f"{_KEPT}{name}"] = value if isinstance(value, type(first)) else first


def listed() -> frames.Listed:
    """Return the findings in the order of the list; put in order once for each round."""
    findings, its = judged(), work()
    now = manner.current()
    if its.listed is None or its.listed.of is not findings or its.listed.manner != now:
        its.listed = frames.listed(findings)
    return its.listed


def calibrated(findings: Findings) -> what_if.Calibrated:
    """Return what judging a unit again needs; made once a round and site; raises SurveyError."""
    its = work()
    site, before = site_of(its.site_file, its.site_given), its.calibrated
    if before is None or before.of is not findings or before.site != site:
        before = its.calibrated = what_if.calibrated(findings, site)
    return before


def pick(tag: str, *, on: bool) -> None:
    """Put a unit on the work list, at its end, or take it off."""
    set_list([each for each in work().picked if each != tag] + ([tag] if on else []))


def set_list(tags: list[str]) -> None:
    """Take these units for the work list, and keep it for a browser that is reloaded."""
    its = work()
    if its.picked == tags:
        return
    its.picked = tags
    _keep_list(its)


def keep_filters() -> None:
    """Keep what the list is filtered by now, for a browser that is reloaded."""
    its = work()
    now = {name: st.session_state.get(f"{_KEPT}{name}", first)
           for name, first in frames.AT_FIRST.items()}  # fmt: skip
    told = {name: value for name, value in now.items() if value != frames.AT_FIRST[name]}
    if its.filters != told:
        its.filters = told
        _keep_list(its)


def _keep_list(its: Work) -> None:
    if its.mark:
        try:
            kept.keep_list(its.mark, its.picked, its.filters)
        except (SurveyError, OSError):
            _LOG.warning("work list and filters could not be kept for next time")
