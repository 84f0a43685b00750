"""The whole round in pictures: readings against what is expected, sound, instruments, causes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import streamlit as st

from survey.dashboard import drawing, frames, say, state
from survey.dashboard.wording import findings_words, screen_words
from survey.findings import Findings
from survey.reports import pictures, shares
from survey.reports.pictures import Picture

_PICTURES: dict[str, tuple[Callable[[Findings], Picture | None], str]] = {
    findings_words.CHART_HEAT: (
        pictures.temperatures_against_saturation,
        findings_words.NO_HEAT,
    ),
    findings_words.CHART_SOUND: (
        pictures.sound_against_background,
        findings_words.NO_SOUND,
    ),
    findings_words.CHART_CAUSES: (
        shares.cause_tree,
        findings_words.NO_CAUSES,
    ),
    findings_words.CHART_INSTRUMENTS: (
        pictures.calibration_found,
        findings_words.NO_INSTRUMENTS,
    ),
}


def show() -> None:
    """Draw the page."""
    st.title(findings_words.CHARTS_TITLE)
    findings = state.judged()
    names = list(_PICTURES)
    picked = st.segmented_control(
        screen_words.SHOW,
        names,
        default=names[0],
        required=True,
        key="kept_picture",
        label_visibility="collapsed",
    )
    draw, nothing = _PICTURES[picked if picked in names else names[0]]
    # What the instruments do was found from the whole round, not from one area.
    picture = draw(findings if draw is pictures.calibration_found else _narrowed(findings))
    if picture is None:
        st.info(nothing)
        return
    drawing.picture(picture)


def _narrowed(findings: Findings) -> Findings:
    """Draw the choice of place; return the findings of that place alone."""
    listed = state.listed()
    picks = {}
    for column, name in zip(st.columns(2), ("area", "station"), strict=True):
        choices = ["", *listed.choices(name)]
        if len(choices) > 2:
            chosen = column.selectbox(
                frames.FILTERS[name],
                choices,
                format_func=lambda value: say.shown(value or screen_words.ALL, 80),
                key=f"kept_picture_{name}",
            )
            picks[name] = [chosen] if chosen else []
    if not any(picks.values()):
        return findings
    return replace(findings, table=listed.rows(listed.places(picks)))


if __name__ == "__main__":
    show()
