"""Verdicts of one kind of device, put into words; and when a state may be named at all."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

UNDECIDED_UNDER = 0.50
"""Under this probability no state is named: the next likeliest is then about as likely."""
LEAST_TOLD_NATS = 0.7
"""Readings that move no two explanations apart by more than 2 to 1 leave a device undecided:
what would be said of it is only how common each state is."""


@dataclass(frozen=True)
class Spoken:
    """Verdicts of n devices of one kind.

    Parameters
    ----------
    index
        Their positions in the round, (n,).
    confidence
        Probability of the likeliest state, (n,).
    state, cause, action
        Words of the findings' columns, numbers of `phrases.Pieces`, (n,).
    evidence
        The same, of several pieces to a row, (n, pieces).
    """

    index: np.ndarray
    confidence: np.ndarray
    state: np.ndarray
    cause: np.ndarray
    action: np.ndarray
    evidence: np.ndarray


def named(confidence: np.ndarray, logs: np.ndarray, *, usual_from: float) -> np.ndarray:
    """Return which devices' likeliest state may be named, (n,).

    Parameters
    ----------
    confidence
        Probability of that state, (n,).
    logs
        Log likelihood of each device's readings, (n, explanations).
    usual_from
        Probability from which a state is named though the readings say nothing.
    """
    told = np.ptp(logs, axis=1) > LEAST_TOLD_NATS
    return np.asarray((confidence >= UNDECIDED_UNDER) & (told | (confidence >= usual_from)))
