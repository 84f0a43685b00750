"""A large Parquet file to a Parquet file of findings, in flat memory and on every core."""

from __future__ import annotations

import os
import tempfile
import time
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import IO, Any

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq

from survey.columns import DEVICES
from survey.findings import Findings, described, repeating
from survey.losses.ranking import NOTHING_DUE, ranks
from survey.readings import Round
from survey.readings.model import HeaderMap
from survey.site import Site
from survey.streaming.gathering import Gathered, NotInBatchesError, gather_round
from survey.streaming.judging import Judged, joined, judge_batch
from survey.streaming.source import BATCH_ROWS, Source, source_of
from survey.summary import summarise
from survey.writing import replacing

SHOWN = 100
"""Dearest rows given back: the rest is in the file."""
Progress = Callable[[int, int], None]


def analyze_to_file(
    paths: Sequence[str],
    out: Path,
    *,
    site: Site,
    header_map: HeaderMap | None = None,
    progress: Progress | None = None,
    workers: int | None = None,
    batch_rows: int = BATCH_ROWS,
) -> Findings | None:
    """Judge a large round from file to file.

    Parameters
    ----------
    out
        Parquet file of findings; the same, byte for byte of each column, as `Findings.save`
        writes of the whole round.
    workers
        Batches judged at once; by default as many as there are cores.
    batch_rows
        Rows read at a time; a round of fewer is not judged here.

    Returns
    -------
    Findings or None
        The summary, the rows set aside, and the `SHOWN` dearest rows. None where the round is
        not one to judge in batches: then nothing was written.

    Raises
    ------
    UnreadableFile, MapError, OutputError
        As reading and saving a round do.
    """
    started = time.perf_counter()
    tell = progress or (lambda *_: None)
    source = source_of(
        paths, header_map=header_map, altitude_ft=site.altitude_ft, batch_rows=batch_rows
    )
    if source is None:
        return None
    try:
        gathered = gather_round(source, site, lambda: tell(0, 1))
    except NotInBatchesError:
        return None
    with replacing(out) as temporary, tempfile.TemporaryFile(dir=out.parent) as spill:
        judged = _judge_all(source, gathered, site, spill, workers or os.cpu_count() or 1, tell)
        summary = _summary(source, gathered, judged, site, started)
        rank = _rank(judged)
        dearest = _write(spill, temporary, rank, summary, gathered.rejects)
    return Findings(dearest, gathered.rejects, summary)


def _judge_all(
    source: Source, gathered: Gathered, site: Site, spill: IO[bytes], workers: int, tell: Progress
) -> list[Judged]:
    """Judge every batch, put its findings by in order, and return what the totals need."""
    result: list[Judged] = []
    writer: Any = None
    for judged in _in_order(source, gathered, site, workers):
        if writer is None:
            writer = pa.ipc.new_stream(spill, judged.findings.schema)
        writer.write_table(judged.findings)
        result.append(replace(judged, findings=judged.findings.schema.empty_table()))
        tell(len(result), len(gathered.ends) + 1)
    writer.close()
    return result


def _in_order(
    source: Source, gathered: Gathered, site: Site, workers: int
) -> Iterator[Judged]:
    """Judge batches on several threads, few ahead of the one that is due."""
    waiting: deque[Future[Judged]] = deque()
    start = 0
    with ThreadPoolExecutor(workers) as pool:
        for raw in source.cut_at(gathered.ends):
            waiting.append(
                pool.submit(judge_batch, source, raw, gathered, start=start, site=site)
            )
            start += len(raw.cells)
            if len(waiting) > workers:
                yield waiting.popleft().result()
        while waiting:
            yield waiting.popleft().result()


def _summary(
    source: Source, gathered: Gathered, judged: list[Judged], site: Site, started: float
) -> dict[str, Any]:
    diagnosis, table = joined(judged)
    device = pd.Categorical.from_codes(
        diagnosis.intake.rows.device, dtype=pd.CategoricalDtype(list(DEVICES))
    )
    read = Round(
        table=pd.DataFrame({"device": device}),
        originals=pd.DataFrame(),
        given=tuple(claim.match.header for claim in source.claims),
        lines=np.zeros(0, dtype=np.int64),
        rejects=gathered.rejects,
        matches=tuple(claim.match for claim in source.claims),
        rows_read=len(gathered.usable),
        notes=tuple(source.notes),
    )
    seconds = time.perf_counter() - started
    return summarise(read, diagnosis, table, site, seconds=seconds, made_at=datetime.now(UTC))


def _rank(judged: list[Judged]) -> np.ndarray:
    """Return the rank of every row, in order, NaN where nothing is due."""
    due = np.concatenate([one.table["state"].to_numpy() != NOTHING_DUE for one in judged])
    cost = np.concatenate([one.table["annual_cost"].to_numpy() for one in judged])
    result = np.full(len(due), np.nan)
    tags = pa.chunked_array([one.due_tags for one in judged])
    result[due] = ranks(cost=cost[due], tag=tags)
    return result


def _write(
    spill: IO[bytes], path: Path, rank: np.ndarray, summary: dict[str, Any], rejects: pd.DataFrame
) -> pd.DataFrame:
    """Write the findings with their ranks; return the dearest rows, in the order of the file."""
    spill.seek(0)
    start, dearest = 0, []
    with pa.ipc.open_stream(spill) as stream:
        schema = described(stream.schema, summary, rejects)
        column = schema.get_field_index("rank")
        with pq.ParquetWriter(path, schema, use_dictionary=repeating(schema)) as writer:
            for batch in stream:
                mine = rank[start : start + len(batch)]
                ranked = pa.array(mine, from_pandas=True)
                batch = batch.set_column(column, schema.field(column), ranked)
                writer.write_batch(batch)
                dearest.append(batch.take(pa.array(np.flatnonzero(mine <= SHOWN))))
                start += len(batch)
    table: pd.DataFrame = pa.Table.from_batches(dearest).to_pandas()
    return table
