"""Which devices a large round is calibrated on, picked by a hash of their equipment's name."""

from __future__ import annotations

import numpy as np

SAMPLE = 8000
"""Devices a round is calibrated on, and a few more to have the last one's whole equipment."""
LEAST_PER_STATION = 100


def sampled(*, key: np.ndarray, station: np.ndarray, times: int = 1) -> np.ndarray:
    """Return which rows to calibrate on, (n,) of bool.

    The rows with the smallest keys are picked, and the smallest of every station. So neither
    the order of rows nor how they came in batches changes the pick: what is picked of a whole
    is picked of every part of it, and a round may be thinned as it is read.

    Parameters
    ----------
    key
        A hash of each row's equipment by name, (n,).
    station
        Code of each row's station, (n,).
    times
        How many times the usual sample to pick.
    """
    size = times * SAMPLE
    if len(key) <= size:
        return np.ones(len(key), dtype=bool)
    picked = np.asarray(key <= np.partition(key, size - 1)[size - 1])
    order = np.lexsort((key, station))
    ordered, starts = np.unique(station[order], return_index=True)
    sizes = np.diff(np.append(starts, len(key)))
    last = starts + np.minimum(times * LEAST_PER_STATION, sizes) - 1
    highest = np.zeros(int(station.max()) + 1, dtype=key.dtype)
    highest[ordered] = key[order[last]]
    return np.asarray(picked | (key <= highest[station]))
