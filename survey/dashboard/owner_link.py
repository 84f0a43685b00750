"""The owner's link: make one, see those that work, end one."""

from __future__ import annotations

import pandas as pd
import streamlit as st

from survey.dashboard import frames, link_since, say, state
from survey.dashboard.wording import planning_words, screen_words
from survey.errors import SurveyError
from survey.findings import Findings
from survey.reports import manner, numerals
from survey.sharing import Link, list_links, share, unshare

_LONGEST_DAYS = 3650
_USUAL_DAYS = 30


def show() -> None:
    """Draw the page."""
    st.title(planning_words.LINK_TITLE)
    st.markdown(planning_words.LINK_INTRO)
    work = state.work()
    if work.findings is not None:
        _make(work, work.findings)
    else:
        st.info(planning_words.NOTHING_TO_SHARE)
    _list()


def _make(work: state.Work, findings: Findings) -> None:
    areas = [area for area in frames.choices(findings.table, "area") if area != frames.NOT_GIVEN]
    picked = st.multiselect(
        planning_words.LINK_AREAS, areas, placeholder=screen_words.ALL, key="kept_link_areas"
    )
    money = st.toggle(planning_words.LINK_COST, value=True, key="kept_link_money")
    days = st.number_input(
        planning_words.LINK_DAYS,
        min_value=1,
        max_value=_LONGEST_DAYS,
        value=_USUAL_DAYS,
        step=1,
        key="kept_link_days",
    )
    since = link_since.chosen(findings)
    label = st.text_input(planning_words.LINK_LABEL, max_chars=120, key="kept_link_label")
    if st.button(planning_words.MAKE_LINK, type="primary", width="stretch", key="make_link"):
        try:
            before, known = link_since.earlier(since, findings)
            its = manner.current()
            work.new_link = share(
                findings, days=int(days), label=label, areas=picked or None, show_money=money,
                before=before, known=known, units=its.units, locale=its.locale,
            )  # fmt: skip
        except SurveyError as error:
            work.new_link = None
            say.problem(error)
    if work.new_link is not None:
        st.success(planning_words.LINK_MADE)
        st.code(work.new_link.url, language=None, wrap_lines=True)
        until = numerals.short_moment(work.new_link.expires_at)
        say.text(planning_words.LINK_UNTIL.format(moment=until))
        if work.new_link.warning:
            say.text(work.new_link.warning)


def _list() -> None:
    st.subheader(planning_words.LINKS_MADE, anchor=False)
    try:
        links = list_links()
    except SurveyError as error:
        say.problem(error)
        return
    if not links:
        st.markdown(planning_words.NO_LINKS)
        return
    say.table(_listed(links))
    _end([link for link in links if link.standing == "open"])


def _listed(links: list[Link]) -> pd.DataFrame:
    heads = planning_words.LINK_HEADS
    return pd.DataFrame(
        [
            {
                heads["number"]: link.number,
                heads["state"]: planning_words.LINK_STANDING[link.standing],
                heads["until"]: numerals.short_day(link.expires_at.date()),
                heads["name"]: say.shown(link.label, 120),
                heads["made"]: numerals.short_day(link.made_at.date()),
            }
            for link in links
        ]
    )


def _end(links: list[Link]) -> None:
    if not links:
        return
    names = {
        link.number: planning_words.LINK_CHOICE.format(
            number=link.number, name=say.shown(link.label, 60)
        )
        for link in links
    }
    # Two touches, so that none ends by accident.
    with st.popover(planning_words.END_LINK, width="stretch"):
        number = st.selectbox(
            planning_words.WHICH_LINK,
            list(names),
            format_func=names.__getitem__,
            key="link_to_end",
        )
        asked = st.button(planning_words.END_IT, width="stretch", key="end_link")
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
