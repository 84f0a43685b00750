"""Words of many rows at once: each distinct piece of text is made once, and known by its number.

A loop over rows costs more than the verdict does, and so does putting text together row by row
for every part of a sentence; numbers are cheap to choose between, and are joined once.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc

_NEAR_TOGETHER = 2000
NOTHING = 0
"""Number of the piece that is no text at all."""


class Pieces:
    """Pieces of text, and numbers for them."""

    def __init__(self) -> None:
        self._texts = [""]

    def of(self, words: Sequence[str], code: np.ndarray) -> np.ndarray:
        """Return the number of each code's word, 0 the first word, (n,)."""
        start = len(self._texts)
        self._texts += words
        return np.asarray(code, dtype=np.int32) + np.int32(start)

    def alike(self, text: str) -> np.int32:
        """Return the number of one text."""
        self._texts.append(text)
        return np.int32(len(self._texts) - 1)

    def each(self, say: Callable[[int], str], values: np.ndarray) -> np.ndarray:
        """Return the number of what is said of each value, nothing where it is NaN, (n,).

        Parameters
        ----------
        say
            Makes words of a value to the nearest whole number, half to even.
        """
        known = ~np.isnan(values)
        found, code = _found(np.rint(values[known]).astype(np.int64))
        result = np.full(len(values), NOTHING, dtype=np.int32)
        result[known] = self.of([say(value) for value in found.tolist()], code)
        return result

    def capital(self, numbers: np.ndarray) -> np.ndarray:
        """Return the numbers of the same pieces with a capital letter first, (n,)."""
        code, found = pd.factorize(numbers)
        texts = [self._texts[number] for number in found]
        return self.of([text[:1].upper() + text[1:] for text in texts], code)

    def texts(self, numbers: np.ndarray) -> pa.Array:
        """Return the text of each number, (n,)."""
        return pa.array(self._texts, type=pa.string()).take(pa.array(numbers))

    def joined(self, numbers: np.ndarray) -> pa.Array:
        """Return the texts of each row of numbers, (n, k), one after another."""
        some = numbers != NOTHING
        ends = np.append(0, np.cumsum(np.count_nonzero(some, axis=1))).astype(np.int32)
        return pc.binary_join(pa.ListArray.from_arrays(ends, self.texts(numbers[some])), "")


def _found(whole: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return the distinct numbers of several, (k,), and which of them each is, (n,)."""
    if not len(whole):
        return whole, whole
    low = whole.min()
    if whole.max() - low > _NEAR_TOGETHER:
        code, found = pd.factorize(whole)
        return found, code
    # Readings lie near together: a place for every number between is quicker than a search.
    place = np.zeros(whole.max() - low + 1, dtype=np.int32)
    place[whole - low] = 1
    found = np.flatnonzero(place)
    place[found] = np.arange(len(found))
    return found + low, place[whole - low]


def distinct(*codes: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return the distinct rows of several codes, (k, codes), and which each row is, (n,).

    Codes are whole numbers from -1 to 98.
    """
    together = np.zeros(len(codes[0]), dtype=np.int64)
    for code in codes:
        together = 100 * together + (code + 1)
    each, found = pd.factorize(together)
    rows = []
    for _ in codes:
        found, code = np.divmod(found, 100)
        rows.append(code - 1)
    return np.stack(rows[::-1], axis=1), each


def column(texts: pa.Array) -> pd.Series:
    """Return texts as a column of pandas' own text dtype, without a copy."""
    return pd.Series(pd.array(texts, dtype=pd.StringDtype("pyarrow", na_value=np.nan)))
