"""The script Streamlit runs: one list of pages, and what holds on every one of them."""

from __future__ import annotations

import streamlit as st

from survey.dashboard import look, state
from survey.dashboard.figures_form import manner
from survey.reports.manner import using

# Page -> its name, short enough that a phone shows the whole menu at once.
PAGES = {
    "start.py": "Start",
    "understood.py": "Headers",
    "overview.py": "Overview",
    "ranking.py": "Ranking",
    "readings.py": "Charts",
    "unit.py": "Unit",
    "plan.py": "Plant",
    "rounds.py": "Rounds",
    "next_round.py": "Next round",
    "owner_link.py": "Owner's link",
}


# Reached from the first page, and by itself when a file needs it.
NOT_IN_MENU = ("understood.py",)


def main() -> None:
    """Draw the menu and the page."""
    st.set_page_config(page_title="survey", layout="wide")
    look.apply()
    state.keep_choices()
    pages = [
        st.Page(path, title=f"{name} · survey", default=path == "start.py")
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
