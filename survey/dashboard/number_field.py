"""A number to type, with the decimal mark that stands beside it on the screen.

A browser's own number field writes and reads numbers as the *browser's* language does, and drops
the other mark: '7,25' typed into an English browser is 725. So it is used where the browser and
the figures on the screen agree on the mark; elsewhere a text field is, read as the screen writes.
"""

from __future__ import annotations

from typing import overload

import streamlit as st

from survey.dashboard import say
from survey.dashboard.wording import screen_words
from survey.errors import UsageError
from survey.readings.cells import digits_to_float
from survey.reports import manner, numerals, words

_LONGEST = 24


@overload
def number_field(
    label: str, *, key: str, low: float, high: float, usual: float, step: float | None = None
) -> float: ...


@overload
def number_field(
    label: str, *, key: str, low: float, high: float, placeholder: str = ""
) -> float | None: ...


def number_field(
    label: str,
    *,
    key: str,
    low: float,
    high: float,
    usual: float | None = None,
    step: float | None = None,
    placeholder: str = "",
) -> float | None:
    """Draw the field; return the number, or ``usual`` where none that can be used is typed.

    Parameters
    ----------
    key
        Under which the session keeps the number.
    low, high
        The least and the largest number that is taken.
    step
        What one press on the browser's own field adds.
    """
    if _browser_mark() == numerals.decimal_mark():
        value: float | None = st.number_input(
            label, min_value=low, max_value=high, value=usual, step=step, key=key,
            placeholder=placeholder or None,
        )  # fmt: skip
        return value
    box, box_holds = f"typed_{key}", f"typed_{key}_is"
    kept = st.session_state.get(key, usual)
    if box not in st.session_state or st.session_state.get(box_holds) != kept:
        st.session_state[box] = "" if kept is None else words.plain(kept)
    typed = st.text_input(label, key=box, max_chars=_LONGEST, placeholder=placeholder or None)
    typed = typed.strip()
    if kept is None or typed != words.plain(kept):  # unchanged, it keeps the digits not shown
        kept = _read(typed, low, high)
    kept = usual if kept is None else kept
    st.session_state[key] = st.session_state[box_holds] = kept
    return kept


def forget(key: str) -> None:
    """Empty the field of this key when it is drawn next."""
    for name in (key, f"typed_{key}", f"typed_{key}_is"):
        st.session_state.pop(name, None)


def _read(typed: str, low: float, high: float) -> float | None:
    """Return the number typed; where it cannot be used, say so and return None."""
    if not typed:
        return None
    value = digits_to_float(typed.replace("−", "-"), numerals.decimal_mark())
    if value is None or not low <= value <= high:
        span = screen_words.RANGE.format(low=words.plain(low), high=words.plain(high))
        st.error(screen_words.NUMBER_NOT_USED.format(typed=say.escaped(typed), span=span))
        return None
    return value


def _browser_mark() -> str:
    try:
        return numerals.decimal_mark(str(st.context.locale or manner.DEFAULT_LOCALE))
    except UsageError:
        return numerals.decimal_mark(manner.DEFAULT_LOCALE)
