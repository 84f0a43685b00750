"""Is it more than chance: exact tests, and the allowance for having looked many times."""

from __future__ import annotations

from functools import lru_cache

import numpy as np


@lru_cache(maxsize=64)
def _log_factorials(highest: int) -> np.ndarray:
    return np.concatenate([[0.0], np.cumsum(np.log(np.arange(1, highest + 1, dtype=float)))])


def chance_of_as_many(*, bad: int, group: int, all_bad: int, everyone: int) -> float:
    """Chance that a group picked blindly has at least so many of the bad ones.

    Parameters
    ----------
    bad, group
        Bad ones in the group, and its size.
    all_bad, everyone
        The same of the whole plant, the group included.

    Returns
    -------
    float
        One-sided, 0..1.

    Raises
    ------
    ValueError
        The numbers cannot be those of a group within a whole.

    References
    ----------
    Fisher's exact test: the upper tail of the hypergeometric distribution.
    """
    if not (0 <= bad <= min(group, all_bad) and max(group, all_bad) <= everyone):
        raise ValueError(f"no such group: {bad} of {group}, {all_bad} of {everyone}")
    lowest = max(0, group + all_bad - everyone)
    if bad <= lowest:
        return 1.0
    logs = _log_factorials(everyone)
    some = np.arange(lowest, min(group, all_bad) + 1)
    log_chance = (
        -logs[some]
        - logs[group - some]
        - logs[all_bad - some]
        - logs[everyone - group - all_bad + some]
    )
    return _upper_share(log_chance, bad - lowest)


def chance_of_as_many_at_rate(*, bad: int, group: int, rate: float) -> float:
    """Chance of at least so many bad ones where each is bad with a given chance by itself.

    Raises
    ------
    ValueError
        Under 0 or over ``group`` bad ones, or a rate that is not between 0 and 1.

    References
    ----------
    The upper tail of the binomial distribution.
    """
    if not (0 <= bad <= group and 0.0 < rate < 1.0):
        raise ValueError(f"no such group: {bad} of {group} at {rate}")
    logs = _log_factorials(group)
    some = np.arange(group + 1)
    odds = np.log(rate) - np.log1p(-rate)
    return _upper_share(some * odds - logs[some] - logs[group - some], bad)


def _upper_share(log_chance: np.ndarray, first: int) -> float:
    weight = np.exp(log_chance - log_chance.max())
    # Summed from the small end, so that a tiny tail keeps its digits.
    tail = float(np.sort(weight[first:]).sum())
    return min(1.0, tail / float(np.sort(weight).sum()))


def holm(chances: np.ndarray) -> np.ndarray:
    """Allow for many looks: each chance, corrected so that any false alarm at all stays rare.

    Parameters
    ----------
    chances
        One of each look, (looks,), 0..1, in any order.

    Returns
    -------
    ndarray
        Corrected, same order; never less than what was given, never over 1.

    References
    ----------
    Holm, A simple sequentially rejective multiple test procedure, 1979.
    """
    given = np.asarray(chances, dtype=float)
    order = np.argsort(given, kind="stable")
    looks = len(given)
    stepped = np.maximum.accumulate(given[order] * (looks - np.arange(looks)))
    corrected = np.empty(looks)
    corrected[order] = np.minimum(stepped, 1.0)
    return corrected
