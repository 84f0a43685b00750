"""Lines in a table that are no rows of it: blank, the header again, totals; and misfits."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np

from survey.readings.faults import Faults, Mask, faulty_rows
from survey.readings.layout import Layout
from survey.readings.limits import MAX_CELL_CHARACTERS

TOTALS_REASON = "a line of totals, not a device"
"""Why a line that someone added up is set aside; reports count such lines by it."""
_TOTALS = (
    # A number after the word needs a word after it, '40 traps': 'Count 5' may be a tag.
    r"(?i)^\s*(?:(?:(?:grand |sub-? ?)?totals?|average|mean|sum|count)"
    r"(?:\s*[:=].*|\s+\D.*|\s+\d[\d.,]*\s+\pL{2}.*|\s*)"
    r"|(?:(?:zwischen|gesamt)?summe|mittelwert|totale|somme|moyenne|suma)(?:\s*[:=].*|\s*))$"
)
_TOTALS_LAST = r"(?i)^.{0,60}\s(?:grand |sub-? ?)?totals?\s*:?\s*$"
"""As in 'Laundry subtotal': in a first cell, this tells only where no tag stands."""


class Misfits:
    """Rows with more cells than the header, gathered as they are read."""

    def __init__(self, width: int) -> None:
        self.width = width
        self.positions: list[int] = []
        self.values: list[str] = []
        self.reasons: list[str] = []

        self.seen = 0

    def fit_all(self, rows: list[list[str]]) -> list[list[str]]:
        """Pad or cut rows to the header's width; note what is cut if it is not blank."""
        start, self.seen = self.seen, self.seen + len(rows)
        if set(map(len, rows)) == {self.width}:
            return rows
        return [self._fit(row, start + at) for at, row in enumerate(rows)]

    def _fit(self, row: list[str], position: int) -> list[str]:
        if len(row) <= self.width:
            return row + [""] * (self.width - len(row))
        extra = ", ".join(filter(str.strip, row[self.width :]))
        if extra:
            self.positions.append(position)
            self.values.append(extra)
            self.reasons.append(f"{len(row)} cells where the header has {self.width}")
        return row[: self.width]

    def faults(self) -> list[Faults]:
        """Return what was noted."""
        import pyarrow as pa

        if not self.positions:
            return []
        values, reasons = pa.array(self.values, pa.string()), pa.array(self.reasons, pa.string())
        return [Faults.of(self.positions, "", reasons, values)]


def drop_strays(
    cells: Any, lines: Any, faults: list[Faults], found: Layout
) -> tuple[Any, Any, list[Faults]]:
    """Take out rows that are no rows and columns that have neither name nor content."""
    faults = [*faults, *_long_cells(cells)]
    stray = _stray_rows(cells, found) & ~faulty_rows(faults, len(cells))
    if stray.any():
        shift = np.cumsum(stray)
        faults = [group.moved(group.positions - shift[group.positions]) for group in faults]
        cells, lines = cells.filter(~stray), lines[~stray]
    empty = [name for name in found.unnamed if is_blank(cells.column(name))]
    return cells.drop_columns(empty) if empty else cells, lines, faults


def is_blank(column: Any) -> bool:
    """Say whether no cell of a column has anything in it."""
    import pyarrow.compute as pc

    return not pc.any(pc.not_equal(pc.utf8_trim_whitespace(column), "")).as_py()


def _long_cells(cells: Any) -> list[Faults]:
    import pyarrow.compute as pc

    faults = []
    for name in cells.column_names:
        lengths = pc.binary_length(cells.column(name))
        if (pc.max(lengths).as_py() or 0) <= MAX_CELL_CHARACTERS:
            continue
        at = np.flatnonzero(pc.greater(lengths, MAX_CELL_CHARACTERS).to_numpy())
        reason = f"longer than {MAX_CELL_CHARACTERS:,} characters"
        faults.append(Faults.of(at, name, reason, cells.column(name).combine_chunks().take(at)))
    return faults


def _stray_rows(cells: Any, found: Layout) -> Mask:
    """Mark the rows that are no rows: blank all through, or the header or units over again."""
    stray = _blank_rows(cells) | _rows_equal(cells, found.headers)
    if found.units:
        units = [found.units.get(header, "") for header in found.headers]
        stray |= _rows_equal(cells, units, strip=True)
    return stray


def totals_rows(cells: Any, tag_header: str | None) -> Mask:
    """Mark the rows whose tag, or first cell, says that they are a total."""
    import pyarrow.compute as pc

    first = cells.column_names[0]
    tag = cells.column(tag_header or first)
    untagged = pc.equal(pc.utf8_trim_whitespace(tag), "")
    named = pc.if_else(untagged, cells.column(first), tag)
    found: Mask = pc.match_substring_regex(named, _TOTALS_LAST).to_numpy()
    for header in {first, tag_header or first}:
        found = found | pc.match_substring_regex(cells.column(header), _TOTALS).to_numpy()
    return found


def _blank_rows(cells: Any) -> Mask:
    import pyarrow.compute as pc

    blank = np.ones(len(cells), dtype=bool)
    for column in cells.columns:
        if not blank.any():
            break
        blank &= pc.equal(pc.utf8_trim_whitespace(column), "").to_numpy()
    return blank


def _rows_equal(cells: Any, words: Iterable[str], *, strip: bool = False) -> Mask:
    import pyarrow.compute as pc

    equal = np.ones(len(cells), dtype=bool)
    told = False
    for column, word in zip(cells.columns, words, strict=True):
        if not equal.any():
            break
        if not word:
            continue
        told = True
        trimmed = pc.utf8_trim_whitespace(column)
        if strip:
            trimmed, word = pc.utf8_trim(trimmed, "()[]"), word.strip("()[]")
        equal &= pc.equal(trimmed, word).to_numpy()
    return equal if told else np.zeros(len(cells), dtype=bool)
