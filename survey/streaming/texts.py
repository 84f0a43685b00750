"""The rows of a file of text, at hand more than once: put by on the disk, or held where need be."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from survey.readings.delimited import read_delimited
from survey.readings.model import HeaderMap, Lines, RawTable
from survey.readings.spooling import Spill, Spool, spooled


@dataclass(frozen=True)
class Held:
    """The rows of a file that could only be read whole; used as a `Spool` is."""

    top: RawTable

    @property
    def rows(self) -> int:
        """Rows in the file."""
        return len(self.top.cells)

    def lines(self, rows: np.ndarray) -> Lines:
        """Return the line of the file that each row is on."""
        result: Lines = self.top.lines[rows]
        return result

    def tables(self, skip: int = 0) -> Iterator[RawTable]:
        """Give the rows from one on."""
        yield replace(self.top, cells=self.top.cells.slice(skip), lines=self.top.lines[skip:])


Text = Spool | Held


def text_of(path: Path, named: HeaderMap, spill: Spill | None) -> Text:
    """Read a file of text once.

    Parameters
    ----------
    spill
        Where its cells may go; None holds them in memory.

    Raises
    ------
    UnreadableFile
        As `readings.read_round` does.
    """
    put_by = spooled(path, header_map=named, spill=spill) if spill else None
    return put_by or Held(read_delimited(path, header_map=named))
