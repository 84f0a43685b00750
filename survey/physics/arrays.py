"""What every physics function does first: floats in, NaN where a value cannot be."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]
_BEYOND_ALL_PHYSICS = 1e75  # four such factors still multiply without overflow


def as_floats(values: ArrayLike) -> FloatArray:
    """Return ``values`` as float64, shape kept; what is already float64 is not copied."""
    return np.asarray(values, dtype=np.float64)


def nan_outside(
    values: ArrayLike,
    low: float = -_BEYOND_ALL_PHYSICS,
    high: float = _BEYOND_ALL_PHYSICS,
    *,
    above: float = -np.inf,
) -> FloatArray:
    """Return ``values`` as float64 with NaN outside a range; infinities are always outside.

    Parameters
    ----------
    values
        Any shape; NaN stays NaN.
    low, high
        Both ends are inside. Left out: anything up to 1e75 either way.
    above
        Not inside itself, for a quantity that must be more than, say, zero.

    Returns
    -------
    ndarray of float64
        Same shape.
    """
    given = as_floats(values)
    inside = (given >= low) & (given <= high) & (given > above)
    return np.where(inside, given, np.nan)
