"""Rounds over time: keep this one, see those kept, what they show together, before and after."""

from __future__ import annotations

import pandas as pd
import streamlit as st

from survey.dashboard import before_after, look, round_trend, say, state
from survey.dashboard.rounds_kept import any_kept, round_choice, store
from survey.dashboard.wording import planning_words, screen_words
from survey.errors import SurveyError
from survey.reports import numerals, words
from survey.rounds.answers import answer, proposals
from survey.rounds.content import day_read
from survey.rounds.matching import Proposal
from survey.rounds.store import KeptRound

_VIEWS = planning_words.ROUNDS_VIEWS


def show() -> None:
    """Draw the page."""
    st.title(planning_words.ROUNDS_TITLE)
    picked = st.segmented_control(
        screen_words.SHOW,
        _VIEWS,
        default=_VIEWS[0],
        required=True,
        key="kept_rounds_view",
        label_visibility="collapsed",
    )
    try:
        rounds = _rounds()
        if picked == _VIEWS[1]:
            round_trend.show(rounds)
        elif picked == _VIEWS[2]:
            before_after.show(rounds)
        else:
            _keep()
            _list(rounds)
            _renamed()
    except SurveyError as error:
        say.problem(error)
    look.onward(planning_words.TO_THE_NEXT, "next_round.py")


def _rounds() -> list[KeptRound]:
    if not any_kept():
        return []
    with store() as opened:
        return opened.rounds()


def _keep() -> None:
    work = state.work()
    if work.findings is None:
        st.markdown(planning_words.NONE_OPEN_TO_KEEP)
        state.open_last()
        return
    if work.kept_as:
        st.success(planning_words.KEPT)
        return
    with st.form("keep_round"):
        name = st.text_input(
            planning_words.ROUND_NAME,
            max_chars=200,
            placeholder=planning_words.ROUND_NAME_SUCH_AS,
            key="round_name",
        )
        on = look.day_input(planning_words.ROUND_DAY, day_read(work.findings), key="round_day")
        if not st.form_submit_button(planning_words.KEEP, type="primary", width="stretch"):
            return
    source = work.upload.name if work.upload is not None else ""
    with store() as opened:
        kept = opened.add(work.findings, name=name, on=on, source=source)
    work.kept_as = kept.number
    st.rerun()


def _list(rounds: list[KeptRound]) -> None:
    st.subheader(planning_words.ROUNDS_KEPT, anchor=False)
    if not rounds:
        st.markdown(planning_words.NO_ROUNDS)
        return
    say.table(pd.DataFrame([_line(one) for one in reversed(rounds)], dtype="str"))
    # Two touches: none goes by accident.
    with st.popover(planning_words.TAKE_ROUND_OUT, width="stretch"):
        names = {one.number: round_choice(one) for one in reversed(rounds)}
        number = st.selectbox(
            planning_words.WHICH_ROUND,
            list(names),
            format_func=names.__getitem__,
            key="round_to_remove",
        )
        if st.button(planning_words.TAKE_OUT, width="stretch", key="remove_round"):
            with store() as opened:
                opened.remove(number)
            if state.work().kept_as == number:
                state.work().kept_as = 0
            st.rerun()


def _line(one: KeptRound) -> dict[str, str]:
    summary = one.summary
    cost = float(summary.get("annual_cost", float("nan")))
    heads = planning_words.ROUND_HEADS
    return {
        heads["title"]: say.shown(one.title, 80),
        heads["read_on"]: numerals.short_day(one.read_on),
        heads["devices"]: words.whole(one.devices),
        heads["cost"]: words.money(cost, str(summary.get("currency", ""))),
    }


def _renamed() -> None:
    """Ask about devices whose tags have changed; nothing is joined without an answer."""
    if not any_kept():
        return
    with store() as opened:
        asked = proposals(opened)
    if asked:
        st.subheader(planning_words.SAME_DEVICE, anchor=False)
        st.markdown(planning_words.SAME_DEVICE_INTRO)
    for one in asked[:10]:
        with st.container(border=True):
            said = planning_words.TAG_CHANGED.format(
                earlier=one.earlier_tag, later=one.later_tag, reasons="; ".join(one.reasons)
            )
            say.text(said)
            yes, no = st.columns(2)
            key = f"{one.kind}_{one.earlier}_{one.later}_{one.moved_in}"
            if yes.button(planning_words.SAME, key=f"same_{key}", width="stretch"):
                _answer(one, accepted=True)
            if no.button(planning_words.ANOTHER, key=f"other_{key}", width="stretch"):
                _answer(one, accepted=False)


def _answer(one: Proposal, *, accepted: bool) -> None:
    with store() as opened:
        answer(opened, one.earlier, one.later, accepted=accepted, moved_in=one.moved_in)
    st.rerun()


if __name__ == "__main__":
    show()
