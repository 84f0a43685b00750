"""What to mend first: rank by expected cost."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc

NOTHING_DUE = "working"


def add_rank(findings: pd.DataFrame) -> pd.DataFrame:
    """Return the findings ranked: 1 costs most, ties by tag, blank where nothing is due."""
    due = np.flatnonzero(findings["state"].to_numpy() != NOTHING_DUE)
    rank = np.full(len(findings), np.nan)
    rank[due] = ranks(
        cost=findings["annual_cost"].to_numpy()[due], tag=pa.array(findings["tag"].iloc[due])
    )
    result = findings.copy(deep=False)
    result["rank"] = rank
    return result


def ranks(*, cost: np.ndarray, tag: pa.Array | pa.ChunkedArray) -> np.ndarray:
    """Return the rank of each device that something is due on, 1 the dearest, (n,).

    Parameters
    ----------
    cost
        A year, in the site's currency, (n,).
    tag
        Of each, (n,): ties share their order.
    """
    # To the cent: below it, what one cold trap seems to lose more than another is rounding.
    table = pa.table({"cost": np.round(cost, 2), "tag": tag})
    order = pc.sort_indices(table, sort_keys=[("cost", "descending"), ("tag", "ascending")])
    result = np.empty(len(cost))
    result[order.to_numpy()] = np.arange(1, len(cost) + 1)
    return result
