"""How figures are written, on the screens and in what is taken away: units, decimals, dates."""

from __future__ import annotations

import streamlit as st

from survey.dashboard import look, remembered, say
from survey.dashboard.wording import opening_words
from survey.errors import SurveyError
from survey.reports.manner import DEFAULT_LOCALE, Manner

UNITS = opening_words.UNITS
LOCALES = {DEFAULT_LOCALE: opening_words.PLAIN_ENGLISH, **opening_words.LOCALES}


def manner() -> Manner:
    """Return how figures are written in this session."""
    if "manner" not in st.session_state:
        st.session_state["manner"] = remembered.manner()
    its: Manner = st.session_state["manner"]
    return its


def figures_form() -> None:
    """Draw the choice of units and numbers."""
    now = manner()
    folded = look.folded(opening_words.FIGURES, "figures")
    if not folded.open:
        return
    with folded:
        units = st.radio(
            opening_words.FIGURES_UNITS,
            list(UNITS),
            index=list(UNITS).index(now.units),
            format_func=UNITS.__getitem__,
            key="figures_units",
        )
        known = LOCALES if now.locale in LOCALES else {**LOCALES, now.locale: now.locale}
        locale = st.selectbox(
            opening_words.FIGURES_LOCALE,
            list(known),
            index=list(known).index(now.locale),
            format_func=known.__getitem__,
            key="figures_locale",
        )
        st.markdown(opening_words.FIGURES_NOTE)
    if (units, locale) != (now.units, now.locale):
        st.session_state["manner"] = Manner(units, locale)
        try:
            remembered.remember_manner(st.session_state["manner"])
        except (SurveyError, OSError) as error:
            say.problem(error)
        st.rerun()
