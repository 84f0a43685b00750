"""Live steam lost: the mean over state, opening, coefficient and bore, and its 10-90 % range."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from survey.diagnosis.rowwise import row_sum

LOW, HIGH = 0.10, 0.90
_HALVINGS = 10
_NEWTON_STEPS = 3
_PAGE = 0.7978845608  # the square root of 2 / pi


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
    flow = np.nan_to_num(np.asarray(flow_lb_per_h, dtype=float), nan=0.0)
    lift = np.exp(0.5 * log_spread**2)
    expected = row_sum(chance * flow) * lift
    square = row_sum(chance * flow**2) * lift**4
    losing = row_sum(chance * (flow > 0))
    low = _point(flow, chance, log_spread, losing, LOW)
    high = _point(flow, chance, log_spread, losing, HIGH)
    return Loss(expected, low, high, np.maximum(square - expected**2, 0.0))


def _point(
    flow: np.ndarray, chance: np.ndarray, spread: np.ndarray, losing: np.ndarray, share: float
) -> np.ndarray:
    """Return the loss that is exceeded with chance 1 - share, by halving an interval of logs."""
    result = np.zeros(len(flow))
    some = np.flatnonzero(losing > 1.0 - share)
    if not len(some):
        return result
    middle = np.log(np.maximum(flow[some], 1e-12))
    weight = chance[some] * (flow[some] > 0)
    target = share - (1.0 - losing[some])
    width = spread[some]
    low = middle.min(axis=1) - 5.0 * width
    high = middle.max(axis=1) + 5.0 * width
    for _ in range(_HALVINGS):
        mid = 0.5 * (low + high)
        below, _ = _chance_below(mid, middle, weight, width)
        over = below > target
        high, low = np.where(over, mid, high), np.where(over, low, mid)
    point = 0.5 * (low + high)
    for _ in range(_NEWTON_STEPS):
        below, density = _chance_below(point, middle, weight, width)
        point = np.clip(point - (below - target) / np.maximum(density, 1e-12), low, high)
    result[some] = np.exp(point)
    return result


def _chance_below(
    log_flow: np.ndarray, middle: np.ndarray, weight: np.ndarray, width: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Return the chance that a row loses less, but some, and its slope by the log, (n,) each."""
    # Page's approximation of the normal integral, within 0.0002: no import of scipy for it.
    z = (log_flow[:, None] - middle) / width[:, None]
    bent = np.tanh(_PAGE * (z + 0.044715 * z**3))
    below = row_sum(weight * 0.5 * (1.0 + bent))
    slope = 0.5 * _PAGE * (1.0 - bent**2) * (1.0 + 3.0 * 0.044715 * z**2)
    return below, row_sum(weight * slope) / width
