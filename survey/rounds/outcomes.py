"""What happened to a unit between two rounds."""

from __future__ import annotations

import numpy as np
import pandas as pd

from survey.columns import UNDECIDED
from survey.rounds.uncertain import differences, each, losses_of, numbers

OUTCOMES = (
    "mended", "got_worse", "still_failing", "newly_failed", "still_working",
    "no_steam", "not_heard", "undecided", "not_read", "new", "unreadable_now",
    "unreadable_before",
)  # fmt: skip
PAIRED = ("mended", "got_worse", "still_failing", "newly_failed", "still_working")
"""Read and decided in both rounds: these alone count towards a saving."""
_SOUND = "working"
LEAST_WORSE_LB_PER_H = 0.5
"""A loss that grew by less is not called worse, however sure that is; a choice, with no source."""
_WORSE_STATES = {("leaking", "failed_open")}
_COLD = "cold"
_PASSING = ("leaking", "failed_open", "passing_water", "passing_back")
"""Told by sound and by what comes out; a temperature alone does not tell that they have ended."""
_HEARD_OR_SEEN = ("sound_db", "sound_over_background_db", "sound_pattern", "observed")


def outcomes(
    before: pd.DataFrame,
    after: pd.DataFrame,
    *,
    read_before: np.ndarray,
    read_after: np.ndarray,
    aside_before: np.ndarray,
    aside_after: np.ndarray,
    other_hole: np.ndarray,
) -> np.ndarray:
    """Return the outcome of each unit, (n,), one of `OUTCOMES`.

    Parameters
    ----------
    before, after
        Findings of the two rounds, a row for each unit in the same order.
    read_before, read_after
        Whether a unit is in that round at all, (n,).
    aside_before, aside_after
        Whether its row was set aside in that round, because it could not be used, (n,).
    other_hole
        Whether its losses in the two rounds rest on different bores or trap types, (n,): then
        a larger figure is no larger loss.

    Notes
    -----
    What fails in both rounds got worse where it leaked and has blown open, or where its loss is
    larger now whichever end of the range is taken.

    A trap that is cold shows nothing about its seat: beside a round in which it had steam it is
    'no_steam', unless it went from cold to working. What passed steam or water by sound or by what
    was seen, and was neither listened to nor watched again, is 'not_heard' where it would pass for
    better than it was.
    """
    was, now = (table["state"].astype(object).fillna("").to_numpy() for table in (before, after))
    worse = np.array([pair in _WORSE_STATES for pair in zip(was, now, strict=True)], dtype=bool)
    worse |= _loses_more(before, after) & ~other_hole
    found = np.where(was == _SOUND, "newly_failed", np.where(worse, "got_worse", "still_failing"))
    sound_after = np.where(was == _SOUND, "still_working", "mended")
    found = np.where(now == _SOUND, sound_after, found)
    found = np.where(_not_heard_again(before, after, was, found), "not_heard", found)
    # From cold to working is what opening a shut valve does: that is seen, and saves nothing.
    one_cold = ((was == _COLD) != (now == _COLD)) & (now != _SOUND)
    found = np.where(one_cold, "no_steam", found)
    found = np.where((was == UNDECIDED) | (now == UNDECIDED), UNDECIDED, found)
    found = np.where(read_after, found, np.where(aside_after, "unreadable_now", "not_read"))
    return np.where(read_before, found, np.where(aside_before, "unreadable_before", "new"))


def _not_heard_again(
    before: pd.DataFrame, after: pd.DataFrame, was: np.ndarray, found: np.ndarray
) -> np.ndarray:
    lost = [numbers(table, "steam_loss_lb_per_h") for table in (before, after)]
    better = (found == "mended") | ((found == "still_failing") & ~(lost[1] >= lost[0]))
    passed = np.isin(was, _PASSING) & _heard_or_seen(before)
    return np.asarray(passed & ~_heard_or_seen(after) & better)


def _heard_or_seen(table: pd.DataFrame) -> np.ndarray:
    read = np.zeros(len(table), dtype=bool)
    for name in _HEARD_OR_SEEN:
        if name in table:
            cells = table[name].astype(object)
            read |= (cells.notna() & (cells.astype(str).str.strip() != "")).to_numpy(dtype=bool)
    return read


def _loses_more(before: pd.DataFrame, after: pd.DataFrame) -> np.ndarray:
    one = np.ones(len(before))
    change = differences(losses_of(before), losses_of(after), weight_before=one, weight_after=one)
    worse = (f.high < 0 and f.expected < -LEAST_WORSE_LB_PER_H for f in each(change))
    return np.fromiter(worse, dtype=bool, count=len(before))
