"""Text on the screen: whatever came out of a file is shown as text, never taken for markup.

Streamlit takes Markdown in labels, headings, captions, notices and static tables. Only words
written in this package go there; everything else goes through `text` or a data frame.
"""

from __future__ import annotations

import re

import streamlit as st

from survey.errors import SurveyError
from survey.writing import printable

LONGEST = 4000
_PUNCTUATION = re.compile(r"([!-/:-@\[-`{-~])")


def text(words: object) -> None:
    """Show words as they are, cut where they would fill the screen many times over."""
    st.text(shown(words), width="stretch")


def shown(words: object, longest: int = LONGEST) -> str:
    """Return words without control and text-direction characters, cut to a length."""
    clean = printable(str(words))
    return clean if len(clean) <= longest else clean[: longest - 1] + "…"


def escaped(words: object) -> str:
    """Return words for the few places that read Markdown and have no plain twin."""
    return _PUNCTUATION.sub(r"\\\1", shown(words, 120).replace("\n", " "))


def items(lines: object) -> None:
    """Show several lines of text, one after the other; nothing for none."""
    for line in lines if isinstance(lines, list | tuple) else []:
        text(f"• {shown(line)}")


def problem(error: Exception) -> None:
    """Show an error in words: what was expected, what was found, where, what to do."""
    if not isinstance(error, SurveyError):
        st.error("Something went wrong that this program did not foresee. Your file is unchanged.")
        text("What to do: try the file on its own, and report what it was if it happens again.")
        return
    st.error("This could not be done.")
    parts = (
        ("", error.expected),
        ("Found: ", error.found),
        ("Where: ", error.where),
        ("What to do: ", error.do),
    )
    for label, part in parts:
        if part:
            text(f"{label}{shown(part, 600)}")
