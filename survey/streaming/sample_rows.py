"""The devices that a large round is calibrated on, picked while it is read."""

from __future__ import annotations

import numpy as np
import pandas as pd

from survey.diagnosis.gaps import station_codes
from survey.diagnosis.sampling import LEAST_PER_STATION, SAMPLE, sampled

TIMES = 2
"""How many times the sample is picked, as some of it may be rows whose tag an earlier one has."""


class SampleRows:
    """Rows of a round that may be picked of all of it: few more than that, put together once."""

    def __init__(self) -> None:
        self._parts: list[pd.DataFrame] = []
        self._told: pd.DataFrame | None = None

    def add(self, rows: pd.DataFrame) -> None:
        """Keep those of the next rows that none so far rule out; they have a key and a station."""
        told = rows[["key", "station"]]
        before = 0
        if self._told is not None:
            before = len(self._told)
            told = pd.concat([self._told, told], ignore_index=True)
        picked = _picked(told, TIMES)
        self._parts.append(rows[picked[before:]])
        self._told = told[picked]

    def picked(self) -> pd.DataFrame:
        """Return twice the rows to calibrate on; no table at all where nothing was added."""
        if not self._parts:
            return pd.DataFrame()
        rows = pd.concat(self._parts, ignore_index=True)
        return rows[_picked(rows, TIMES)]


def too_many(sample: pd.DataFrame, repeats: np.ndarray) -> bool:
    """Tell whether more rows are given again than a sample, or a station in it, has to spare."""
    again = np.isin(sample["file_row"], repeats)
    station, names = station_codes(sample["station"])
    of_station = np.bincount(station, minlength=len(names))
    left = np.bincount(station[~again], minlength=len(names))
    short = (of_station >= TIMES * LEAST_PER_STATION) & (left < LEAST_PER_STATION)
    return bool(again.sum() > SAMPLE or short.any())


def without(sample: pd.DataFrame, repeats: np.ndarray) -> pd.DataFrame:
    """Return the sample less the rows whose tag an earlier one has, thinned to its size."""
    rest = sample[~np.isin(sample["file_row"], repeats)]
    rest = rest[_picked(rest, 1)]
    return rest.drop(columns=["file_row", "key"]).reset_index(drop=True)


def _picked(rows: pd.DataFrame, times: int) -> np.ndarray:
    station, _ = station_codes(rows["station"])
    return sampled(key=rows["key"].to_numpy(), station=station, times=times)
