"""Where the table stands in a grid of text: titles above, a units row under, stray lines in it."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from survey.readings.headers import recognised
from survey.readings.limits import (
    HEADER_SEARCH_ROWS,
    MAX_HEADER_CHARACTERS,
    SAMPLE_ROWS,
)
from survey.readings.model import HeaderMap
from survey.readings.units import is_unit

Row = Sequence[str]
_UNIT_FILLERS = frozenset(
    {
        "",
        "-",
        "–",
        "—",
        "text",
        "unit",
        "units",
        "unit:",
        "units:",
        "name",
        "id",
        "no",
        "no.",
        "#",
        "y/n",
        "yes/no",
        "date",
        "none",
        "n/a",
    }
)
_LONGEST_UNIT = 14
_DIGITS_ONLY = re.compile(r"^\s*-?\d[\d.,]*\s*$")
_HAS_DIGIT = re.compile(r"\d(?<!in2)(?<!cm2)")


@dataclass(frozen=True)
class Layout:
    """Where the header is, what it says, and where the rows start, as indexes into the grid."""

    header_at: int
    headers: tuple[str, ...]
    unnamed: frozenset[str]
    units: Mapping[str, str]
    rows_at: int
    known: int
    notes: tuple[str, ...]


def find_layout(grid: Sequence[Row], header_map: HeaderMap | None = None) -> Layout | None:
    """Find the header in the top of a grid; None if no row could be one.

    The row with most recognised headers is it, the first of equals; where none is recognised,
    the first row as wide as most. What stands in a column of several rows is no header of it, be
    it the word for one: 'trap', in a sheet whose own headers are not understood.
    """
    best, known = -1, 0
    rows = {tuple(row) for row in grid[:SAMPLE_ROWS]}  # a header given twice counts once
    often = Counter((at, cell) for row in rows for at, cell in enumerate(row))
    for position, row in enumerate(grid[:HEADER_SEARCH_ROWS]):
        once = {cell for at, cell in enumerate(row) if cell.strip() and often[at, cell] < 2}
        count = sum(recognised(cell, header_map) for cell in once)
        count -= sum(bool(_DIGITS_ONLY.match(cell)) for cell in set(row))  # a row of readings
        if count > known:
            best, known = position, count
    if known == 0:
        best = _first_wide_row(grid)
    if best < 0:
        return None
    return _layout_at(grid, best, known)


def _first_wide_row(grid: Sequence[Row]) -> int:
    filled = [sum(bool(cell.strip()) for cell in row) for row in grid[:SAMPLE_ROWS]]
    widths = sorted(count for count in filled if count)
    if not widths or widths[-1] < 2:
        return -1
    usual = widths[len(widths) // 2]
    return next((i for i, count in enumerate(filled) if count >= max(2, usual)), -1)


def _layout_at(grid: Sequence[Row], at: int, known: int) -> Layout:
    headers, unnamed = unique_headers(grid[at])
    units: dict[str, str] = {}
    rows_at = at + 1
    near = range(at + 1, min(at + 3, len(grid)))
    below = next((i for i in near if any(map(str.strip, grid[i]))), None)
    if below is not None and is_units_row(grid[below]):
        under = zip(headers, grid[below], strict=False)
        units = {header: strip_brackets(unit) for header, unit in under if unit.strip()}
        rows_at = below + 1
    titles = [", ".join(" ".join(c.split()) for c in row if c.strip()) for row in grid[:at]]
    return Layout(at, headers, unnamed, units, rows_at, known, tuple(_title_notes(titles)))


def _title_notes(titles: Sequence[str]) -> list[str]:
    said = [title for title in titles if title and not title.lower().startswith("sep=")]
    if not said:
        return []
    count = "one title line" if len(said) == 1 else f"{len(said)} title lines"
    return [f"{count} above the header skipped: {'; '.join(said)[:200]!r}"]


def unique_headers(row: Row) -> tuple[tuple[str, ...], frozenset[str]]:
    """Return a name for each column, repeated and blank ones numbered, and the blank ones."""
    names: list[str] = []
    unnamed = set()
    taken: set[str] = set()
    repeats: dict[str, int] = {}
    for position, cell in enumerate(row, start=1):
        bare = " ".join(cell.split())[:MAX_HEADER_CHARACTERS]
        base = bare or f"column {position}"
        name = base
        while name in taken:
            repeats[base] = repeats.get(base, 1) + 1
            name = f"{base} ({repeats[base]})"
        taken.add(name)
        names.append(name)
        if not bare:
            unnamed.add(name)
    return tuple(names), frozenset(unnamed)


def strip_brackets(text: str) -> str:
    """Take one pair of brackets off a unit cell, as '(psig)'; 'bar(g)' keeps its own."""
    text = text.strip()
    if len(text) > 2 and text[0] in "([" and text[-1] in ")]":
        return text[1:-1].strip()
    return text


def is_units_row(row: Row) -> bool:
    """Say whether a row holds units: one at least, no digits, nothing long."""
    cells = [cell.strip() for cell in row]
    if any(len(cell) > _LONGEST_UNIT or _HAS_DIGIT.search(cell) for cell in cells):
        return False
    told = [cell for cell in cells if cell.casefold() not in _UNIT_FILLERS]
    units = sum(is_unit(strip_brackets(cell)) for cell in told)
    return units > 0 and units * 2 >= len(told)
