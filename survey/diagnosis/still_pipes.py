"""What the pipe about a check valve tells where little or nothing flows through it."""

from __future__ import annotations

import numpy as np

from survey.columns import CHECK_STATES
from survey.diagnosis.companion_looks import BEHIND_TRAP, RETURN_WARMS
from survey.diagnosis.companions import DeviceModel
from survey.diagnosis.likelihood import student
from survey.diagnosis.priors import GROSS_TEMPERATURE

COOL_UNTOLD = 0.15
"""Share of check valves in cool pipes whose temperatures tell no state from another. Common
practice, no source."""
_BACK_CHECK = CHECK_STATES.index("passing_back")


def in_still_pipe(outlet: np.ndarray, blur: np.ndarray) -> np.ndarray:
    """Return densities of outlets of check valves without flow, whatever their state.

    Parameters
    ----------
    outlet, blur
        How much more than before the valve, as a share of that, and how far one may be off; of
        any shapes that go together.
    """
    ((_, (centre, spread)),) = BEHIND_TRAP.ways
    share, warmer = RETURN_WARMS
    as_warm = student(outlet - centre, np.hypot(spread, blur), GROSS_TEMPERATURE)
    by_return = student(np.maximum(outlet, 0.0), warmer, GROSS_TEMPERATURE)
    density = (1.0 - share) * as_warm + share * np.where(outlet >= 0.0, 2.0 * by_return, 0.0)
    return np.where(np.isnan(outlet), 1.0, density)


def about_cool(
    kind: DeviceModel, outlet: np.ndarray, blur: np.ndarray, blur_out: np.ndarray
) -> np.ndarray:
    """Return densities of outlets of check valves in cool pipes, (n, states).

    Some of them tell no state from another (`COOL_UNTOLD`). A pipe behind it that is the warmer one
    is so by the return: it tells no more than one that is as warm, or as that of a valve passing
    back.

    Parameters
    ----------
    outlet, blur
        As in `in_still_pipe`.
    blur_out
        How far the outlets of each state may be off, (n, states).
    """
    most = np.where(np.arange(len(CHECK_STATES)) == _BACK_CHECK, np.maximum(kind.outlet, 0.0), 0.0)
    as_told = np.minimum(outlet[:, None], most)
    odds = student(as_told - kind.outlet, blur_out, GROSS_TEMPERATURE)
    odds /= in_still_pipe(as_told, blur[:, None])
    dead = in_still_pipe(outlet, blur)[:, None]
    return np.asarray(dead * (COOL_UNTOLD + (1.0 - COOL_UNTOLD) * odds))
