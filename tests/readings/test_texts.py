"""Columns of any kind as text, and text made fit to show."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pyarrow as pa
import pytest

from survey.readings.texts import as_text, clean_text, clean_word

MOMENT = dt.datetime(2025, 11, 3, 14, 5, 6)


@pytest.mark.parametrize(
    ("array", "texts"),
    [
        (pa.array(["a", None]), ["a", None]),
        (pa.array(["b", "a", None, "b"]).dictionary_encode(), ["b", "a", None, "b"]),
        (pa.array([True, False, None]), ["yes", "no", None]),
        (pa.array([101.0, 0.5, None, -3.0]), ["101", "0.5", None, "-3"]),
        (pa.array([0.25, 1.5]), ["0.25", "1.5"]),
        (pa.array([1e15, 999999999999999.0]), ["1e+15", "999999999999999"]),
        (pa.array([7, None], pa.int64()), ["7", None]),
        (pa.array([7.0, 0.1], pa.float32()), ["7", "0.10000000149011612"]),
        (pa.array([MOMENT, None]), ["2025-11-03T14:05:06", None]),
        (pa.array([MOMENT], pa.timestamp("us", tz="UTC")), ["2025-11-03T14:05:06Z"]),
        (pa.array([MOMENT.replace(microsecond=5)]), ["2025-11-03T14:05:06.000005"]),
        (pa.array([None], pa.timestamp("us")), [None]),
        (pa.array([dt.date(2025, 11, 3)]), ["2025-11-03"]),
        (pa.array([b"ab", None]), ["ab", None]),
        (pa.array([b"\xffab", None, b"c"]), ["\ufffdab", None, "c"]),
        (pa.nulls(2), [None, None]),
        (pa.chunked_array([["a"], [], ["b"]]), ["a", "b"]),
        (pa.chunked_array([], pa.string()), []),
        (pa.chunked_array([["a", "b"]]), ["a", "b"]),
        (pa.array([dt.timedelta(seconds=5)]), None),
    ],
)
def test_what_a_cell_said(array: Any, texts: list[str | None] | None) -> None:
    found = as_text(array)
    assert found.type == pa.string()
    if texts is not None:
        assert found.to_pylist() == texts
    else:
        assert all(found.to_pylist())


DIRTY = {
    "  a b ": "a b",
    "a\tb\nc": "a b c",
    "a\x00b\x1b[31m": "ab[31m",
    "\u202eab\u2066c\u200b\ufeff": "abc",
    "a  b": "a b",
    "a\x7fb\x9bc": "abc",
    "é\u00a0ü": "é ü",
    "   ": None,
    "\u200b": None,
    "": None,
    "plain": "plain",
    " ": None,
}


def test_text_is_made_fit_to_show() -> None:
    typed = [*DIRTY, None, "two words"]
    assert clean_text(pa.array(typed)).to_pylist() == [*DIRTY.values(), None, "two words"]
    # Alone as well: columns with nothing to clean take a quicker way.
    for word, clean in DIRTY.items():
        assert clean_text(pa.array([word])).to_pylist() == [clean]
        assert clean_text(pa.array(["x", "x", word])[2:]).to_pylist() == [clean]
        assert clean_text(pa.array(["x", word, "x"])[:1]).to_pylist() == ["x"]
    assert clean_text(pa.array([], pa.string())).to_pylist() == []
    assert clean_text(pa.array([None, None], pa.string())).to_pylist() == [None, None]


def test_lines_are_kept_where_they_may_be() -> None:
    assert clean_word("a\r\nb\rc\x00 ", one_line=False) == "a\nb\nc"
    assert clean_text(pa.array(["a\nb\x1b", "c"]), one_line=False).to_pylist() == ["a\nb", "c"]
    assert clean_word("a\r\nb\rc\x00 ") == "a b c"
