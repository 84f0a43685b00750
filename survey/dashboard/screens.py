"""The script Streamlit runs: one list of pages, and what holds on every one of them."""

from __future__ import annotations

import streamlit as st

from survey.dashboard import look, state
from survey.dashboard.figures_form import manner
from survey.dashboard.wording import screen_words
from survey.reports.manner import using

PAGES = screen_words.MENU
# Reached from the first page, and by itself when a file needs it.
NOT_IN_MENU = ("understood.py",)


def main() -> None:
    """Draw the menu and the page."""
    st.set_page_config(page_title=screen_words.NAME, layout="wide")
    look.apply()
    state.keep_choices()
    pages = [
        st.Page(path, title=screen_words.PAGE_TITLE.format(page=name), default=path == "start.py")
        for path, name in PAGES.items()
    ]
    # Streamlit's own side menu stays open over the page on a phone, so the menu is ours.
    page = st.navigation(pages, position="hidden")
    with st.container(horizontal=True, key="menu"):
        for its, (path, name) in zip(pages, PAGES.items(), strict=True):
            if path not in NOT_IN_MENU:
                st.page_link(its, label=name)
    figures = manner()
    with using(units=figures.units, locale=figures.locale):
        page.run()


main()
