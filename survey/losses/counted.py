"""What the totals of a round are made from, of rounds that are judged a batch at a time."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, replace
from typing import Any

import numpy as np
import pandas as pd

from survey.diagnosis.rows import Rows
from survey.diagnosis.verdict import Diagnosis

_OF_ROWS = ("device", "station", "thermometer", "sound_db", "background_db")
_OF_INTAKE = ("bore_given", "pressure_given", "return_given")
_OF_DIAGNOSIS = ("flow_lb_per_h", "supply_psia")


def counted_columns(diagnosis: Diagnosis) -> dict[str, np.ndarray]:
    """Return what the totals count of a diagnosis of n devices, by name, (n,) each."""
    intake = diagnosis.intake
    columns = {name: getattr(intake.rows, name) for name in _OF_ROWS}
    columns |= {name: getattr(intake, name) for name in _OF_INTAKE}
    columns |= {name: getattr(diagnosis, name) for name in _OF_DIAGNOSIS}
    return {name: _small(values) for name, values in columns.items()}


def _small(values: np.ndarray) -> np.ndarray:
    # Of a level, a pressure or a flow it counts only whether it is known, and above zero.
    return values.astype(np.float32) if values.dtype == np.float64 else values


def without_rows(diagnosis: Diagnosis) -> Diagnosis:
    """Return what a diagnosis says of the whole round: its gaps and its calibration."""
    return counted_diagnosis(
        dict.fromkeys((*_OF_ROWS, *_OF_INTAKE, *_OF_DIAGNOSIS), np.zeros(0)), like=diagnosis
    )


def counted_diagnosis(columns: Mapping[str, Any], like: Diagnosis) -> Diagnosis:
    """Return a diagnosis of a whole round for its totals alone; all else is left out of it.

    Parameters
    ----------
    columns
        As `counted_columns` gives them, of all rows.
    like
        A diagnosis of any rows of the same round.
    """
    nothing = np.zeros(0)
    rows = Rows(
        **{f.name: columns[f.name] if f.name in _OF_ROWS else nothing for f in fields(Rows)}
    )
    of_intake: dict[str, Any] = {name: columns[name] for name in _OF_INTAKE}
    of_diagnosis: dict[str, Any] = {name: columns[name] for name in _OF_DIAGNOSIS}
    return replace(
        like,
        verdicts=pd.DataFrame(),
        passing=nothing,
        log_spread=nothing,
        intake=replace(like.intake, rows=rows, **of_intake),
        **of_diagnosis,
    )
