"""How figures are written, on the screens and in what is taken away: units, decimals, dates."""

from __future__ import annotations

import streamlit as st

from survey.dashboard import look, remembered, say
from survey.errors import SurveyError
from survey.reports.manner import DEFAULT_LOCALE, Manner

UNITS = {
    "us": "US: °F, psig, lb/h",
    "si": "SI: °C, bar, kg/h",
}
LOCALES = {
    DEFAULT_LOCALE: "1,234.5 (plain English)",
    "en_GB": "1,234.5 (United Kingdom)",
    "de_DE": "1.234,5 (Germany)",
    "de_CH": "1’234.5 (Switzerland)",
    "fr_FR": "1 234,5 (France)",
    "es_ES": "1234,5 (Spain)",
    "it_IT": "1.234,5 (Italy)",
    "nl_NL": "1.234,5 (Netherlands)",
    "pl_PL": "1234,5 (Poland)",
    "sv_SE": "1 234,5 (Sweden)",
}


def manner() -> Manner:
    """Return how figures are written in this session."""
    if "manner" not in st.session_state:
        st.session_state["manner"] = remembered.manner()
    its: Manner = st.session_state["manner"]
    return its


def figures_form() -> None:
    """Draw the choice of units and numbers."""
    now = manner()
    folded = look.folded("Units and numbers", "figures")
    if not folded.open:
        return
    with folded:
        units = st.radio(
            "Units",
            list(UNITS),
            index=list(UNITS).index(now.units),
            format_func=UNITS.__getitem__,
            key="figures_units",
        )
        known = LOCALES if now.locale in LOCALES else {**LOCALES, now.locale: now.locale}
        locale = st.selectbox(
            "Numbers, dates and money as in",
            list(known),
            index=list(known).index(now.locale),
            format_func=known.__getitem__,
            key="figures_locale",
        )
        st.markdown(
            "They rule the screens and the reports. A findings file keeps its columns, each with "
            "its unit in its name, so that other programs can read it."
        )
    if (units, locale) != (now.units, now.locale):
        st.session_state["manner"] = Manner(units, locale)
        try:
            remembered.remember_manner(st.session_state["manner"])
        except (SurveyError, OSError) as error:
            say.problem(error)
        st.rerun()
