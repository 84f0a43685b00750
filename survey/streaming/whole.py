"""Columns of a whole round, filled as its batches come, so that no batch need be kept for them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np
import pandas as pd


class WholeColumns(Mapping[str, Any]):
    """Columns of a known number of rows.

    Each is one piece of memory from the start: kept as they come and joined at the end, batches
    would take twice as much, and what they leave is not handed back.

    Parameters
    ----------
    rows
        Rows of the whole round.
    """

    def __init__(self, rows: int) -> None:
        self.rows = rows
        self._arrays: dict[str, np.ndarray] = {}
        self._words: dict[str, dict[str, int]] = {}
        self._filled = 0

    def add(self, batch: Mapping[str, Any]) -> None:
        """Copy the columns of the next batch; each a Series or an array, (n,)."""
        count = 0
        for name, given in batch.items():
            values = self._coded(name, given)
            count = len(values)
            if name not in self._arrays:
                self._arrays[name] = np.empty(self.rows, dtype=values.dtype)
            elif values.dtype != self._arrays[name].dtype:
                wider = np.promote_types(values.dtype, self._arrays[name].dtype)
                self._arrays[name] = self._arrays[name].astype(wider)
            self._arrays[name][self._filled : self._filled + count] = values
        self._filled += count

    def _coded(self, name: str, values: Any) -> np.ndarray:
        if not isinstance(values.dtype, pd.CategoricalDtype):
            return np.asarray(values)
        words = pd.Series(values).cat
        known = self._words.setdefault(name, {})
        # Batches may name other words; the code of a missing one, -1, finds itself at the end.
        place = [known.setdefault(word, len(known)) for word in words.categories]
        return np.array([*place, -1], dtype=np.min_scalar_type(-1 - len(known)))[words.codes]

    def __getitem__(self, name: str) -> Any:
        """Return a column, (rows,), words as a Categorical; KeyError where there is none."""
        if name not in self._words:
            return self._arrays[name]
        return pd.Categorical.from_codes(self._arrays[name], categories=pd.Index(self._words[name]))

    def __iter__(self) -> Iterator[str]:
        return iter(self._arrays)

    def __len__(self) -> int:
        return len(self._arrays)

    def pop(self, name: str) -> Any:
        """Return a column and keep it no longer."""
        result = self[name]
        del self._arrays[name]
        return result
