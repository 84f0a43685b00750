"""Lines of a work list as a person reads them: upstream first, each with what it explains."""

from __future__ import annotations

import zlib
from collections.abc import Sequence

import pandas as pd
import streamlit as st
from markupsafe import Markup

from survey.dashboard import look, say
from survey.dashboard.wording import screen_words
from survey.plant.worklist import LEVELS, WorkLine
from survey.reports import words
from survey.reports.spoken import spoken

AT_A_TIME = 25
LONGEST_PART = 900
_LINE = Markup(
    '<article class="job"><h4><bdi>{unit}</bdi> <small>{where}</small></h4>'
    '<p class="do">{what}</p>{rest}'
    "<details><summary>{because}</summary><p>{why}</p></details></article>"
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
        more = screen_words.SHOW_MORE.format(count=min(AT_A_TIME, len(lines) - count))
        if st.button(more, width="stretch", key=f"{key}_more"):
            st.session_state[f"kept_{key}_shown"] = count // AT_A_TIME + 1
            st.rerun()
        repairs = words.counted(len(lines), *screen_words.REPAIR)
        st.markdown(screen_words.SHOWN_OF_REPAIRS.format(count=words.whole(count), repairs=repairs))


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
        name = say.escaped(area) if area else screen_words.NO_ONE_AREA
        here = f"{key}_{zlib.crc32(area.encode('utf-8', 'replace')):08x}"
        repairs = words.counted(len(mine), *screen_words.REPAIR)
        said = screen_words.AREA_REPAIRS.format(area=name, repairs=repairs)
        folded = look.folded(said, here, at_first=place == 0)
        if folded.open:
            with folded:
                show(mine, here)


def line_html(line: WorkLine) -> str:
    """Return one repair as HTML, every text escaped and in the units shown."""
    parts = (
        (screen_words.LINE_EXPLAINS, ", ".join(line.explains)),
        (screen_words.LINE_BRING, _told(line.parts, line)),
        (screen_words.LINE_READ_AGAIN, _told(line.read_again, line)),
    )
    return str(
        _LINE.format(
            unit=say.shown(line.tag or line.where, 80),
            where=say.shown(line.where, 120) if line.tag else "",
            what=_told(line.what, line),
            rest=Markup("").join(_PART.format(name, said) for name, said in parts if said),
            because=screen_words.LINE_WHY,
            why=_told(line.why, line),
        )
    )


def as_table(lines: Sequence[WorkLine]) -> pd.DataFrame:
    """Return the lines as a table to take along, in words, in the units shown."""
    heads = screen_words.WORK_LIST_HEADS
    rows = [
        {
            heads["unit"]: line.tag or line.where,
            heads["what"]: _told(line.what, line),
            heads["where"]: line.where,
            heads["level"]: LEVELS[line.level],
            heads["explains"]: ", ".join(line.explains),
            heads["parts"]: _told(line.parts, line),
            heads["read_again"]: _told(line.read_again, line),
            heads["why"]: _told(line.why, line),
        }
        for line in lines
    ]
    return pd.DataFrame(rows, dtype="str")


def _told(text: str, line: WorkLine) -> str:
    return spoken(say.shown(text, LONGEST_PART), (line.tag, line.where, *line.explains))
