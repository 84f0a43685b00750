"""What happened to a unit between two rounds."""

from __future__ import annotations

import numpy as np
import pandas as pd

from survey.columns import UNDECIDED
from survey.rounds.uncertain import differences, each, losses_of

OUTCOMES = (
    "mended", "got_worse", "still_failing", "newly_failed", "still_working",
    "undecided", "not_read", "new",
)  # fmt: skip
PAIRED = ("mended", "got_worse", "still_failing", "newly_failed", "still_working")
"""Read and decided in both rounds: these alone count towards a saving."""
_SOUND = "working"
LEAST_WORSE_LB_PER_H = 0.5
"""A loss that grew by less is not called worse, however sure that is; a choice, with no source."""
_WORSE_STATES = {("leaking", "failed_open")}


def outcomes(
    before: pd.DataFrame, after: pd.DataFrame, *, read_before: np.ndarray, read_after: np.ndarray
) -> np.ndarray:
    """Return the outcome of each unit, (n,), one of `OUTCOMES`.

    Parameters
    ----------
    before, after
        Findings of the two rounds, a row for each unit in the same order.
    read_before, read_after
        Whether a unit is in that round at all, (n,).

    Notes
    -----
    What fails in both rounds got worse where it leaked and has blown open, or where its loss is
    larger now whichever end of the range is taken.
    """
    was, now = (table["state"].astype(object).fillna("").to_numpy() for table in (before, after))
    worse = np.array([pair in _WORSE_STATES for pair in zip(was, now, strict=True)], dtype=bool)
    worse |= _loses_more(before, after)
    found = np.where(was == _SOUND, "newly_failed", np.where(worse, "got_worse", "still_failing"))
    sound_after = np.where(was == _SOUND, "still_working", "mended")
    found = np.where(now == _SOUND, sound_after, found)
    found = np.where((was == UNDECIDED) | (now == UNDECIDED), UNDECIDED, found)
    found = np.where(read_after, found, "not_read")
    return np.where(read_before, found, "new")


def _loses_more(before: pd.DataFrame, after: pd.DataFrame) -> np.ndarray:
    one = np.ones(len(before))
    change = differences(losses_of(before), losses_of(after), weight_before=one, weight_after=one)
    worse = (f.high < 0 and f.expected < -LEAST_WORSE_LB_PER_H for f in each(change))
    return np.fromiter(worse, dtype=bool, count=len(before))
