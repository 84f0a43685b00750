"""Pass two: each batch judged by itself, with what pass one gathered."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np
import pandas as pd
import pyarrow as pa

from survey.columns import FINDING_NAMES
from survey.diagnosis.intake import Intake, take_in
from survey.diagnosis.rows import Rows
from survey.diagnosis.verdict import Diagnosis, judge
from survey.losses.priced import add_losses
from survey.losses.ranking import NOTHING_DUE
from survey.pipeline import assembled
from survey.readings import Round, kept
from survey.readings.model import RawTable
from survey.site import Site
from survey.streaming.gathering import Gathered
from survey.streaming.source import Source

COUNTED_ROWS = ("device", "station", "thermometer", "sound_db", "background_db")
COUNTED = ("state", "cause", "steam_loss_lb_per_h", "annual_loss_klb", "annual_cost",
           "annual_co2_t", "loss_variance")  # fmt: skip
"""What the totals of a round are made from."""


@dataclass(frozen=True)
class Judged:
    """Findings of one batch.

    Parameters
    ----------
    findings
        As they are saved, rank still blank.
    due_tags
        Tags of the rows that something is due on.
    diagnosis, table
        What the totals are made from, the rest left out.
    """

    findings: pa.Table
    due_tags: pa.Array
    diagnosis: Diagnosis
    table: pd.DataFrame


def judge_batch(
    source: Source, raw: RawTable, gathered: Gathered, *, start: int, site: Site
) -> Judged:
    """Judge the rows of a batch that can be judged.

    Parameters
    ----------
    start
        Rows of the file before it.
    """
    usable = gathered.usable[start : start + len(raw.cells)]
    equipment = gathered.equipment[start : start + len(raw.cells)][usable]
    read = _round(source, raw, usable)
    intake = take_in(read.table, site, gathered.calibration.gaps, equipment)
    diagnosis = judge(intake, site=site, calibration=gathered.calibration)
    table = add_losses(diagnosis, read.table, site)
    due = table["state"].to_numpy() != NOTHING_DUE
    whole = assembled(read, table.assign(rank=np.nan)[list(FINDING_NAMES)])
    return Judged(
        findings=pa.Table.from_pandas(whole, preserve_index=False),
        due_tags=pa.array(table["tag"][due], type=pa.large_string()),
        diagnosis=_thin(diagnosis),
        table=_thin_table(table),
    )


def _round(source: Source, raw: RawTable, usable: np.ndarray) -> Round:
    part = source.part(raw)
    names = kept.kept_names(source.claims)
    stays = raw.cells if usable.all() else raw.cells.filter(pa.array(usable))
    return Round(
        table=part.tidied.table[usable].reset_index(drop=True),
        originals=kept.originals(stays, source.claims, names, []),
        given=tuple(raw.headers),
        lines=raw.lines[usable],
        rejects=pd.DataFrame(),
        matches=tuple(claim.match for claim in source.claims),
        rows_read=len(raw.cells),
        notes=(),
    )


def _thin_table(table: pd.DataFrame) -> pd.DataFrame:
    return table[list(COUNTED)].assign(
        state=pd.Categorical(table["state"]), cause=pd.Categorical(table["cause"])
    )


def _thin(diagnosis: Diagnosis) -> Diagnosis:
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


def joined(batches: list[Judged]) -> tuple[Diagnosis, pd.DataFrame]:
    """Return what the totals of all batches are made from, in order."""
    first = batches[0].diagnosis
    intakes = [batch.diagnosis.intake for batch in batches]
    rows = {
        f.name: np.concatenate([getattr(intake.rows, f.name) for intake in intakes])
        for f in fields(Rows)
    }
    intake: Intake = replace(
        first.intake,
        rows=Rows(**rows),
        bore_given=np.concatenate([intake.bore_given for intake in intakes]),
        pressure_given=np.concatenate([intake.pressure_given for intake in intakes]),
        return_given=np.concatenate([intake.return_given for intake in intakes]),
    )
    supply_psia = np.concatenate([batch.diagnosis.supply_psia for batch in batches])
    flow = np.concatenate([batch.diagnosis.flow_lb_per_h for batch in batches])
    whole = replace(first, intake=intake, supply_psia=supply_psia, flow_lb_per_h=flow)
    columns: dict[str, Any] = {
        name: np.concatenate([batch.table[name].to_numpy() for batch in batches])
        for name in COUNTED[2:]
    }
    for name in COUNTED[:2]:
        columns[name] = pd.api.types.union_categoricals([b.table[name] for b in batches])
    return whole, pd.DataFrame(columns)
