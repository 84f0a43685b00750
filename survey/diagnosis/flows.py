"""What passes through a check valve, by what its trap is and by what the valve itself shows."""

from __future__ import annotations

import numpy as np

from survey.columns import CHECK_STATES
from survey.diagnosis import priors, upstream_priors
from survey.diagnosis.equipment import told_to_traps
from survey.diagnosis.hypotheses import FLOWS, HYPOTHESES, INDEX
from survey.diagnosis.rowwise import columns_of, row_sum

STILL_LOOKS = ("no_steam", "failed_closed", "air_bound")
NO_FLOW = np.array([float(h.looks in STILL_LOOKS) for h in HYPOTHESES])
"""Chance that a trap passes nothing on to its check valve, by what it is."""
NO_FLOW[INDEX["backed_by_lift"]] = 1.0
PASSING_BACK_STILL = np.array([0.4 if s == "passing_back" else 1.0 for s in CHECK_STATES])
"""How much of the time a dead trap leaves its check valve without flow: one that passes back has
the return's. Common practice, no source."""
_USUAL = np.array([priors.TRAP_RATES.get(h.name, upstream_priors.USUAL_VICTIM) for h in HYPOTHESES])
_JETS = np.array([INDEX[name] for name in ("leaking", "failed_open")])


def jet_chance(likely: np.ndarray) -> np.ndarray:
    """Return the chance that each trap blows steam, by its own readings alone, (traps,).

    It hangs on neither the lift nor the check valve, since what is made of it comes back to the
    trap by that valve.

    Parameters
    ----------
    likely
        Likelihood of each trap's own readings, (traps, hypotheses).
    """
    usual = likely * _USUAL
    return np.asarray(row_sum(columns_of(usual, _JETS)) / row_sum(usual))


def looks_backed_up(logs: np.ndarray) -> np.ndarray:
    """Return how likely each trap looks backed up, not failed closed, all alone, (traps,).

    Parameters
    ----------
    logs
        Log likelihood of each trap's own readings, (traps, hypotheses).
    """
    odds = logs[:, INDEX["backed_by_lift"]] - logs[:, INDEX["failed_closed"]]
    return np.asarray(1.0 / (1.0 + np.exp(-np.clip(odds, -50.0, 50.0))))


def flow_told(
    ways: np.ndarray,
    before: np.ndarray,
    *,
    stilled: float,
    checks: np.ndarray,
    traps: np.ndarray,
    equipment_count: int,
) -> np.ndarray:
    """Return how much check valves' readings favour each flow through their trap.

    Beyond what they say of their own state, which is the joint's: a pipe behind the valve that is
    cool is cool for want of flow, or the valve is stuck.

    Parameters
    ----------
    ways
        Of check valves, in each of their states: chance that condensate, nothing, or a jet comes
        by, by their own readings, (checks, states, 3).
    before
        Chance of nothing, and of a jet, before any reading of theirs, (checks, states, 2).
    stilled
        How often a trap that passes nothing leaves its check valve without flow.
    checks, traps
        Equipment of each, (checks,) and (traps,).

    Returns
    -------
    (traps, states, flows)
        1 favours nothing.
    """
    told = np.ones((equipment_count, len(CHECK_STATES), len(FLOWS)), order="F")
    # How loud a jet is behind its trap is heard at the trap already.
    flowing = (ways[:, :, 0] + ways[:, :, 2]) / np.maximum(1.0 - before[:, :, 0], 1e-4)
    still = ways[:, :, 1] / np.maximum(before[:, :, 0], 1e-4)
    told[checks, :, 0] = flowing
    often = stilled * PASSING_BACK_STILL
    told[checks, :, 1] = often * still + (1.0 - often) * flowing
    return told_to_traps(told, told_by=checks, traps=traps)


assert FLOWS == ("flowing", "still")
