"""A small round as a table and as each kind of file."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
from diagnosis.rounds import Plant, Station, made_round

EXTRA = {
    "Colour of tag": "red",
    "state": "New York",
    "rank": "sergeant",
    "row": "7",
    "p_working": "no",
    "confidence": "high",
}
"""Columns of the technician's own; most of their names are also the findings' or the rejects'."""


def small_round(heaters: int = 8) -> pd.DataFrame:
    """Return a round of one station, with the columns of `EXTRA`."""
    frame = made_round(Plant(stations={"Hill": Station(60.0, 3.0, heaters=heaters)}))
    return frame.drop(columns=["truth"]).assign(**EXTRA)


def write(frame: pd.DataFrame, path: Path) -> Path:
    """Write a round in the kind of file that the suffix names."""
    if path.suffix == ".csv":
        frame.to_csv(path, index=False)
    elif path.suffix == ".parquet":
        frame.to_parquet(path, index=False)
    else:
        frame.to_excel(path, index=False, engine="xlsxwriter")
    return path
