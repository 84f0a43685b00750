"""Doubts about a whole column, in words: nothing is changed, a person is asked."""

from __future__ import annotations

import numpy as np
import pandas as pd

from survey.readings.gather import Part
from survey.readings.units import FloatArray

_ENOUGH = 5
_COOLEST_ROUND_F = 200.0  # a round on steam at 0 psig or more has surfaces near 212 °F
_LOWEST_ROUND_F = 40.0
_BAR_LIKE_PSIG = 16.0
_OF_A_VALVE = (
    r"(?i)\b(?:shut|closed|isolated|valved off|turned off|(?:not|none) (?:fitted|installed))\b"
    r"(?<!stuck shut)(?<!failed shut)(?<!stuck closed)(?<!failed closed)"
)
_HOTTER_THAN_F = 262.0  # saturation at over 20 psig, which no bare 16 psig line can be


def from_part(part: Part) -> list[str]:
    """Say what looks odd about one table's columns."""
    return [*_unit_doubts(part), *_dates(part), *_remarks(part), *_rows(part)]


def _unit_doubts(part: Part) -> list[str]:
    table = part.tidied.table
    assumed = {c.match.column: c.match.header for c in part.claims if c.match.how == "unit assumed"}
    notes = []
    hottest = _high(table["inlet_temp_f"].to_numpy())
    if "inlet_temp_f" in assumed and _LOWEST_ROUND_F < hottest < _COOLEST_ROUND_F:
        notes.append(
            f"{assumed['inlet_temp_f']!r} has no unit and was taken as °F, but all of it is "
            f"under {_COOLEST_ROUND_F:g}, as °C would be: set its unit with a header map"
        )
    pressure = _high(table["supply_psig"].to_numpy())
    if "supply_psig" in assumed and pressure < _BAR_LIKE_PSIG and hottest > _HOTTER_THAN_F:
        notes.append(
            f"{assumed['supply_psig']!r} has no unit and was taken as psig, but the pipes "
            "are hotter than such steam: it may be bar; set its unit with a header map"
        )
    faulty = _count(part, "impossible: a bore")
    if "orifice_in" in assumed and faulty >= _ENOUGH:
        notes.append(
            f"{assumed['orifice_in']!r} has no unit and was taken as inches, but many bores "
            "are over 2: it may be mm; set its unit with a header map"
        )
    return notes


def _count(part: Part, start: str) -> int:
    import pyarrow.compute as pc

    hits = (pc.sum(pc.starts_with(group.reasons, start), min_count=0) for group in part.faults)
    return sum(hit.as_py() for hit in hits)


def _high(values: FloatArray) -> float:
    """Return the 95 % point of a column, or NaN where it has too little to go by."""
    given = values[~np.isnan(values)]
    return float(np.quantile(given, 0.95)) if len(given) >= _ENOUGH else float("nan")


def _dates(part: Part) -> list[str]:
    count = part.tidied.doubtful_dates
    return (
        [f"{count:,} dates were kept as typed: day and month cannot be told apart"] if count else []
    )


def _remarks(part: Part) -> list[str]:
    """Say that remarks are not read, where one tells of a shut valve and no column does."""
    table = part.tidied.table
    untold = table["valve_position"].isna() & table["present"].isna() & table["note"].notna()
    if not untold.any():
        return []
    remarks: pd.Series[str] = table.loc[untold, "note"]
    telling = remarks[remarks.str.contains(_OF_A_VALVE)]
    if not len(telling):
        return []
    first = telling.index[0]
    return [
        f"remarks are kept and not read: {telling.iloc[0][:60]!r} (row {part.raw.lines[first]}) "
        "counts only once the column valve_position says closed, or present says no"
    ]


def _rows(part: Part) -> list[str]:
    return [] if len(part.raw.cells) else [f"{part.raw.name}: no rows under the header"]
