"""Words of many rows at once, as Arrow text: a loop over rows costs more than the verdict does."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc


def phrase(*parts: str | pa.Array) -> pa.Array:
    """Return the parts of each row one after another; at least one part runs over rows."""
    return pc.binary_join_element_wise(*parts, "")


def rounded(values: np.ndarray) -> pa.Array:
    """Return each finite number to the nearest whole one, half to even, as text."""
    return pa.array(np.rint(values).astype(np.int64)).cast(pa.string())


def pick(words: Sequence[str], code: np.ndarray) -> pa.Array:
    """Return the word of each code, 0 the first."""
    return pa.array(words, type=pa.string()).take(pa.array(code))


def where(test: np.ndarray, yes: str | pa.Array, no: str | pa.Array) -> pa.Array:
    """Return one text or the other of each row."""
    return pc.if_else(pa.array(test), yes, no)


def placed(count: int, parts: Iterable[tuple[np.ndarray, pa.Array]]) -> pa.Array:
    """Put texts at their rows.

    Parameters
    ----------
    count
        Number of rows.
    parts
        Positions and the texts for them; no position twice. A row with none is blank.
    """
    position = np.zeros(count, dtype=np.int64)
    pool, size = [pa.array([""])], 1
    for index, texts in parts:
        position[index] = np.arange(size, size + len(index))
        pool.append(texts)
        size += len(index)
    return pa.concat_arrays(pool).take(pa.array(position))


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
