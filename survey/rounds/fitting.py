"""Whether a unit is noted with the same hole in both rounds: its bore and its trap type.

A loss goes with the square of the bore that is noted. Where somebody notes 1/8 in for the 1/4 in
of the round before and nothing was done to the trap, three quarters of its loss seem to be saved
on paper alone. Which of the two bores is right nobody can tell from the readings, and with one
bore for both rounds the figure would be as wrong as that choice. So a unit that fails, or works, in
both rounds is left out of the saving, whichever way its difference points, until a repair is noted
(then it is another hole, and each round has its own) or the note is put right.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from survey.rounds.uncertain import numbers

SAME_BORE_IN = 0.001
_STILL = ("still_failing", "got_worse", "still_working")


@dataclass(frozen=True)
class Fitting:
    """What is noted of the holes of n units, (n,) each.

    Parameters
    ----------
    other
        Trap type or bore is noted in both rounds, and is not the same.
    once
        The bore is noted in one of the rounds only: in the other a usual one stands in.
    noted
        A repair is noted between the rounds.
    """

    other: np.ndarray
    once: np.ndarray
    noted: np.ndarray

    @property
    def unlike(self) -> np.ndarray:
        """Whether the two losses rest on holes that are not known to be one."""
        return np.asarray(self.other | self.once)

    @property
    def unexplained(self) -> np.ndarray:
        """Whether they do, and no repair says why."""
        return np.asarray(self.unlike & ~self.noted)

    def comparable(self, outcome: np.ndarray) -> np.ndarray:
        """Return whether a unit's difference may count as saved or lost, (n,).

        One that was mended or failed since counts whatever is noted: one of the two losses is next
        to nothing then, and a trap that was replaced often has another bore or is of another type.
        """
        return np.asarray(~self.unlike | ~np.isin(outcome, _STILL) | self.noted)


def fitting(before: pd.DataFrame, after: pd.DataFrame, *, noted: np.ndarray) -> Fitting:
    """Return what is noted of each unit's hole in two rounds, a row for each unit in both.

    Parameters
    ----------
    noted
        Whether a repair of the unit is noted between the rounds, (n,).
    """
    kinds = [texts(table, "trap_type") for table in (before, after)]
    bores = [numbers(table, "orifice_in") for table in (before, after)]
    pairs = zip(*kinds, strict=True)
    other_kind = np.array([bool(old and new and old != new) for old, new in pairs], dtype=bool)
    other_bore = np.abs(bores[0] - bores[1]) > SAME_BORE_IN  # False where either is not known
    known = [np.isfinite(bore) for bore in bores]
    return Fitting(other_kind | other_bore, known[0] != known[1], np.asarray(noted, dtype=bool))


def texts(table: pd.DataFrame, name: str, missing: str = "") -> list[str]:
    """Return a column as words, ``missing`` where it is not there or blank."""
    if name not in table:
        return [missing] * len(table)
    values = table[name].astype(object)
    return [missing if pd.isna(value) else str(value) for value in values]
