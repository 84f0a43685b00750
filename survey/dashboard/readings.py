"""The whole round in pictures: readings against what is expected, sound, instruments, causes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import streamlit as st

from survey.dashboard import drawing, frames, say, state
from survey.findings import Findings
from survey.reports import pictures, shares
from survey.reports.pictures import Picture

_PICTURES: dict[str, tuple[Callable[[Findings], Picture | None], str]] = {
    "Heat": (
        pictures.temperatures_against_saturation,
        "No trap shown has an inlet temperature and a pressure, so there is nothing to draw.",
    ),
    "Sound": (
        pictures.sound_against_background,
        "No trap shown has a sound and its background, so there is nothing to draw.",
    ),
    "Causes": (
        shares.cause_tree,
        "Nothing shown needs anything done, so there is nothing to draw.",
    ),
    "Instruments": (
        pictures.calibration_found,
        "Too few readings of one kind to tell what the instruments do: there is nothing to draw.",
    ),
}


def show() -> None:
    """Draw the page."""
    st.title("The round in pictures")
    findings = state.judged()
    names = list(_PICTURES)
    picked = st.segmented_control(
        "Show", names, default=names[0], key="kept_picture", label_visibility="collapsed"
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
                format_func=lambda value: say.shown(value or "all", 80),
                key=f"kept_picture_{name}",
            )
            picks[name] = [chosen] if chosen else []
    if not any(picks.values()):
        return findings
    return replace(findings, table=listed.rows(listed.places(picks)))


if __name__ == "__main__":
    show()
