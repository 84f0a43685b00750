"""analyze(): calls the stages in order, nothing else."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pandas as pd

from survey.columns import FINDING_NAMES
from survey.diagnosis.cuts import ends_between
from survey.diagnosis.intake import take_in
from survey.diagnosis.verdict import Diagnosis, calibrate_round, diagnose, judge
from survey.errors import NothingToJudge
from survey.findings import Findings
from survey.losses.counted import counted_columns, counted_diagnosis
from survey.losses.priced import add_losses
from survey.losses.ranking import add_rank
from survey.readings import Round, read_round, round_from_frame
from survey.site import Site
from survey.summary import summarise

Source = str | Path | Sequence[str | Path] | Round | pd.DataFrame
Progress = Callable[[int, int], None]

JUDGED_AT_ONCE = 65_536
"""Rows of a batch of a large round; one of less than twice as many is judged whole."""

__all__ = ["Findings", "analyze"]


def analyze(
    source: Source,
    *,
    site: Site | None = None,
    header_map: Mapping[str, str] | None = None,
    progress: Progress | None = None,
) -> Findings:
    """Judge a round: readings in, findings out.

    Parameters
    ----------
    source
        A file, several files of one round, a round already read, or a table with the
        columns of `columns.INPUT_COLUMNS`.
    site
        Site settings; by default all of them are assumed, and said to be.
    header_map
        Header as written -> column, for headers that are not understood by themselves.
    progress
        Called with (stages done, stages in all) as the work goes on.

    Raises
    ------
    NothingToJudge
        The round was read, but every row was set aside; it carries the findings, with
        the rows and reasons, as ``findings``.
    UnreadableFile, UsageError, MapError
        The round cannot be read.
    """
    started = time.perf_counter()
    site = site or Site()
    tell = progress or (lambda *_: None)
    tell(0, 4)
    read = _round(source, site, header_map)
    tell(1, 4)
    diagnosis, table = _judged(read.table, site)
    tell(2, 4)
    table = add_rank(table)
    tell(3, 4)
    findings = Findings(
        table=assembled(read, table),
        rejects=read.rejects,
        summary=summarise(
            read,
            diagnosis,
            table,
            site,
            seconds=time.perf_counter() - started,
            made_at=datetime.now(UTC),
        ),
    )
    tell(4, 4)
    if not len(read.table):
        raise NothingToJudge(
            "At least one row with a tag and a reading was expected",
            found=f"{read.rows_read} rows, all set aside",
            do="see the rejects for the reason of each row",
            findings=findings,
        )
    return findings


def _round(source: Source, site: Site, header_map: Mapping[str, str] | None) -> Round:
    if isinstance(source, Round):
        return source
    if isinstance(source, pd.DataFrame):
        return round_from_frame(source, altitude_ft=site.altitude_ft, stations=site.stations)
    return read_round(
        source, header_map=header_map, altitude_ft=site.altitude_ft, stations=site.stations
    )


def _judged(table: pd.DataFrame, site: Site) -> tuple[Diagnosis, pd.DataFrame]:
    """Judge a tidy table; a large one in batches, so that it takes not ten times its memory."""
    if len(table) < 2 * JUDGED_AT_ONCE:
        diagnosis = diagnose(table, site=site)
        return diagnosis, add_losses(diagnosis, table, site)
    intake, calibration = calibrate_round(table, site=site)
    batches, tables, start = [], [], 0
    for end in ends_between(intake.rows.equipment, JUDGED_AT_ONCE):
        part = table.iloc[start:end].reset_index(drop=True)
        mine = take_in(part, site, intake.gaps, intake.rows.equipment[start:end])
        diagnosis = judge(mine, site=site, calibration=calibration)
        tables.append(add_losses(diagnosis, part, site))
        batches.append(counted_columns(diagnosis))
        start = int(end)
    columns = {name: np.concatenate([one[name] for one in batches]) for name in batches[0]}
    return counted_diagnosis(columns, like=diagnosis), pd.concat(tables, ignore_index=True)


def assembled(read: Round, findings: pd.DataFrame) -> pd.DataFrame:
    """Put every input column back, as given, then what was converted, then the findings."""
    inputs = pd.DataFrame(inputs_as_given(read))
    return pd.concat([inputs, findings[list(FINDING_NAMES)]], axis=1)


def inputs_as_given(read: Round) -> dict[str, pd.Series]:
    """Return every input column, in the order of the file, then what was converted."""
    given = set(read.given)
    inputs = {}
    for name in read.originals.columns:
        inputs[name] = read.originals[name]
    converted = {match.column for match in read.matches if match.column}
    for name in read.table.columns:
        if name in given or name in converted or name == "device":
            inputs[name] = read.table[name]
    ordered = [name for name in read.given if name in inputs]
    ordered += [name for name in inputs if name not in ordered]
    return {name: inputs[name] for name in ordered}
