"""Tables of few columns and many rows, (n, k), kept column by column in memory.

Numpy then runs along whole columns, several times as fast as along rows of a few items. Sums and
maxima over a row do not depend on how many rows there are, so a batch gives what the whole round
gives; the same cannot be said of ``@``.
"""

from __future__ import annotations

import numpy as np


def table(rows: int, columns: int) -> np.ndarray:
    """Return a table to fill, (rows, columns), its columns each in one piece."""
    return np.empty((rows, columns), order="F")


def plus(column: np.ndarray, row: np.ndarray) -> np.ndarray:
    """Return each item of a column (n,) and each of a row (k,) added, (n, k)."""
    return np.asarray(np.add(column[:, None], row, order="F"))


def times(column: np.ndarray, row: np.ndarray) -> np.ndarray:
    """Return each item of a column (n,) times each of a row (k,), (n, k)."""
    return np.asarray(np.multiply(column[:, None], row, order="F"))


def rows_of(values: np.ndarray, index: np.ndarray) -> np.ndarray:
    """Return the rows at some positions of a table kept column by column, kept so too."""
    return np.asarray(np.take(values.T, index, axis=-1).T)


def columns_of(values: np.ndarray, index: np.ndarray) -> np.ndarray:
    """Return some columns of a table kept column by column, kept so too."""
    return np.asarray(np.take(values.T, index, axis=0).T)


def looked_up(words: np.ndarray, code: np.ndarray) -> np.ndarray:
    """Return the row of a small table (codes, k) at each code (n,), column by column, (n, k)."""
    return np.asarray(np.take(np.ascontiguousarray(words.T), code, axis=1).T)


def row_sum(values: np.ndarray) -> np.ndarray:
    """Return the sum along the last axis, which has at least one item."""
    result = values[..., 0].copy()
    for column in range(1, values.shape[-1]):
        result += values[..., column]
    return result


def row_dot(values: np.ndarray, weights: np.ndarray) -> np.ndarray:
    """Return the sum along the last axis, each column by its weight."""
    result = values[..., 0] * weights[0]
    for column in range(1, values.shape[-1]):
        result += values[..., column] * weights[column]
    return np.asarray(result)


def row_max(values: np.ndarray) -> np.ndarray:
    """Return the maximum along the last axis, which has at least one item."""
    result = values[..., 0].copy()
    for column in range(1, values.shape[-1]):
        np.maximum(result, values[..., column], out=result)
    return result


def row_min(values: np.ndarray) -> np.ndarray:
    """Return the minimum along the last axis, which has at least one item."""
    result = values[..., 0].copy()
    for column in range(1, values.shape[-1]):
        np.minimum(result, values[..., column], out=result)
    return result
