"""Lines of a work list as a person reads them: upstream first, each with what it explains."""

from __future__ import annotations

import zlib
from collections.abc import Sequence

import pandas as pd
import streamlit as st
from markupsafe import Markup

from survey.dashboard import look, say
from survey.plant.worklist import LEVELS, WorkLine
from survey.reports import words
from survey.reports.spoken import spoken

AT_A_TIME = 25
LONGEST_PART = 900
_LINE = Markup(
    '<article class="job"><h4><bdi>{unit}</bdi> <small>{where}</small></h4>'
    '<p class="do">{what}</p>{rest}<details><summary>Why</summary><p>{why}</p></details></article>'
)
_PART = Markup('<p><span class="about">{}</span> {}</p>')


def show(lines: Sequence[WorkLine], key: str) -> None:
    """Draw the first lines, a heading over each level; more of them where they are asked for."""
    count = AT_A_TIME * int(st.session_state.get(f"kept_{key}_shown", 1))
    level = -1
    for line in lines[:count]:
        if line.level != level:
            level = line.level
            st.markdown(f"**{words.capital(LEVELS[level])}**")
        st.html(line_html(line))
    if len(lines) > count:
        if st.button(
            f"Show {min(AT_A_TIME, len(lines) - count)} more", width="stretch", key=f"{key}_more"
        ):
            st.session_state[f"kept_{key}_shown"] = count // AT_A_TIME + 1
            st.rerun()
        st.markdown(f"{words.whole(count)} of {words.counted(len(lines), 'repair')} shown.")


def show_by_area(lines: Sequence[WorkLine], key: str) -> None:
    """Draw the lines of each area folded up, the first area open; no folds where there is one.

    Areas come in the order of their first line, so that what is upstream of most comes first.
    """
    areas: dict[str, list[WorkLine]] = {}
    for line in lines:
        areas.setdefault(line.area, []).append(line)
    if len(areas) < 2:
        show(lines, key)
        return
    for place, (area, mine) in enumerate(areas.items()):
        name = say.escaped(area) if area else "In no one area"
        here = f"{key}_{zlib.crc32(area.encode('utf-8', 'replace')):08x}"
        said = f"{name}: {words.counted(len(mine), 'repair')}"
        folded = look.folded(said, here, at_first=place == 0)
        if folded.open:
            with folded:
                show(mine, here)


def line_html(line: WorkLine) -> str:
    """Return one repair as HTML, every text escaped and in the units shown."""
    parts = (
        ("Explains", ", ".join(line.explains)),
        ("Bring", _told(line.parts, line)),
        ("Read again", _told(line.read_again, line)),
    )
    return str(
        _LINE.format(
            unit=say.shown(line.tag or line.where, 80),
            where=say.shown(line.where, 120) if line.tag else "",
            what=_told(line.what, line),
            rest=Markup("").join(_PART.format(name, said) for name, said in parts if said),
            why=_told(line.why, line),
        )
    )


def as_table(lines: Sequence[WorkLine]) -> pd.DataFrame:
    """Return the lines as a table to take along, in words, in the units shown."""
    rows = [
        {
            "Unit": line.tag or line.where,
            "What to do": _told(line.what, line),
            "Where": line.where,
            "First": LEVELS[line.level],
            "Explains": ", ".join(line.explains),
            "Parts": _told(line.parts, line),
            "Read again": _told(line.read_again, line),
            "Why": _told(line.why, line),
        }
        for line in lines
    ]
    return pd.DataFrame(rows, dtype="str")


def _told(text: str, line: WorkLine) -> str:
    return spoken(say.shown(text, LONGEST_PART), (line.tag, line.where, *line.explains))
