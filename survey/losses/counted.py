"""What the totals of a round are made from, of rounds that are judged a batch at a time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields, replace

import numpy as np
import pandas as pd

from survey.diagnosis.rows import Rows
from survey.diagnosis.verdict import Diagnosis

COUNTED_ROWS = ("device", "station", "thermometer", "sound_db", "background_db")


def thin(diagnosis: Diagnosis) -> Diagnosis:
    """Return a diagnosis with only what the totals count; the rest takes no memory."""
    intake, nothing = diagnosis.intake, np.zeros(0)
    counted = {
        f.name: getattr(intake.rows, f.name) if f.name in COUNTED_ROWS else nothing
        for f in fields(Rows)
    }
    return replace(
        diagnosis,
        verdicts=pd.DataFrame(),
        passing=nothing,
        log_spread=nothing,
        intake=replace(intake, rows=Rows(**counted)),
    )


def one_after_another(batches: Sequence[Diagnosis]) -> Diagnosis:
    """Return the thin diagnosis of a round from those of its batches, in order."""
    intakes = [batch.intake for batch in batches]
    rows = {
        f.name: np.concatenate([getattr(intake.rows, f.name) for intake in intakes])
        for f in fields(Rows)
    }
    intake = replace(
        intakes[0],
        rows=Rows(**rows),
        bore_given=np.concatenate([intake.bore_given for intake in intakes]),
        pressure_given=np.concatenate([intake.pressure_given for intake in intakes]),
        return_given=np.concatenate([intake.return_given for intake in intakes]),
    )
    supply_psia = np.concatenate([batch.supply_psia for batch in batches])
    flow = np.concatenate([batch.flow_lb_per_h for batch in batches])
    return replace(batches[0], intake=intake, supply_psia=supply_psia, flow_lb_per_h=flow)
