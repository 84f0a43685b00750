"""Pass two: each batch judged by itself, with what pass one gathered."""

from __future__ import annotations

from collections.abc import Sequence
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
        As they are saved, rank still blank; no rows of them once they are put by.
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
    source: Source, raw: Sequence[RawTable], gathered: Gathered, site: Site
) -> Judged:
    """Judge the rows of a batch that can be judged.

    Parameters
    ----------
    raw
        The batch, a table to each file that it has rows of.
    gathered
        Of these rows alone.
    """
    usable = gathered.usable
    equipment = gathered.equipment[usable]
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


def put_by(judged: Judged, writer: Any) -> Judged:
    """Write a batch's findings to an Arrow stream; return the rest of it."""
    writer.write_table(judged.findings)
    return replace(judged, findings=judged.findings.schema.empty_table())


def _round(source: Source, raw: Sequence[RawTable], usable: np.ndarray) -> Round:
    tables, originals, start = [], [], 0
    names = kept.kept_names(source.claims)
    for one in raw:
        mine = usable[start : start + len(one.cells)]
        stays = one.cells if mine.all() else one.cells.filter(pa.array(mine))
        tables.append(source.part(one).tidied.table[mine])
        originals.append(kept.originals(stays, source.claims, names, []))
        start += len(mine)
    return Round(
        table=pd.concat(tables, ignore_index=True),
        originals=pd.concat(originals, ignore_index=True),
        given=tuple(claim.match.header for claim in source.claims),
        lines=np.concatenate([one.lines for one in raw])[usable],
        rejects=pd.DataFrame(),
        matches=source.matches,
        rows_read=start,
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
