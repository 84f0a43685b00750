"""What would change a verdict: the round judged again with one reading of one unit another."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

import pandas as pd

from survey.columns import INPUT_NAMES
from survey.errors import SurveyError
from survey.findings import Findings
from survey.pipeline import analyze
from survey.reports import measures, words
from survey.site import Site

MOST_ROWS = 200
LOUD_DB, NEARLY_COLD_F = 25.0, 20.0
_CHOICES = {
    "observed": ("steam", "water", "nothing"),
    "sound_pattern": ("continuous", "intermittent", "quiet"),
    "valve_position": ("open", "closed"),
}


def other_verdicts(findings: Findings, row: pd.Series[Any], site: Site) -> pd.DataFrame:
    """Judge again with each reading of a unit replaced in turn, and say what comes out.

    Parameters
    ----------
    row
        Row of the unit in the findings.

    Returns
    -------
    DataFrame
        reading, was, had it been, verdict, sure, changes (bool); in words.
    """
    base = _beside(findings.table, row)
    told = []
    for name, value in _others(row):
        judged = _judged(base, str(row["tag"]), name, value, site)
        if judged is None:
            continue
        told.append(
            {
                "reading": measures.head(name),
                "was": _in_words(name, row.get(name)) or "not read",
                "had it been": _in_words(name, value),
                "verdict": words.state_words(judged["state"], judged["device"]),
                "sure": words.percent(float(judged["confidence"])),
                "changes": judged["state"] != row["state"],
            }
        )
    return pd.DataFrame(told)


def _beside(table: pd.DataFrame, row: pd.Series[Any]) -> pd.DataFrame:
    """Return the readings of the round; of a large one, those nearest to the unit."""
    readings = table[[name for name in INPUT_NAMES if name in table.columns]]
    if len(readings) <= MOST_ROWS:
        return readings
    same = pd.Series(0, index=table.index)
    for name, weight in (("equipment", 4), ("station", 2), ("area", 1)):
        if name in table.columns:
            same += weight * (table[name] == row.get(name)).fillna(False).astype("int64")
    same += 8 * (table["tag"] == row["tag"]).astype("int64")
    nearest = same.sort_values(ascending=False, kind="stable").index[:MOST_ROWS]
    return readings.loc[sorted(nearest)]


def _others(row: pd.Series[Any]) -> Iterator[tuple[str, Any]]:
    for name, values in _CHOICES.items():
        yield from ((name, value) for value in values if str(row.get(name)) != value)
    background, sound = _number(row, "background_db"), _number(row, "sound_db")
    if math.isfinite(background):
        for level in (background, background + LOUD_DB):
            if not abs(level - sound) < LOUD_DB / 4:
                yield "sound_db", level
    steam, air = _number(row, "saturation_f"), _number(row, "ambient_f")
    air = air if math.isfinite(air) else 70.0
    for name in ("inlet_temp_f", "outlet_temp_f"):
        for value in (steam, air + NEARLY_COLD_F):
            if math.isfinite(value) and not abs(value - _number(row, name)) < NEARLY_COLD_F:
                yield name, value


def _judged(
    base: pd.DataFrame, tag: str, name: str, value: Any, site: Site
) -> pd.Series[Any] | None:
    changed = base.copy()
    kept = changed[name].tolist() if name in changed.columns else [None] * len(changed)
    changed[name] = pd.Series(kept, index=base.index, dtype=object)
    changed.loc[(changed["tag"].astype("str") == tag).to_numpy(), name] = value
    try:
        table = analyze(changed.reset_index(drop=True), site=site).table
    except SurveyError:
        return None  # such a reading cannot be: it would have been set aside
    rows = table[table["tag"].astype("str") == tag]
    return None if rows.empty else rows.iloc[0]


def _number(row: pd.Series[Any], name: str) -> float:
    value = row.get(name)
    return float(value) if isinstance(value, int | float) else math.nan


def _in_words(name: str, value: Any) -> str:
    if isinstance(value, float):
        return measures.said(name, round(value)) if math.isfinite(value) else ""
    return words.tidy(words.word(value))
