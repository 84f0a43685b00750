"""The file of a large round's findings: rows as they come, their ranks when all are judged."""

from __future__ import annotations

import base64
import math
from pathlib import Path
from types import TracebackType
from typing import Any, Self

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq

from survey.findings import described, written_as
from survey.losses.ranking import NOTHING_DUE, ranks

SHOWN = 100
"""Dearest rows given back: the rest is in the file."""
_RANK = "rank"
_BYTES_OF_NUMBER = 8


class FindingsFile:
    """Findings in Parquet, written while others are still judged.

    A rank can be told only of the whole round, and a column in a Parquet file cannot be added to.
    But ranks are written as they are in memory, neither packed nor coded, so the place of each is
    kept by a number that stands for it alone, and `finish` writes the rank there. Written after
    the last judgement instead, rows would have to be put by, and one core would write alone.

    Parameters
    ----------
    path
        Where to write; what stands there is whole only after `finish`.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        self._writer: Any = None
        self._schema: Any = None
        self._rows = self._due = 0
        self._dear: list[pa.Table] = []
        self._dear_rows: list[np.ndarray] = []

    def __enter__(self) -> Self:
        """Return itself."""
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:  # fmt: skip
        """Close the file, whatever is in it."""
        if self._writer is not None:
            self._writer.close()

    def add(self, findings: pa.Table) -> None:
        """Write the findings of the next rows, their ranks still blank."""
        if self._writer is None:
            self._schema = findings.schema
            # What the file says of itself is known when it is finished.
            self._writer = pq.ParquetWriter(
                self._path, self._schema, store_schema=False, **written_as(self._schema)
            )
        due = np.flatnonzero(pc.not_equal(findings["state"], NOTHING_DUE).to_numpy())
        places = np.full(len(findings), np.nan)
        places[due] = _places(self._due, len(due))
        self._keep_dear(findings, due)
        self._writer.write_table(_with_rank(findings, places))
        self._rows += len(findings)
        self._due += len(due)

    def _keep_dear(self, findings: pa.Table, due: np.ndarray) -> None:
        """Keep those of the rows that may be among the dearest of the round."""
        cost = np.round(findings["annual_cost"].to_numpy()[due], 2)
        if len(due) > SHOWN:
            due = due[cost >= np.partition(cost, -SHOWN)[-SHOWN]]
        dear = findings.take(due)
        within = ranks(cost=dear["annual_cost"].to_numpy(), tag=dear["tag"]) <= SHOWN
        self._dear.append(dear.filter(within))
        self._dear_rows.append(self._rows + due[within])

    def finish(
        self, rank: np.ndarray, summary: dict[str, Any], rejects: pd.DataFrame
    ) -> pd.DataFrame:
        """Write what had to wait for the last row; return the dearest rows, in order.

        Parameters
        ----------
        rank
            Of every row, in order, NaN where nothing is due.
        summary, rejects
            Of `Findings`.
        """
        schema = described(self._schema, summary, rejects)
        arrow = base64.b64encode(schema.serialize().to_pybytes())
        self._writer.add_key_value_metadata({**schema.metadata, b"ARROW:schema": arrow})
        self._writer.close()
        self._write_ranks(rank)
        mine = rank[np.concatenate(self._dear_rows)]
        dear = _with_rank(pa.concat_tables(self._dear), mine).filter(mine <= SHOWN)
        table: pd.DataFrame = dear.cast(schema).to_pandas()
        return table

    def _write_ranks(self, rank: np.ndarray) -> None:
        file = pq.read_metadata(self._path)
        column = self._schema.get_field_index(_RANK)
        start = due = 0
        with self._path.open("r+b") as stream:
            for at in range(file.num_row_groups):
                group = file.row_group(at)
                ranked = rank[start : start + group.num_rows]
                ranked = ranked[~np.isnan(ranked)]
                stream.seek(group.column(column).data_page_offset)
                content = bytearray(stream.read(group.column(column).total_compressed_size))
                _replace(content, _places(due, len(ranked)), ranked)
                stream.seek(group.column(column).data_page_offset)
                stream.write(content)
                start += group.num_rows
                due += len(ranked)


def _with_rank(findings: pa.Table, rank: np.ndarray) -> pa.Table:
    at = findings.schema.get_field_index(_RANK)
    return findings.set_column(at, findings.schema.field(at), pa.array(rank, from_pandas=True))


def _places(start: int, count: int) -> np.ndarray:
    """Return numbers to stand for ranks: no two alike, and no bytes that a page has elsewhere."""
    return np.arange(start + 1, start + count + 1) * math.pi


def _replace(content: bytearray, places: np.ndarray, by: np.ndarray) -> None:
    """Write numbers over others in pages of them, which have other bytes between."""
    done = position = 0
    while done < len(places):
        position = content.find(places[done].tobytes(), position)
        if position < 0:
            raise ValueError("ranks are not written as they are in memory")
        room = (len(content) - position) // _BYTES_OF_NUMBER
        here = np.frombuffer(content, dtype="<f8", count=room, offset=position)
        room = min(room, len(places) - done)
        differs = np.flatnonzero(here[:room] != places[done : done + room])
        count = int(differs[0]) if len(differs) else room
        del here  # a view keeps the bytes from being written to
        end = position + count * _BYTES_OF_NUMBER
        content[position:end] = by[done : done + count].astype("<f8").tobytes()
        done += count
        position = end
