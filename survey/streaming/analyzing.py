"""A large round to a Parquet file of findings, a batch at a time and on every core."""

from __future__ import annotations

import os
import tempfile
import time
from collections.abc import Sequence
from contextlib import AbstractContextManager, ExitStack, nullcontext
from datetime import UTC, datetime
from os import PathLike
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pyarrow as pa

from survey.columns import DEVICES
from survey.errors import UsageError
from survey.findings import Findings
from survey.losses.counted import counted_diagnosis
from survey.losses.ranking import NOTHING_DUE, ranks
from survey.readings import Round
from survey.readings.model import HeaderMap
from survey.site import Site
from survey.streaming.findings_file import FindingsFile
from survey.streaming.gathering import Gathered, NotInBatchesError, gather_round
from survey.streaming.here import Here, Progress, Put
from survey.streaming.judging import COUNTED
from survey.streaming.process_wide import memory_of_the_system
from survey.streaming.source import BATCH_ROWS, Source, source_of
from survey.summary import summarise
from survey.writing import replacing

_NO_SOURCE = "files that are not Parquet, headers that are not the columns' own or that differ"


def analyze_to_file(
    paths: Sequence[str | PathLike[str]],
    out: Path,
    *,
    site: Site,
    header_map: HeaderMap | None = None,
    progress: Progress | None = None,
    workers: int | None = None,
    batch_rows: int = BATCH_ROWS,
    cluster: str | None = None,
) -> Findings | None:
    """Judge a large round from file to file.

    Parameters
    ----------
    paths
        Parquet files, or folders of them, or files of text: one round, its rows in this order.
    out
        Parquet file of findings; the same, byte for byte of each column, as `Findings.save`
        writes of the whole round.
    workers
        Batches judged at once; by default as many as there are cores.
    batch_rows
        Rows read at a time; a round of fewer is not judged here.
    cluster
        Address of a Dask scheduler, or 'local' for processes on this machine. The findings are
        the same, bit for bit. By default all is done in this process.

    Returns
    -------
    Findings or None
        The summary, the rows set aside, and the `findings_file.SHOWN` dearest rows. None where
        the round is not one to judge in batches, and no cluster was named: then nothing was
        written.

    Raises
    ------
    UnreadableFile, MapError, OutputError
        As reading and saving a round do.
    UsageError
        The cluster cannot be used, or the round is not one for it.
    """
    started = time.perf_counter()
    tell = progress or (lambda *_: None)
    with ExitStack() as room:
        room.enter_context(memory_of_the_system)
        source = source_of(
            paths, header_map=header_map, altitude_ft=site.altitude_ft, batch_rows=batch_rows,
            texts=cluster is None,
            spill=lambda: room.enter_context(tempfile.TemporaryFile(dir=out.parent)),
        )  # fmt: skip
        if source is None:
            _refuse_for(cluster, f"{_NO_SOURCE}, or fewer than {batch_rows:,} rows")
            return None
        way = room.enter_context(_way(cluster, workers or os.cpu_count() or 1, source, out.parent))
        try:
            gathered = gather_round(source, way.look(source, tell), site)
        except NotInBatchesError as error:
            _refuse_for(cluster, str(error))
            return None
        file = room.enter_context(FindingsFile(room.enter_context(replacing(out))))
        put = way.judge(source, gathered, site, file=file, tell=tell)
        summary = _summary(source, gathered, put, site, started)
        dearest = file.finish(_rank(put), summary, gathered.rejects)
    return Findings(dearest, gathered.rejects, summary)


def _way(
    cluster: str | None, workers: int, source: Source, folder: Path
) -> AbstractContextManager[Any]:
    if cluster is None:
        return nullcontext(Here(workers))
    from survey.streaming.cluster import connected

    return connected(cluster, workers=workers, source=source, folder=folder.absolute())


def _refuse_for(cluster: str | None, why: str) -> None:
    if cluster is not None:
        raise UsageError(
            "A round that can be judged in batches was expected, for a cluster",
            found=f"one with {why}",
            do="leave the cluster out: the round is then judged whole, in this process",
        )


def _summary(
    source: Source, gathered: Gathered, put: Put, site: Site, started: float
) -> dict[str, Any]:
    counted = put.counted
    diagnosis = counted_diagnosis(counted, put.like)
    table = pd.DataFrame({name: counted[name] for name in COUNTED}, copy=False)
    device = pd.Categorical.from_codes(
        diagnosis.intake.rows.device, dtype=pd.CategoricalDtype(list(DEVICES))
    )
    read = Round(
        table=pd.DataFrame({"device": device}),
        originals=pd.DataFrame(),
        given=tuple(claim.match.header for claim in source.claims),
        lines=np.zeros(0, dtype=np.int64),
        rejects=gathered.rejects,
        matches=source.matches,
        rows_read=len(gathered.usable),
        notes=tuple(dict.fromkeys([*source.notes, *gathered.notes])),
    )
    seconds = time.perf_counter() - started
    return summarise(read, diagnosis, table, site, seconds=seconds, made_at=datetime.now(UTC))


def _rank(put: Put) -> np.ndarray:
    """Return the rank of every row, in order, NaN where nothing is due."""
    due = np.asarray(put.counted["state"] != NOTHING_DUE)
    result = np.full(len(due), np.nan)
    cost = put.counted["annual_cost"][due]
    result[due] = ranks(cost=cost, tag=pa.chunked_array(put.due_tags))
    return result
