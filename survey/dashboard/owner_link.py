"""The owner's link: make one, see those that work, end one."""

from __future__ import annotations

import pandas as pd
import streamlit as st

from survey.dashboard import frames, say, state
from survey.errors import SurveyError
from survey.findings import Findings
from survey.reports import numerals
from survey.sharing import Link, list_links, share, unshare

_LONGEST_DAYS = 3650
_USUAL_DAYS = 30
_STANDING = {"open": "works", "expired": "over: its days are up", "revoked": "ended"}


def show() -> None:
    """Draw the page."""
    st.title("Owner's link")
    st.markdown(
        "A page for the owner, frozen as the findings are now. Whoever has the link can read it, "
        "and nothing else here; you can end it at any time."
    )
    work = state.work()
    if work.findings is not None:
        _make(work, work.findings)
    else:
        st.info("No round is open, so there is nothing new to share.")
    _list()


def _make(work: state.Work, findings: Findings) -> None:
    areas = [area for area in frames.choices(findings.table, "area") if area != frames.NOT_GIVEN]
    picked = st.multiselect("Areas to show", areas, placeholder="all", key="kept_link_areas")
    money = st.toggle("Show what it costs", value=True, key="kept_link_money")
    days = st.number_input(
        "Days it works",
        min_value=1,
        max_value=_LONGEST_DAYS,
        value=_USUAL_DAYS,
        step=1,
        key="kept_link_days",
    )
    label = st.text_input(
        "Your own name for it (the owner does not see it)", max_chars=120, key="kept_link_label"
    )
    if st.button("Make the link", type="primary", width="stretch", key="make_link"):
        try:
            work.new_link = share(
                findings, days=int(days), label=label, areas=picked or None, show_money=money
            )
        except SurveyError as error:
            work.new_link = None
            say.problem(error)
    if work.new_link is not None:
        st.success("Made. Copy it now: it is shown this once and kept nowhere.")
        st.code(work.new_link.url, language=None, wrap_lines=True)
        say.text(f"It works until {numerals.short_moment(work.new_link.expires_at)} UTC.")
        if work.new_link.warning:
            say.text(work.new_link.warning)


def _list() -> None:
    st.subheader("Links made", anchor=False)
    try:
        links = list_links()
    except SurveyError as error:
        say.problem(error)
        return
    if not links:
        st.markdown("None yet.")
        return
    say.table(_listed(links))
    _end([link for link in links if link.standing == "open"])


def _listed(links: list[Link]) -> pd.DataFrame:
    return pd.DataFrame(
        [
            {
                "Number": link.number,
                "State": _STANDING[link.standing],
                "Works until": numerals.short_day(link.expires_at.date()),
                "Name": say.shown(link.label, 120),
                "Made": numerals.short_day(link.made_at.date()),
            }
            for link in links
        ]
    )


def _end(links: list[Link]) -> None:
    if not links:
        return
    names = {link.number: f"{link.number} {say.shown(link.label, 60)}" for link in links}
    with st.popover("End a link", width="stretch"):  # two touches, so that none ends by accident
        number = st.selectbox(
            "Which one", list(names), format_func=names.__getitem__, key="link_to_end"
        )
        asked = st.button("End it now", width="stretch", key="end_link")
    if asked:
        work = state.work()
        try:
            unshare(number)
        except SurveyError as error:
            say.problem(error)
            return
        if work.new_link is not None and work.new_link.number == number:
            work.new_link = None
        st.rerun()


if __name__ == "__main__":
    show()
