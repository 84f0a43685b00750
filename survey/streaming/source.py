"""Files that can be read in batches, as one run of rows: Parquet in the contract's own columns."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from os import PathLike
from pathlib import Path

import numpy as np
import pyarrow as pa

from survey.readings import hints
from survey.readings.folders import files_of
from survey.readings.gather import Part, matches_of
from survey.readings.headers import Claim
from survey.readings.kinds import tell_kind
from survey.readings.mapping import check_header_map, check_map_used
from survey.readings.model import HeaderMap, HeaderMatch, RawTable
from survey.readings.parquets import parquet_batches, parquet_top
from survey.readings.reader import claims_of, part_of

BATCH_ROWS = 65_536
"""Rows read at a time: enough that what each batch costs of itself is small."""


@dataclass(frozen=True)
class Source:
    """Parquet files whose headers are the same, and understood; their rows follow one another.

    Parameters
    ----------
    starts
        Rows before each file, then all rows, (files + 1,).
    claims
        Which header fills which column.
    matches
        How the headers were understood, with a sample of each.
    notes
        What was said of the headers.
    batch_rows
        Rows read at a time.
    """

    paths: tuple[Path, ...]
    starts: np.ndarray
    claims: Sequence[Claim]
    matches: tuple[HeaderMatch, ...]
    notes: Sequence[str]
    altitude_ft: float
    batch_rows: int

    @property
    def rows(self) -> int:
        """Rows in all files."""
        return int(self.starts[-1])

    @property
    def several(self) -> bool:
        """Whether a row needs the name of its file too."""
        return len(self.paths) > 1

    def place(self, rows: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return the file that each row is in, counted from 0, and its line there, from 1."""
        file = np.searchsorted(self.starts, rows, side="right") - 1
        return file, rows - self.starts[file] + 1

    def tables(self, start: int = 0) -> Iterator[RawTable]:
        """Read the files from a row on, so many rows at a time; no table spans two files."""
        for path, begins, ends in zip(self.paths, self.starts, self.starts[1:], strict=False):
            if ends > start:
                skip = int(max(start - begins, 0))
                yield from parquet_batches(path, self.batch_rows, skip=skip)

    def part(self, table: RawTable) -> Part:
        """Check every cell of a batch."""
        return part_of(table, self.claims, self.altitude_ft)

    def cut_at(self, ends: np.ndarray, start: int = 0) -> Iterator[list[RawTable]]:
        """Read from a row on, in batches that end after so many rows, a table to each file."""
        waiting: list[RawTable] = []
        tables = self.tables(start)
        for end in ends:
            short = int(end) - start
            mine = []
            while short:
                table = waiting.pop() if waiting else next(tables)
                mine.append(_rows(table, 0, short))
                if len(table.cells) > short:
                    waiting.append(_rows(table, short, len(table.cells)))
                short -= len(mine[-1].cells)
            yield [_joined(list(one)) for _, one in groupby(mine, _origin)]
            start = int(end)


def _origin(table: RawTable) -> tuple[str, pa.Schema]:
    return table.name, table.cells.schema


def _rows(table: RawTable, start: int, end: int) -> RawTable:
    return replace(table, cells=table.cells.slice(start, end - start), lines=table.lines[start:end])


def _joined(tables: list[RawTable]) -> RawTable:
    cells = pa.concat_tables([table.cells for table in tables])
    return replace(tables[0], cells=cells, lines=np.concatenate([t.lines for t in tables]))


def source_of(
    paths: Sequence[str | PathLike[str]],
    *,
    header_map: HeaderMap | None,
    altitude_ft: float,
    batch_rows: int = BATCH_ROWS,
) -> Source | None:
    """Return the source if it is a long round of Parquet files in contract columns, else None.

    Columns that are no readings at all are fine. What takes a whole look, such as units that
    are assumed or files whose headers differ, is for `readings.read_round`.

    Raises
    ------
    UnreadableFile, MapError
        As `readings.read_round` does.
    """
    files = files_of(paths)
    if not files or any(tell_kind(path) != "parquet" for path in files):
        return None
    named = check_header_map(header_map or {})
    tops, rows = zip(*(parquet_top(path) for path in files), strict=True)
    if sum(rows) < batch_rows:
        return None
    check_map_used(named, (header for top in tops for header in top.headers))
    claims, notes = [], []
    for top in tops:
        of_file, said = claims_of(top, named)
        claims.append(of_file)
        notes += said if len(top.cells) else [*said, *hints.from_part(part_of(top, of_file, 0.0))]
    if not _understood(claims[0]) or any(_meant(one) != _meant(claims[0]) for one in claims):
        return None
    return Source(
        paths=tuple(path.absolute() for path in files),
        starts=np.concatenate([[0], np.cumsum(rows)]).astype(np.int64),
        claims=claims[0],
        matches=matches_of(claims),
        notes=tuple(dict.fromkeys(notes)),
        altitude_ft=altitude_ft,
        batch_rows=batch_rows,
    )


def _understood(claims: Sequence[Claim]) -> bool:
    exact = all(c.match.column is None or c.match.how in ("exact", "set by map") for c in claims)
    return exact and any(c.match.column == "tag" for c in claims)


def _meant(claims: Sequence[Claim]) -> list[tuple[HeaderMatch, object]]:
    return [(replace(claim.match, sample=""), claim.unit) for claim in claims]
