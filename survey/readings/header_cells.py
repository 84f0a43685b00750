"""What the first cells under a header tell of the column that it names."""

from __future__ import annotations

import re
from collections.abc import Sequence

from survey.columns import INPUT_BY_NAME
from survey.readings.cells import read_number
from survey.readings.units import Unit, is_unit
from survey.readings.words import CHOICE_WORDS, NOTED_CHOICES, is_missing, plain

_SEVERAL = 2
_A_DAY = re.compile(r"\d|1\d|2[0-4]")  # hours a day, not a year
_ENOUGH = 0.6  # share of sample cells that must read as a column's kind to choose it


def types_and_devices(columns: Sequence[str], cells: Sequence[str]) -> list[str]:
    """Take a column of trap types that lists other devices too for trap types: both are read."""
    given = _given(cells)
    if set(columns) != {"trap_type", "device"} or not _share("trap_type", given):
        return []
    both = _share("trap_type", given) + _share("device", given)
    return ["trap_type"] if both >= _ENOUGH else []


def unit_in_cells(column: str, cells: Sequence[str]) -> Unit | None:
    """Return the unit that stands behind every number of a column's first cells, if it is one."""
    read = [read_number(cell, column, ".") for cell in _given(cells)]
    units = {number.unit for number in read if not number.reason}
    return units.pop() if len(units) == 1 else None


def by_cells(columns: Sequence[str], cells: Sequence[str]) -> list[str]:
    """Return which of several columns the first cells read as; all text ones where none does."""
    given = _given(cells)
    kinds = {column: INPUT_BY_NAME[column].kind for column in columns}
    fitting = [c for c in columns if kinds[c] != "text" and _share(c, given) >= _ENOUGH]
    return fitting or [column for column in columns if kinds[column] == "text"] or list(columns)


def may_be(column: str, cells: Sequence[str]) -> bool:
    """Say whether nothing in the first cells speaks against their being of a column."""
    given = _given(cells)
    return not given or _share(column, given) >= _ENOUGH


def none_reads(column: str, cells: Sequence[str]) -> bool:
    """Say whether of several first cells none reads as a column of numbers or of choices.

    Of a kind of trap or service makers have names without end, so that these tell nothing.
    """
    given = _given(cells)
    if len(given) < _SEVERAL or INPUT_BY_NAME[column].kind not in ("number", "choice"):
        return False
    if column == "hours_per_year" and all(_A_DAY.fullmatch(cell.strip()) for cell in given):
        return True
    others = ["trap_type"] if column == "device" else []
    return column not in NOTED_CHOICES and not any(_share(c, given) for c in (column, *others))


def seem_units(cells: Sequence[str]) -> bool:
    """Say whether at least half of the first cells are units."""
    given = _given(cells)
    return bool(given) and 2 * sum(map(is_unit, given)) >= len(given)


def _given(cells: Sequence[str]) -> list[str]:
    return [cell for cell in cells if not is_missing(cell)]


def _share(column: str, cells: Sequence[str]) -> float:
    if not cells:
        return 0.0
    if INPUT_BY_NAME[column].kind == "choice":
        good = sum(plain(cell) in CHOICE_WORDS[column] for cell in cells)
    else:
        good = sum(not read_number(cell, column, ".").reason for cell in cells)
    return good / len(cells)
