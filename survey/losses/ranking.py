"""What to mend first: rank by expected cost."""

from __future__ import annotations

import numpy as np
import pandas as pd


def add_rank(findings: pd.DataFrame) -> pd.DataFrame:
    """Return the findings ranked: 1 costs most, ties by tag, blank where nothing is due."""
    due = np.flatnonzero(findings["state"].to_numpy() != "working")
    # To the cent: below it, what one cold trap seems to lose more than another is rounding.
    cost = np.round(findings["annual_cost"].to_numpy()[due], 2)
    tag = findings["tag"].to_numpy(dtype=object)[due].astype(str)
    order = np.lexsort((tag, -cost))
    rank = np.full(len(findings), np.nan)
    rank[due[order]] = np.arange(1, len(due) + 1)
    result = findings.copy(deep=False)
    result["rank"] = rank
    return result
