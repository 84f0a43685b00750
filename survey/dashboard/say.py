"""Text on the screen: whatever came out of a file is shown as text, never taken for markup.

Streamlit takes Markdown in labels, headings, captions, notices and static tables. Only words
written in this package go there; everything else goes through `text` or a data frame.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

import pandas as pd
import streamlit as st
from markupsafe import Markup

from survey.dashboard.wording import screen_words
from survey.errors import SurveyError
from survey.reports import words
from survey.writing import printable

LONGEST = 4000
LONGEST_CELL = 400
_TABLE = Markup(
    '<div class="told{}" tabindex="0" role="region" aria-label="{}"><table><thead><tr>{}</tr>'
    "</thead><tbody>{}</tbody></table></div>"
)
_HEAD, _ROW = Markup('<th scope="col">{}</th>'), Markup("<tr>{}</tr>")
_CELL = Markup('<td data-head="{}">{}</td>')
_MOST_ON_A_PHONE = 4
_BEFORE_A_LINK = re.compile(r":(?=//)|www(?=\.)|@", re.IGNORECASE)
_NOT_SEEN = "\u2060"  # a word joiner
_PUNCTUATION = re.compile(r"([!-/:-@\[-`{-~])")


def text(said: object) -> None:
    """Show words as they are, cut where they would fill the screen many times over.

    Where they name a command that has its button here, they name the button.
    """
    whole = str(said)
    for typed, button in screen_words.ON_THE_SCREENS.items():
        whole = whole.replace(typed, button)
    st.text(shown(whole), width="stretch")


def shown(said: object, longest: int = LONGEST) -> str:
    """Return words without control and text-direction characters, cut to a length."""
    clean = printable(str(said))
    return clean if len(clean) <= longest else clean[: longest - 1] + "…"


def escaped(said: object) -> str:
    """Return words for the few places that read Markdown and have no plain twin.

    An address in them is no link: Streamlit makes one even of letters that are escaped, unless
    something stands between them that is not seen.
    """
    flat = _BEFORE_A_LINK.sub(f"\\g<0>{_NOT_SEEN}", shown(said, 120).replace("\n", " "))
    return _PUNCTUATION.sub(r"\\\1", flat)


def items(lines: object) -> None:
    """Show several lines of text, one after the other; nothing for none."""
    for line in lines if isinstance(lines, list | tuple) else []:
        text(screen_words.ITEM.format(said=shown(line)))


def table(rows: pd.DataFrame, heads: Mapping[str, str] | None = None) -> None:
    """Show a short table whole: cells wrap, and on a phone a wide one stands row under row.

    Parameters
    ----------
    rows
        Texts and numbers as they are to be read.
    heads
        What to head a column with, where its name will not do.
    """
    names = [shown((heads or {}).get(str(name), name), LONGEST_CELL) for name in rows.columns]
    body = Markup("").join(
        _ROW.format(
            Markup("").join(
                _CELL.format(name, shown(cell, LONGEST_CELL))
                for name, cell in zip(names, row, strict=True)
            )
        )
        for row in rows.itertuples(index=False, name=None)
    )
    label = shown(screen_words.TABLE_OF.format(heads=", ".join(filter(None, names))), LONGEST_CELL)
    many = " many" if len(names) > _MOST_ON_A_PHONE else ""
    st.html(_TABLE.format(many, label, Markup("").join(_HEAD.format(n) for n in names), body))


def cautions() -> None:
    """Show what holds before anything is opened or adjusted, folded up."""
    with st.expander(screen_words.CAUTIONS):
        items(list(words.CAUTION_POINTS))


def problem(error: Exception) -> None:
    """Show an error in words: what was expected, what was found, where, what to do."""
    if not isinstance(error, SurveyError):
        st.error(screen_words.NOT_FORESEEN)
        text(screen_words.NOT_FORESEEN_DO)
        return
    st.error(screen_words.NOT_DONE)
    parts = (
        ("{said}", error.expected),
        (screen_words.FOUND, error.found),
        (screen_words.WHERE, error.where),
        (screen_words.DO, error.do),
    )
    for whole, part in parts:
        if part:
            text(whole.format(said=shown(part, 600)))
