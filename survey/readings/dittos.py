"""Ditto marks in what people wrote: 'the same as above' put in words."""

from __future__ import annotations

import re
from typing import Any

import numpy as np

_MARKS = ('"', "''", "″", "〃", '-"-', "ditto")
_ANY_CASE = sorted({form for mark in _MARKS for form in (mark, mark.title(), mark.upper())})
# As they stand in a CSV's bytes, where a quote is doubled between quotes.
_QUOTED = ['"[ ]*' + re.escape(mark.replace('"', '""')) + '[ ]*"' for mark in _MARKS]
_BARE = [re.escape(mark) for mark in _MARKS if not mark.startswith('"')]
_CELL = re.compile(
    rb"(?im)(?:^|[,;\t|])[ ]*(?:%b)[ ]*(?:[,;\t|\r]|$)" % "|".join([*_QUOTED, *_BARE]).encode()
)
_WORDS = (b"itto", b"ITTO")
_SIGNS = tuple(part.encode() for part in ('""""', '-""-', '-"-', "''", "″", "〃"))
LONGEST_BYTES = 64
"""A mark with the ends of its cell is no longer than this."""


def fill_dittos(cells: Any) -> tuple[Any, str | None]:
    """Put in the place of each ditto mark what stands above it.

    That is the nearest cell above that is neither blank nor a ditto mark; a mark with none above
    it stays.

    Parameters
    ----------
    cells
        A pyarrow Table of text, rows that are no rows taken out.

    Returns
    -------
    pyarrow.Table
        The same columns.
    str or None
        What was done, for a person to know.
    """
    import pyarrow as pa

    done: dict[str, int] = {}
    for at, name in enumerate(cells.column_names):
        filled, count = _filled(cells.column(at))
        if count:
            cells = cells.set_column(at, name, pa.array(filled, pa.string()))
            done[name] = count
    if not done:
        return cells, None
    told = ", ".join(f"{name!r} ({count:,})" for name, count in done.items())
    return cells, f"ditto marks were taken for what stands above them, in {told}"


def _filled(column: Any) -> tuple[Any, int]:
    """Return a column with its marks filled, and how many they are; None where there is none."""
    import pyarrow as pa
    import pyarrow.compute as pc

    trimmed = pc.utf8_trim_whitespace(column)
    marked = pc.is_in(trimmed, value_set=pa.array(_ANY_CASE)).to_numpy()
    if not marked.any():
        return None, 0
    rows = np.arange(len(marked))
    tells = ~marked & pc.fill_null(pc.not_equal(trimmed, ""), False).to_numpy()
    above = np.maximum.accumulate(np.where(tells, rows, -1))
    marked &= above >= 0
    words = column.to_numpy()
    return np.where(marked, words[np.maximum(above, 0)], words), int(marked.sum())


def may_hold_dittos(text: bytes) -> bool:
    """Say whether a piece of a CSV file has a cell that is a ditto mark."""
    # Looked for first is what most files have none of: single bytes are found soonest.
    plain = text.isascii() and b'"' not in text and b"'" not in text
    hints = _WORDS if plain else (*_WORDS, *_SIGNS)
    return any(hint in text for hint in hints) and _CELL.search(text) is not None
