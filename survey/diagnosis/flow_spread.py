"""How far the flow through a whole opening may be off: bore, coefficient, and water in the way."""

from __future__ import annotations

import math

import numpy as np

from survey.diagnosis import priors

_STEADY = math.hypot(priors.COEFFICIENT_LOG_SPREAD, priors.DRY_SHARE_LOG_SPREAD)


def flow_log_spread(bore_given: np.ndarray) -> np.ndarray:
    """Return the spread of the natural log of n devices' flow of steam, (n,).

    Parameters
    ----------
    bore_given
        Which devices' bore was written down, (n,).
    """
    bore = np.where(bore_given, priors.BORE_LOG_SPREAD, priors.BORE_UNKNOWN_LOG_SPREAD)
    return np.asarray(np.hypot(bore, _STEADY))
