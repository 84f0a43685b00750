"""Rows as pass one tidied them, kept for pass two where memory allows."""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence

import pandas as pd
import pyarrow as pa

from survey.readings.tidy import text_series

MOST_BYTES = 256 * 2**20
"""As many as some million rows take; a round of more is read and tidied again."""


class TidiedRows:
    """The rows of a round, tidied, all of them or none; given back in order, and not kept then."""

    def __init__(self, most_bytes: int) -> None:
        self._room = most_bytes
        self._tables: deque[pd.DataFrame] = deque()

    def add(self, table: pd.DataFrame) -> None:
        """Keep the next rows; where all so far are more than there is room for, keep none.

        The most memory is taken later, by what is kept of every row: a part of a large round would
        save little and stand on top of that.
        """
        self._room -= int(table.memory_usage(index=False).sum())
        if self.kept:
            self._tables.append(table)
        else:
            self._tables.clear()

    @property
    def kept(self) -> bool:
        """Whether there was room for all rows so far."""
        return self._room >= 0

    def take(self, count: int) -> pd.DataFrame:
        """Return the next rows of those kept."""
        taken: list[pd.DataFrame] = []
        while count:
            table = self._tables.popleft()
            taken.append(table.iloc[:count])
            if len(table) > count:
                self._tables.appendleft(table.iloc[count:])
            count -= len(taken[-1])
        return joined(taken)


def joined(tables: Sequence[pd.DataFrame]) -> pd.DataFrame:
    """Return tidy tables one after another, their texts in one piece of memory as of one table."""
    if len(tables) == 1:
        return tables[0].reset_index(drop=True)
    whole = pd.concat(tables, ignore_index=True)
    texts = whole.columns[whole.dtypes == "str"]
    return whole.assign(**{name: text_series(one_piece(pa.array(whole[name]))) for name in texts})


def one_piece(array: pa.Array | pa.ChunkedArray) -> pa.Array:
    """Return an array of a column, which is of several pieces, or of none, at times."""
    return array.combine_chunks() if isinstance(array, pa.ChunkedArray) else array
