"""Where a round may be cut into batches: never between a trap and its own vent."""

from __future__ import annotations

import numpy as np


def ends_between(equipment: np.ndarray, rows: int) -> np.ndarray:
    """Return after how many rows each batch ends, the last one after all of them.

    Parameters
    ----------
    equipment
        Equipment code of each row, (n,), -1 for a row that is not judged.
    rows
        Least rows in a batch. One is longer where an equipment's rows stand far apart.
    """
    open_after = np.cumsum(_steps(equipment))
    cuttable = np.flatnonzero(open_after == 0) + 1
    ends, start = [], 0
    while start < len(equipment):
        at = np.searchsorted(cuttable, start + rows)
        start = int(cuttable[at]) if at < len(cuttable) else len(equipment)
        ends.append(start)
    if len(ends) > 1 and ends[-1] - ends[-2] < rows // 4:
        del ends[-2]
    return np.array(ends, dtype=np.int64)


def _steps(equipment: np.ndarray) -> np.ndarray:
    """Return how many pieces of equipment begin at each row, less those that end there, (n,)."""
    at = np.flatnonzero(equipment >= 0)
    count = int(equipment.max(initial=-1)) + 1
    first = np.full(count, len(equipment), dtype=np.int64)
    last = np.full(count, -1, dtype=np.int64)
    first[equipment[at[::-1]]] = at[::-1]  # the last write stands: the first row
    last[equipment[at]] = at
    named = last >= 0
    steps = np.zeros(len(equipment), dtype=np.int64)
    np.add.at(steps, first[named], 1)
    np.add.at(steps, last[named], -1)
    return steps


def even_ends(count: int, rows: int) -> np.ndarray:
    """Return after how many of ``count`` rows each batch of so many rows ends."""
    return np.append(np.arange(rows, count, rows), count).astype(np.int64)


def runs_of(ends: np.ndarray, batches: int) -> list[tuple[int, np.ndarray]]:
    """Return runs of so many batches: the rows before each, and the ends of its batches."""
    runs = [ends[at : at + batches] for at in range(0, len(ends), batches)]
    starts = [0, *(int(run[-1]) for run in runs)]
    return list(zip(starts, runs, strict=False))
