"""A file that can be read in batches: Parquet in the contract's own columns."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pyarrow as pa

from survey.readings.gather import Part
from survey.readings.headers import Claim
from survey.readings.kinds import tell_kind
from survey.readings.mapping import check_header_map, check_map_used
from survey.readings.model import HeaderMap, RawTable
from survey.readings.parquets import parquet_batches
from survey.readings.reader import claims_of, part_of

BATCH_ROWS = 65_536
"""Rows read at a time: enough that what each batch costs of itself is small."""


@dataclass(frozen=True)
class Source:
    """One Parquet file, its headers understood.

    Parameters
    ----------
    claims
        Which header fills which column.
    notes
        What was said of the headers.
    batch_rows
        Rows read at a time.
    """

    path: Path
    claims: Sequence[Claim]
    notes: Sequence[str]
    altitude_ft: float
    batch_rows: int

    def tables(self) -> Iterator[RawTable]:
        """Read the file from its start, so many rows at a time."""
        return parquet_batches(self.path, self.batch_rows)

    def part(self, table: RawTable) -> Part:
        """Check every cell of a batch."""
        return part_of(table, self.claims, self.altitude_ft)

    def cut_at(self, ends: np.ndarray) -> Iterator[RawTable]:
        """Read the file from its start in batches that end after so many rows of it."""
        waiting: list[pa.Table] = []
        start, held = 0, 0
        tables = iter(self.tables())
        for end in ends:
            while start + held < end:
                cells = next(tables).cells
                waiting.append(cells)
                held += len(cells)
            whole = pa.concat_tables(waiting)
            lines = np.arange(start + 1, end + 1, dtype=np.int64)
            yield RawTable(self.path.name, whole.slice(0, end - start), lines)
            waiting, held = [whole.slice(end - start)], held - int(end - start)
            start = int(end)


def source_of(
    paths: Sequence[str],
    *,
    header_map: HeaderMap | None,
    altitude_ft: float,
    batch_rows: int = BATCH_ROWS,
) -> Source | None:
    """Return the source if it is one long Parquet file in contract columns, else None.

    Columns that are no readings at all are fine. What takes a whole look, such as units that
    are assumed or several files, is for `readings.read_round`.

    Raises
    ------
    UnreadableFile, MapError
        As `readings.read_round` does.
    """
    if len(paths) != 1 or tell_kind(Path(paths[0])) != "parquet":
        return None
    named = check_header_map(header_map or {})
    first = next(parquet_batches(Path(paths[0]), batch_rows), None)
    if first is None or len(first.cells) < batch_rows:
        return None
    check_map_used(named, first.headers)
    claims, notes = claims_of(first, named)
    exact = all(c.match.column is None or c.match.how in ("exact", "set by map") for c in claims)
    tagged = any(c.match.column == "tag" for c in claims)
    if not (exact and tagged):
        return None
    return Source(Path(paths[0]), claims, notes, altitude_ft, batch_rows)
