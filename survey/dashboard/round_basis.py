"""What the next round is planned from: the rounds that are kept, else the one that is open."""

from __future__ import annotations

from dataclasses import dataclass

import streamlit as st

from survey.dashboard import state
from survey.dashboard.judging import site_of
from survey.dashboard.rounds_kept import any_kept, store
from survey.dashboard.wording import planning_words, screen_words
from survey.reports.words import counted
from survey.rounds.ahead import Ahead, how_traps_fail
from survey.rounds.reliability import Reliability
from survey.rounds.series import Series, series_in_store, series_of


@dataclass(frozen=True)
class Basis:
    """What is planned from, and which rounds those are, for people."""

    ahead: Ahead
    words: str


def basis_of_all() -> Basis | None:
    """Return what there is to plan from, or None; raises SurveyError."""
    work = state.work()
    site = site_of(work.site_file, work.site_given)
    series, key, words = _kept()
    if series is None and work.findings is not None:
        series, key = series_of([work.findings]), ("open", id(work.findings))
        words = planning_words.PLANNED_FROM_OPEN
    if series is None:
        return None
    return Basis(Ahead(series, site, _known(series, key)), words)


def _kept() -> tuple[Series | None, tuple[object, ...], str]:
    if not any_kept():
        return None, (), ""
    with store() as opened:
        numbers = [one.number for one in opened.rounds()]
    if not numbers:
        return None, (), ""
    series = series_in_store()
    mended = tuple(sorted((unit, *days) for unit, days in series.repairs.items()))
    rounds = counted(len(numbers), *screen_words.ROUND)
    words = planning_words.PLANNED_FROM_KEPT.format(rounds=rounds)
    return series, ("kept", *numbers, mended), words


def _known(series: Series, key: tuple[object, ...]) -> Reliability:
    """Fit how traps fail; once for the same rounds, since it takes a second or two."""
    work = state.work()
    if work.fitted is None or work.fitted[0] != key:
        with st.spinner(planning_words.FITTING):
            work.fitted = (key, how_traps_fail(series))
    return work.fitted[1]
