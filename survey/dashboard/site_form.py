"""The site's settings on the first page: empty means the site file's value, or the default."""

from __future__ import annotations

from typing import Any, get_args

import streamlit as st

from survey.dashboard import flow, look, say, state
from survey.dashboard.judging import Upload, site_of
from survey.dashboard.number_field import number_field
from survey.dashboard.wording import opening_words
from survey.errors import SurveyError
from survey.physics import units as physical
from survey.reports import measures, words
from survey.site import FuelKind, Site

_NOT_GIVEN = ""
FUELS = opening_words.FUELS
_IN_SI = {
    "altitude_ft": (opening_words.ALTITUDE_M, physical.M_PER_FT),
    "price_per_mmbtu": (opening_words.PRICE_PER_GJ, 1 / measures.GJ_PER_MMBTU),
}
assert set(FUELS) == set(get_args(FuelKind))


def site_form(work: state.Work) -> None:
    """Draw the settings; what is typed goes into the session's work."""
    folded = look.folded(opening_words.SITE_SETTINGS, "site")
    if not folded.open:
        return
    with folded:
        _site_file(work)
        site = _site_so_far(work)
        work.site_given = _given(site)
        if work.upload is not None and st.button(
            opening_words.JUDGE_AGAIN, width="stretch", type="primary"
        ):
            flow.judge_now()


def _site_file(work: state.Work) -> None:
    given = st.file_uploader(opening_words.SITE_FILE, key="site_file_given")
    if given is not None and st.session_state.get("taken_site_file") != given.file_id:
        st.session_state["taken_site_file"] = given.file_id
        work.site_file = Upload(given.name, given.getvalue())
    if work.site_file is not None:
        name = say.shown(work.site_file.name, 80)
        say.text(opening_words.SITE_FILE_IN_USE.format(name=name))
        if st.button(opening_words.LEAVE_SITE_FILE):
            work.site_file = None
            st.rerun()


def _site_so_far(work: state.Work) -> Site:
    try:
        return site_of(work.site_file, {})
    except SurveyError as error:
        work.site_file = None
        say.problem(error)
        return Site()


def _given(site: Site) -> dict[str, Any]:
    given: dict[str, Any] = {}
    _put(given, "name", _text(opening_words.SITE_NAME, "name", site.name, 200))
    _put(
        given,
        "altitude_ft",
        _number(opening_words.ALTITUDE_FT, "altitude_ft", site, -1500.0, 20_000.0),
    )
    _put(given, "hours_per_year", _number(opening_words.HOURS, "hours_per_year", site, 0.0, 8784.0))
    _put(given, "currency", _text(opening_words.CURRENCY, "currency", site.currency, 12))
    fuel: dict[str, Any] = {}
    _put(fuel, "kind", _fuel_kind(site))
    _put(
        fuel,
        "price_per_mmbtu",
        _number(opening_words.PRICE_PER_MMBTU, "price_per_mmbtu", site, 0.0, 10_000.0),
    )
    _put(given, "fuel", fuel or None)
    return given


def _put(given: dict[str, Any], name: str, value: object) -> None:
    if value is not None:
        given[name] = value


def _number(label: str, name: str, site: Site, low: float, high: float) -> float | None:
    """Draw a number of the site; return it in its US unit, in which the session keeps it."""
    part = site.fuel if name == "price_per_mmbtu" else site
    said = _source(name in part.model_fields_set)
    now, key = getattr(part, name), f"kept_site_{name}"
    if name not in _IN_SI or not measures.in_si():
        return number_field(
            label, key=key, low=low, high=high, placeholder=said.format(value=words.plain(now))
        )
    si_label, size = _IN_SI[name]
    kept, si_key = st.session_state.get(key), f"{state.SITE_IN_SI}{name}"
    if si_key not in st.session_state:
        st.session_state[si_key] = None if kept is None else round(kept * size, 3)
    typed = number_field(
        si_label, key=si_key, low=low * size, high=high * size,
        placeholder=said.format(value=words.plain(now * size)),
    )  # fmt: skip
    if typed is None or kept is None or typed != round(kept * size, 3):
        kept = None if typed is None else typed / size
    st.session_state[key] = kept
    return kept


def _text(label: str, name: str, now: str, longest: int) -> str | None:
    said = _source(bool(now) and name == "name")
    value = st.text_input(
        label,
        max_chars=longest,
        key=f"kept_site_{name}",
        placeholder=said.format(value=say.shown(now, 60)) if now else "",
    )
    return value.strip() or None


def _fuel_kind(site: Site) -> str | None:
    said = _source("kind" in site.fuel.model_fields_set)
    kinds = {_NOT_GIVEN: said.format(value=FUELS[site.fuel.kind]), **FUELS}
    kind: str = st.selectbox(
        opening_words.FUEL, list(kinds), format_func=kinds.__getitem__, key="kept_site_fuel"
    )
    return kind or None


def _source(in_file: bool) -> str:
    """Return how a value is introduced that holds where nothing is typed."""
    return opening_words.FROM_SITE_FILE if in_file else opening_words.BY_DEFAULT
