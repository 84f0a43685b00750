"""Files whose rows can be judged in batches, as one run: tables in the contract's own columns."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import groupby, pairwise
from os import PathLike
from pathlib import Path

import numpy as np
import pyarrow as pa

from survey.errors import UnreadableFile
from survey.readings import hints
from survey.readings.delimited import read_delimited
from survey.readings.folders import files_of
from survey.readings.gather import Part, matches_of
from survey.readings.headers import Claim
from survey.readings.kinds import tell_kind
from survey.readings.mapping import check_header_map, check_map_used
from survey.readings.model import HeaderMap, HeaderMatch, RawTable
from survey.readings.parquets import parquet_batches, parquet_top
from survey.readings.reader import claims_of, part_of
from survey.readings.spooling import Spill
from survey.streaming.texts import Text, text_of

BATCH_ROWS = 65_536
"""Rows read at a time: enough that what each batch costs of itself is small."""
LEAST_TEXT_BYTES = 12
"""Least that a row of readings takes in text; a file too small for a batch is not read to see."""


@dataclass(frozen=True)
class Source:
    """Files whose headers are the same, and understood; their rows follow one another.

    Parquet is read a batch at a time, at each pass again. Text is read once: where a cell of it
    ends is known from its start only. Its cells are put by for the passes.

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
    texts
        The rows of each file, of text; empty for Parquet.
    """

    paths: tuple[Path, ...]
    starts: np.ndarray
    claims: Sequence[Claim]
    matches: tuple[HeaderMatch, ...]
    notes: Sequence[str]
    altitude_ft: float
    batch_rows: int
    texts: tuple[Text, ...] = ()

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
        lines = rows - self.starts[file] + 1
        for number, text in enumerate(self.texts):
            mine = file == number
            lines[mine] = text.lines(lines[mine] - 1)
        return file, lines

    def tables(self, start: int = 0) -> Iterator[RawTable]:
        """Give the files' rows from one on, so many at a time; no table spans two files."""
        for file, (begins, ends) in enumerate(pairwise(self.starts)):
            if ends > start:
                yield from self._of_file(file, int(max(start - begins, 0)))

    def _of_file(self, file: int, skip: int) -> Iterator[RawTable]:
        if self.texts:
            return self.texts[file].tables(skip)
        return parquet_batches(self.paths[file], self.batch_rows, skip=skip)

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
    texts: bool = True,
    spill: Spill | None = None,
) -> Source | None:
    """Return the source if it is a long round, of one kind, in contract columns, else None.

    Columns that are no readings at all are fine. What takes a whole look, such as units that
    are assumed, rows that do not fit or files whose headers differ, is for `readings.read_round`.

    Parameters
    ----------
    texts
        Whether files of text will do, or Parquet alone.
    spill
        Opens a file for the cells of each file of text; else they are held in memory.

    Raises
    ------
    UnreadableFile, MapError
        As `readings.read_round` does.
    """
    files = files_of(paths)
    kinds = {tell_kind(path) for path in files}
    named = check_header_map(header_map or {})
    read: tuple[Text, ...] = ()
    if kinds == {"parquet"}:
        tops, rows = zip(*(parquet_top(path) for path in files), strict=True)
    elif kinds == {"text"} and texts and _sizes(files) >= LEAST_TEXT_BYTES * batch_rows:
        if not all(_seems_understood(path, named) for path in files):
            return None
        read = tuple(text_of(path, named, spill) for path in files)
        tops, rows = tuple(text.top for text in read), tuple(text.rows for text in read)
    else:
        return None
    if sum(rows) < batch_rows or any(top.faults for top in tops):
        return None
    check_map_used(named, (header for top in tops for header in top.headers))
    claims, notes = [], []
    for top, count in zip(tops, rows, strict=True):
        of_file, said = claims_of(top, named)
        claims.append(of_file)
        notes += [*top.notes, *said]
        notes += hints.from_part(part_of(top, of_file, 0.0)) if not count else []
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
        texts=read,
    )


def _seems_understood(path: Path, named: HeaderMap) -> bool:
    # Told from its start: a long file is not read for nothing.
    try:
        top = read_delimited(path, header_map=named, preview=True)
    except UnreadableFile:
        return False
    return _understood(claims_of(top, named)[0])


def _sizes(files: Sequence[Path]) -> int:
    return sum(path.stat().st_size for path in files)


def _understood(claims: Sequence[Claim]) -> bool:
    exact = all(c.match.column is None or c.match.how in ("exact", "set by map") for c in claims)
    return exact and any(c.match.column == "tag" for c in claims)


def _meant(claims: Sequence[Claim]) -> list[tuple[HeaderMatch, object]]:
    return [(replace(claim.match, sample=""), claim.unit) for claim in claims]
