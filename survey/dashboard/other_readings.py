"""What would change a verdict: a unit judged again with each of its readings another."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

import numpy as np
import pandas as pd

from survey.dashboard.what_if import Calibrated, judged_again
from survey.dashboard.wording import findings_words
from survey.reports import measures, words

LOUD_DB, NEARLY_COLD_F = 25.0, 20.0
_CHOICES = {
    "observed": ("steam", "water", "nothing"),
    "sound_pattern": ("continuous", "intermittent", "quiet"),
    "valve_position": ("open", "closed"),
}


def other_verdicts(whole: Calibrated, row: pd.Series[Any]) -> pd.DataFrame:
    """Judge again with each reading of a unit replaced in turn, and say what comes out.

    Parameters
    ----------
    whole
        The round that the unit is of.
    row
        Row of the unit in the findings.

    Returns
    -------
    DataFrame
        reading, was, had it been, verdict, sure, changes (bool); in words.
    """
    place = int(np.flatnonzero((whole.of.table["tag"] == row["tag"]).to_numpy())[0])
    others = list(_others(row))
    verdicts = judged_again(whole, place, [{name: value} for name, value in others])
    told = []
    for (name, value), judged in zip(others, verdicts, strict=True):
        if judged is None:
            continue
        told.append(
            {
                "reading": measures.head(name),
                "was": _in_words(name, row.get(name)) or findings_words.NOT_READ,
                "had it been": _in_words(name, value),
                "verdict": words.state_words(judged["state"], row["device"]),
                "sure": words.percent(float(judged["confidence"])),
                "changes": judged["state"] != row["state"],
            }
        )
    return pd.DataFrame(told)


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


def _number(row: pd.Series[Any], name: str) -> float:
    value = row.get(name)
    return float(value) if isinstance(value, int | float) else math.nan


def _in_words(name: str, value: Any) -> str:
    if isinstance(value, float):
        return measures.said(name, round(value)) if math.isfinite(value) else ""
    return words.tidy(words.word(value))
