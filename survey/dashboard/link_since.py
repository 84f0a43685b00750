"""The earlier round that the owner's page is held against, where rounds are kept."""

from __future__ import annotations

import streamlit as st

from survey.dashboard import say
from survey.dashboard.rounds_kept import any_kept, round_choice, store
from survey.dashboard.wording import planning_words
from survey.errors import SurveyError
from survey.findings import Findings
from survey.rounds.content import day_read
from survey.rounds.known import Known, known_of
from survey.rounds.store import KeptRound, Store


def chosen(findings: Findings) -> int:
    """Draw the choice of an earlier round where some are kept; return its number, 0 for none."""
    try:
        if not any_kept():
            return 0
        with store() as opened:
            rounds = _rounds_before(opened, findings)
    except SurveyError as error:
        say.problem(error)
        return 0
    if not rounds:
        return 0
    names = {0: planning_words.LINK_SINCE_NONE} | {
        one.number: round_choice(one) for one in reversed(rounds)
    }
    key = "kept_link_since"
    if st.session_state.get(key, 0) not in names:  # it was taken out since
        del st.session_state[key]
    number: int = st.selectbox(
        planning_words.LINK_SINCE, list(names), key=key, format_func=names.__getitem__
    )
    return number


def _rounds_before(opened: Store, findings: Findings) -> list[KeptRound]:
    """Return the rounds kept that are not the open one and were not read after it."""
    its = opened.kept_as(findings)
    read_on = day_read(findings) if its is None else its.read_on
    return [
        one for one in opened.rounds()
        if one.read_on <= read_on and (its is None or one.number != its.number)
    ]  # fmt: skip


def earlier(number: int, findings: Findings) -> tuple[Findings | None, Known | None]:
    """Return the earlier round chosen and what the store knows of the two, as --before does."""
    if not number:
        return None, None
    with store() as opened:
        before = opened.findings(number)
        return before, known_of(opened, before, findings)
