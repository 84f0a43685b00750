"""Rounds over time: keep this one, see those kept, what they show together, before and after."""

from __future__ import annotations

import pandas as pd
import streamlit as st

from survey.dashboard import before_after, look, round_trend, say, state
from survey.dashboard.rounds_kept import any_kept, store
from survey.errors import SurveyError
from survey.reports import numerals, words
from survey.rounds.answers import answer, proposals
from survey.rounds.content import day_read
from survey.rounds.matching import Proposal
from survey.rounds.store import KeptRound

_VIEWS = ("Rounds", "Over time", "Before and after")


def show() -> None:
    """Draw the page."""
    st.title("Rounds over time")
    picked = st.segmented_control(
        "Show", _VIEWS, default=_VIEWS[0], key="kept_rounds_view", label_visibility="collapsed"
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
    look.onward("Plan the next round", "next_round.py")


def _rounds() -> list[KeptRound]:
    if not any_kept():
        return []
    with store() as opened:
        return opened.rounds()


def _keep() -> None:
    work = state.work()
    if work.findings is None:
        st.markdown("No round is open just now. Open one, and it can be kept here.")
        state.open_last()
        return
    if work.kept_as:
        st.success("This round is kept.")
        return
    with st.form("keep_round"):
        name = st.text_input(
            "A name for this round", max_chars=200, placeholder="Autumn, say", key="round_name"
        )
        on = look.day_input("The day it was read", day_read(work.findings), key="round_day")
        if not st.form_submit_button("Keep this round", type="primary", width="stretch"):
            return
    source = work.upload.name if work.upload is not None else ""
    with store() as opened:
        kept = opened.add(work.findings, name=name, on=on, source=source)
    work.kept_as = kept.number
    st.rerun()


def _list(rounds: list[KeptRound]) -> None:
    st.subheader("Rounds kept", anchor=False)
    if not rounds:
        st.markdown("None yet.")
        return
    say.table(pd.DataFrame([_line(one) for one in reversed(rounds)], dtype="str"))
    with st.popover("Take a round out", width="stretch"):  # two touches: none goes by accident
        names = {
            one.number: f"{one.title}, {numerals.short_day(one.read_on)}"
            for one in reversed(rounds)
        }
        number = st.selectbox(
            "Which one",
            list(names),
            format_func=lambda key: say.shown(names[key], 80),
            key="round_to_remove",
        )
        if st.button("Take it out for good", width="stretch", key="remove_round"):
            with store() as opened:
                opened.remove(number)
            if state.work().kept_as == number:
                state.work().kept_as = 0
            st.rerun()


def _line(one: KeptRound) -> dict[str, str]:
    summary = one.summary
    cost = float(summary.get("annual_cost", float("nan")))
    return {
        "Round": say.shown(one.title, 80),
        "Read on": numerals.short_day(one.read_on),
        "Devices": words.whole(one.devices),
        "Cost a year": words.money(cost, str(summary.get("currency", ""))),
    }


def _renamed() -> None:
    """Ask about devices whose tags have changed; nothing is joined without an answer."""
    if not any_kept():
        return
    with store() as opened:
        asked = proposals(opened)
    if asked:
        st.subheader("The same device?", anchor=False)
        st.markdown("Tags that may have changed between rounds. You decide; history follows.")
    for one in asked[:10]:
        with st.container(border=True):
            say.text(f"{one.earlier_tag} → {one.later_tag}. {'; '.join(one.reasons)}.")
            yes, no = st.columns(2)
            key = f"{one.kind}_{one.earlier}_{one.later}_{one.moved_in}"
            if yes.button("Yes, the same", key=f"same_{key}", width="stretch"):
                _answer(one, accepted=True)
            if no.button("No, another", key=f"other_{key}", width="stretch"):
                _answer(one, accepted=False)


def _answer(one: Proposal, *, accepted: bool) -> None:
    with store() as opened:
        answer(opened, one.earlier, one.later, accepted=accepted, moved_in=one.moved_in)
    st.rerun()


if __name__ == "__main__":
    show()
