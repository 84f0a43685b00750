"""Pass two: each batch judged by itself, with what pass one gathered."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import chain
from typing import Any

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc

from survey.columns import CAUSES, FINDING_NAMES, STATES_BY_DEVICE, UNDECIDED
from survey.diagnosis.intake import take_in
from survey.diagnosis.verdict import Diagnosis, judge
from survey.losses.counted import counted_columns, without_rows
from survey.losses.priced import add_losses
from survey.losses.ranking import NOTHING_DUE
from survey.pipeline import inputs_as_given
from survey.readings import Round, kept
from survey.readings.model import RawTable
from survey.readings.spellings import with_names
from survey.site import Site
from survey.streaming.gathering import Gathered
from survey.streaming.source import Source
from survey.streaming.tidied_rows import joined, one_piece

COUNTED = ("state", "cause", "steam_loss_lb_per_h", "annual_loss_klb", "annual_cost",
           "annual_co2_t", "loss_variance")  # fmt: skip
"""What the totals of a round are made from."""
_CODED = {
    "state": pd.CategoricalDtype(sorted({UNDECIDED, *chain(*STATES_BY_DEVICE.values())})),
    "cause": pd.CategoricalDtype(sorted(CAUSES)),
}


@dataclass(frozen=True)
class Judged:
    """Findings of one batch.

    Parameters
    ----------
    findings
        As they are saved, rank still blank.
    due_tags
        Tags of the rows that something is due on.
    counted
        What the totals are made from, (rows,) each.
    like
        What the totals need of the round: a diagnosis of no rows.
    """

    findings: pa.Table
    due_tags: pa.Array
    counted: dict[str, Any]
    like: Diagnosis


def judge_batch(
    source: Source,
    raw: Sequence[RawTable],
    gathered: Gathered,
    site: Site,
    tidied: pd.DataFrame | None = None,
) -> Judged:
    """Judge the rows of a batch that can be judged.

    Parameters
    ----------
    raw
        The batch, a table to each file that it has rows of; none where it is tidied, and no
        column of it is kept as given.
    gathered
        Of these rows alone.
    tidied
        The same rows as pass one tidied them, if it kept them.
    """
    usable = gathered.usable
    equipment = gathered.equipment[usable]
    read = _round(source, raw, tidied, gathered)
    intake = take_in(read.table, site, gathered.calibration.gaps, equipment)
    diagnosis = judge(intake, site=site, calibration=gathered.calibration)
    table = add_losses(diagnosis, read.table, site)
    unranked = pd.Series(np.full(len(table), np.nan))
    found = {name: table.get(name, unranked) for name in FINDING_NAMES}
    return Judged(
        findings=_in_arrow({**inputs_as_given(read), **found}),
        due_tags=due_tags(table),
        counted={**_counted(table), **counted_columns(diagnosis)},
        like=without_rows(diagnosis),
    )


def due_tags(table: pd.DataFrame) -> pa.LargeStringArray:
    """Return the tags of the rows of a batch that something is due at, in one piece."""
    due = (table["state"] != NOTHING_DUE).to_numpy()
    return one_piece(pa.array(table["tag"][due], type=pa.large_string()))


def _in_arrow(columns: dict[str, pd.Series]) -> pa.Table:
    """Return columns as Arrow has them of a whole table, without making that of every batch."""
    schema = _schema(tuple((name, values.dtype) for name, values in columns.items()))
    arrays = [
        pa.array(values, type=kind, from_pandas=True)
        for values, kind in zip(columns.values(), schema.types, strict=True)
    ]
    # In one piece, so that it is one row group whichever process judged it.
    return pa.Table.from_arrays(arrays, schema=schema).combine_chunks()


@lru_cache
def _schema(kinds: tuple[tuple[str, Any], ...]) -> pa.Schema:
    frame = pd.DataFrame({name: pd.Series(dtype=kind) for name, kind in kinds})
    return pa.Schema.from_pandas(frame, preserve_index=False)


def _round(
    source: Source, raw: Sequence[RawTable], tidied: pd.DataFrame | None, gathered: Gathered
) -> Round:
    usable = gathered.usable
    table = tidied
    if table is None:
        table = joined([source.part(one).tidied.table for one in raw])
    if not usable.all():
        table = table[usable].reset_index(drop=True)
    return Round(
        table=with_names(table, gathered.renames),
        originals=_originals(source, raw, gathered) if raw else pd.DataFrame(index=table.index),
        given=tuple(claim.match.header for claim in source.claims),
        lines=np.zeros(0, dtype=np.int64),  # which they are is asked of rows set aside only
        rejects=pd.DataFrame(),
        matches=source.matches,
        rows_read=len(usable),
        notes=(),
    )


def _originals(source: Source, raw: Sequence[RawTable], gathered: Gathered) -> pd.DataFrame:
    names, start, found = kept.kept_names(source.claims), 0, []
    for one in raw:
        mine = gathered.usable[start : start + len(one.cells)]
        stays = one.cells if mine.all() else one.cells.filter(pa.array(mine))
        found.append(kept.originals(stays, source.claims, names, gathered.as_typed))
        start += len(mine)
    return joined(found)


def _counted(table: pd.DataFrame) -> dict[str, Any]:
    return {
        name: _coded(table[name], _CODED[name]) if name in _CODED else table[name]
        for name in COUNTED
    }


def _coded(words: pd.Series, known: pd.CategoricalDtype) -> pd.Categorical:
    code = pc.index_in(pa.array(words), value_set=pa.array(known.categories))
    return pd.Categorical.from_codes(code.to_numpy(), dtype=known)
