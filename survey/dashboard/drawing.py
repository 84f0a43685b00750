"""Charts on the screen: the same pictures as on paper, set into the page as SVG.

They need no script and no download, keep the size of the page's text on a phone, and take their
colours from the page, light or dark. Streamlit strips SVG from plain HTML, so they go through its
Markdown, in a block that Markdown leaves alone; whatever could mean something to it is written
as a number besides.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

import pandas as pd
import streamlit as st

from survey.dashboard import say
from survey.dashboard.wording import findings_words, screen_words
from survey.reports import charts, words
from survey.reports.pictures import Picture
from survey.reports.spoken import spoken
from survey.reports.units import marks

_BETWEEN_TAGS = re.compile(r">([^<>]+)<")
_MEANS_SOMETHING = re.compile(r"[!#$()*:\[\\\]_`|~]|&(?![#\w]+;)")
_SPACES = re.compile(r"\s+")


def svg(drawn: str) -> None:
    """Set an SVG made by this package into the page; its texts are already escaped."""
    st.markdown(f'<div class="drawn">{inert(drawn)}</div>', unsafe_allow_html=True)


def inert(drawn: str) -> str:
    """Return an SVG on one line, its texts without a character that Markdown would act on."""
    flat = _SPACES.sub(" ", str(drawn))
    return _BETWEEN_TAGS.sub(lambda found: f">{_as_numbers(found[1])}<", flat)


def _as_numbers(text: str) -> str:
    return _MEANS_SOMETHING.sub(lambda mark: f"&#{ord(mark[0])};", text)


def picture(shown: Picture) -> None:
    """Draw a picture: its title, the sentence that says what it shows, the chart, its figures."""
    rows = pd.DataFrame(list(shown.rows), columns=list(shown.heads), dtype="str")
    figure(shown.title, shown.sentence, shown.chart, rows, shown.more)


def figure(title: str, sentence: str, drawn: str, rows: pd.DataFrame, more: int = 0) -> None:
    """Draw a chart under its title and its sentence, with the same figures as a table."""
    st.subheader(say.escaped(title), anchor=False)
    say.text(sentence)
    svg(drawn)
    twin(rows, more)


def twin(rows: pd.DataFrame, more: int = 0) -> None:
    """Draw the figures of a chart as a table, folded up."""
    with st.expander(screen_words.SAME_AS_TABLE):
        say.table(rows)
        if more:
            st.markdown(screen_words.MORE_IN_FINDINGS.format(count=words.whole(more)))


def added_up(curve: pd.DataFrame, flattens_at: int, said: str) -> None:
    """Draw cost added up over the units, dearest first, and say where it flattens."""
    st.markdown(said)
    heading, shares = findings_words.ADDED_UP_CHART, curve["share"].tolist()
    svg(charts.curve("added", heading, said, shares, flattens_at))


def temperatures(row: pd.Series) -> None:
    """Draw what was read on one unit against what it is held to; nothing where nothing was."""
    shown = marks({str(name): value for name, value in row.items()})
    if shown:
        said = findings_words.DOTS_AND_STROKES
        st.markdown(said)
        svg(charts.temperatures("unit", findings_words.TEMPERATURES_CHART, said, shown))


def told(text: object, names: Sequence[object] = ()) -> str:
    """Return a sentence of the round in the units shown, names in it left as they are."""
    return spoken(words.tidy(text, say.LONGEST), [words.tidy(name) for name in names])
