"""Live steam lost: the mean over state, opening, coefficient and bore, and its 10-90 % range."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from survey.diagnosis.rowwise import row_max, row_min, row_sum, rows_of

LOW, HIGH = 0.10, 0.90
_MOST_STEPS = 60
_CLOSE_ENOUGH, _CLOSEST = 1e-7, 1e-13
"""Of a log: a step of Newton's as short as the first leaves an error of about its square; a halved
interval one of its own length."""
_PAGE, _BEND = 0.7978845608, 0.044715  # the square root of 2 / pi; the bend of the tails
_MOST_EXPONENT = 700.0


@dataclass(frozen=True)
class Loss:
    """Steam lost by n devices, lb/h: expected, and the 10 % and 90 % points of what it may be."""

    expected_lb_per_h: np.ndarray
    low_lb_per_h: np.ndarray
    high_lb_per_h: np.ndarray
    variance: np.ndarray


def mixed_loss(*, flow_lb_per_h: np.ndarray, chance: np.ndarray, log_spread: np.ndarray) -> Loss:
    """Loss where a device passes one of several flows, or none.

    Parameters
    ----------
    flow_lb_per_h
        Middle flow of each possibility, (n, k); NaN counts as none.
    chance
        Probability of each, (n, k); what is left of 1 is no loss at all.
    log_spread
        Spread of the natural log of each flow about its middle, (n,): coefficient and bore.

    Notes
    -----
    Each possibility is log-normal about its middle. Possibilities exclude each other: their
    flows are never added, only weighed.
    """
    given = np.asarray(flow_lb_per_h, dtype=float, order="F")
    flow, weight = (np.where(given > 0.0, values, 0.0) for values in (given, chance))
    lift = np.exp(0.5 * log_spread**2)
    each = weight * flow
    expected = row_sum(each) * lift
    each *= flow
    square = row_sum(each) * lift**4
    losing = row_sum(weight)
    low = _point(flow, weight, log_spread, losing, LOW)
    high = _point(flow, weight, log_spread, losing, HIGH)
    return Loss(expected, low, high, np.maximum(square - expected**2, 0.0))


def _point(
    flow: np.ndarray, weight: np.ndarray, spread: np.ndarray, losing: np.ndarray, share: float
) -> np.ndarray:
    """Return the loss that is exceeded with chance 1 - share."""
    result = np.zeros(len(flow))
    some = np.flatnonzero(losing > 1.0 - share)
    if len(some):
        middle = np.log(np.maximum(rows_of(flow, some), 1e-12))
        target = share - (1.0 - losing[some])
        result[some] = np.exp(_solved(middle, rows_of(weight, some), spread[some], target))
    return result


def _solved(
    middle: np.ndarray, weight: np.ndarray, width: np.ndarray, target: np.ndarray
) -> np.ndarray:
    """Return the log of the loss that is undercut with each row's chance, ``target``, (n,).

    By Newton's steps, and where one leads out of what is known to hold the answer, or is not
    half as long as the last, by halving that. A row is done by itself, whatever the others need.
    """
    result = np.empty(len(target))
    low, high = row_min(middle) - 5.0 * width, row_max(middle) + 5.0 * width
    point, last, row = 0.5 * (low + high), high - low, np.arange(len(target))
    for _ in range(_MOST_STEPS):
        below, slope = _chance_below(point, middle, weight, width)
        over = below > target
        low, high = np.where(over, low, point), np.where(over, point, high)
        step = (target - below) / np.maximum(slope, 1e-12)
        near = (point + step > low) & (point + step < high) & (2.0 * np.abs(step) < last)
        moved = np.where(near, point + step, 0.5 * (low + high))
        last = np.abs(moved - point)
        result[row] = moved
        left = np.flatnonzero(last > np.where(near, _CLOSE_ENOUGH, _CLOSEST))
        if not len(left):
            break
        middle, weight = rows_of(middle, left), rows_of(weight, left)
        low, high, last, row = low[left], high[left], last[left], row[left]
        point, width, target = moved[left], width[left], target[left]
    return result


def _chance_below(
    log_flow: np.ndarray, middle: np.ndarray, weight: np.ndarray, width: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Return the chance that a row loses less, but some, and its slope by the log, (n,) each."""
    # Page's approximation of the normal integral, within 0.0002: no import of scipy for it.
    z = (log_flow[:, None] - middle) / width[:, None]
    square = z * z
    bent = z * (1.0 + _BEND * square)
    bent *= -2.0 * _PAGE
    np.minimum(bent, _MOST_EXPONENT, out=bent)
    normal = 1.0 / (1.0 + np.exp(bent))
    below = normal * weight
    slope = below * (1.0 - normal) * (1.0 + 3.0 * _BEND * square)
    return row_sum(below), row_sum(slope) * (2.0 * _PAGE) / width
