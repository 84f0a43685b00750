"""What the stages of reading hand to one another."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np
import numpy.typing as npt
import pandas as pd

from survey.readings.faults import Faults
from survey.readings.spellings import Spellings

How = Literal["exact", "by name and unit", "unit assumed", "set by map", "kept as it is"]
Lines = npt.NDArray[np.int64]
HeaderMap = Mapping[str, str]


@dataclass(frozen=True)
class HeaderMatch:
    """How one header was understood.

    Parameters
    ----------
    header
        As written in the file; a repeated one carries a number, as ``dB (2)``.
    column
        The column of a round that it fills; None where it is kept as it is.
    unit
        Unit of its numbers, as the table of units spells it; empty for text and choices.
    how
        'exact', 'by name and unit', 'unit assumed', 'set by map' or 'kept as it is'.
    sample
        Its first cell that is not blank, as given.
    """

    header: str
    column: str | None
    unit: str
    how: How
    sample: str = ""


@dataclass(frozen=True)
class Understanding:
    """What a file's headers were taken for, and what a person should know or decide."""

    matches: tuple[HeaderMatch, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True)
class RawTable:
    """One table as it stood in a file, nothing converted.

    Parameters
    ----------
    name
        What to call it to a person: the file's name, and the sheet's.
    cells
        A pyarrow Table, one column per header, headers unique.
    lines
        Line in the file of each row.
    units
        Unit row under the header, header to spelling; empty where there was none.
    decimal
        '.' or ',': how its text writes decimals.
    faults
        Rows that do not fit the table, such as one with too many cells.
    notes
        What was skipped or taken for granted in reading it.
    is_text
        Whether people may have written lines of their own in it, such as totals.
    """

    name: str
    cells: Any
    lines: Lines
    units: Mapping[str, str] = field(default_factory=dict)
    decimal: str = "."
    faults: tuple[Faults, ...] = ()
    notes: tuple[str, ...] = ()
    is_text: bool = False

    @property
    def headers(self) -> list[str]:
        """The headers, in file order."""
        return list(self.cells.column_names)


@dataclass(frozen=True)
class Tidied:
    """A table in contract columns and units, faulty rows still in it, and its faults.

    `spellings` counts words that were read leniently, and names of places; `doubtful_dates`
    counts times whose day and month cannot be told apart.
    """

    table: pd.DataFrame
    faults: list[Faults]
    spellings: Spellings
    doubtful_dates: int = 0


@dataclass(frozen=True)
class Round:
    """A round of readings, checked.

    Parameters
    ----------
    table
        One row per row to judge: every input column, contract order and units. Numbers are
        float64 with NaN where missing, choices are categorical, text is of the str dtype.
    originals
        Same index: every input column whose header is not the contract's own, as typed.
    given
        The input headers in file order.
    lines
        Line in the file of each row of `table`.
    rejects
        One line per row set aside: row, column, value, reason, then the row as given.
    matches
        How each header was understood.
    rows_read
        Always ``len(table) + len(rejects)``.
    notes
        Things a person should know, in words.
    """

    table: pd.DataFrame
    originals: pd.DataFrame
    given: tuple[str, ...]
    lines: Lines
    rejects: pd.DataFrame
    matches: tuple[HeaderMatch, ...]
    rows_read: int
    notes: tuple[str, ...]
