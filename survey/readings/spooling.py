"""A long CSV file to a temporary file of its cells, a batch at a time, in memory that stays flat.

Read so is only what the fast way of `delimited` reads: UTF-8, each row one line of the header's
width. All else is None here and left to `read_delimited`, which says what is wrong with it too.
"""

from __future__ import annotations

import codecs
import csv
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import IO, Any

import numpy as np

from survey.errors import UnreadableFile
from survey.readings import dittos, strays
from survey.readings.delimited import (
    DECIMAL_ROWS,
    arrow_options,
    decimal_of,
    offset_of_line,
    understand_sample,
)
from survey.readings.layout import Layout
from survey.readings.limits import MAX_COLUMNS, SAMPLE_BYTES, most_rows
from survey.readings.model import HeaderMap, Lines, RawTable

Spill = Callable[[], IO[bytes]]
"""Opens a file with no name, which stays open as long as the round is read."""
_CHUNK_BYTES = 1 << 20
_BLOCK_BYTES = 2 << 20  # several blocks are read ahead: larger ones take more, and save no time


class _NotFastError(Exception):
    """The file holds something that the fast way does not read."""


@dataclass(frozen=True)
class Spool:
    """The rows of a CSV file, put by.

    Parameters
    ----------
    top
        Its first rows, and what holds for all of them.
    starts
        Rows before each batch that was put by, then all rows, (batches + 1,).
    reader
        Of the batches.
    first_line
        Line of the file that the first row would be on, if no line before it was left out.
    gaps
        Rows before each line that was left out, in order, (lines left out,).
    """

    top: RawTable
    starts: np.ndarray
    reader: Any
    first_line: int
    gaps: np.ndarray

    @property
    def rows(self) -> int:
        """Rows put by."""
        return int(self.starts[-1])

    def lines(self, rows: np.ndarray) -> Lines:
        """Return the line of the file that each row is on."""
        return self.first_line + rows + np.searchsorted(self.gaps, rows, side="right")

    def tables(self, skip: int = 0) -> Iterator[RawTable]:
        """Give the rows from one on, as they were put by."""
        first = int(np.searchsorted(self.starts, skip, side="right")) - 1
        for number in range(first, len(self.starts) - 1):
            start, end = max(int(self.starts[number]), skip), int(self.starts[number + 1])
            cells = _table(self.reader.get_batch(number)).select(self.top.headers)
            yield replace(
                self.top,
                cells=cells.slice(start - int(self.starts[number])),
                lines=self.lines(np.arange(start, end, dtype=np.int64)),
            )


def spooled(path: Path, *, header_map: HeaderMap, spill: Spill) -> Spool | None:
    """Put the cells of a CSV file by, if the fast way can read it all.

    Parameters
    ----------
    spill
        Opens the file to put them in.

    Returns
    -------
    Spool or None
        As `read_delimited` has its rows, lines and notes. None where it has to look itself:
        nothing is wrong with the file then, or it says what.
    """
    import pyarrow as pa

    into: IO[bytes] | None = None
    try:
        with path.open("rb") as stream:
            start = _start_of(path, stream, header_map)
            into = spill()
            return _put_by(path.name, stream, start, into)
    except (_NotFastError, UnreadableFile, UnicodeDecodeError, pa.ArrowException, csv.Error,
            OSError, MemoryError):  # fmt: skip
        if into is not None:
            into.close()  # its place on the disk is given back at once
        return None


@dataclass(frozen=True)
class _Start:
    """Where the rows of a file begin, and what they should be."""

    offset: int
    line: int
    rows: int
    quoted: bool
    delimiter: str
    found: Layout


def _start_of(path: Path, stream: IO[bytes], header_map: HeaderMap) -> _Start:
    marked = stream.read(len(codecs.BOM_UTF8)) == codecs.BOM_UTF8
    begin = len(codecs.BOM_UTF8) if marked else 0
    breaks, quoted, closed = _scan(stream, begin)
    stream.seek(begin)
    text = stream.read(SAMPLE_BYTES)
    sample, delimiter, found = understand_sample(path, text, header_map)
    line = sample[found.rows_at - 1][1] + 1
    offset = offset_of_line(text, line)
    if offset == len(text) or len(found.headers) > MAX_COLUMNS:
        raise _NotFastError
    text[:offset].decode()  # what the lines above are, the rows' own reader will not tell
    rows = breaks - (line - 1) + (not closed)
    return _Start(begin + offset, line, rows, quoted, delimiter, found)


def _scan(stream: IO[bytes], begin: int) -> tuple[int, bool, bool]:
    """Return the line breaks of a text, whether it has quotes, and whether its last line ends.

    Raises
    ------
    _NotFastError
        It has NULs, line breaks of the old kind, more lines than readings could fill, or ditto
        marks, for which what stands above must be at hand.
    """
    size = breaks = 0
    quoted, last, seam = False, b"", b""
    stream.seek(begin)
    while chunk := stream.read(_CHUNK_BYTES):
        if dittos.may_hold_dittos(chunk) or dittos.may_hold_dittos(seam + chunk[: len(seam)]):
            raise _NotFastError
        seam = chunk[-dittos.LONGEST_BYTES :]
        both = last + chunk  # a pair of CR and LF may be parted
        pairs = both.count(b"\r\n")
        if both.count(b"\r") - both.endswith(b"\r") != pairs or b"\x00" in chunk:
            raise _NotFastError
        size += len(chunk)
        breaks += chunk.count(b"\n")
        quoted = quoted or b'"' in chunk
        last = chunk[-1:]
    if last == b"\r" or breaks > most_rows(size):
        raise _NotFastError
    return breaks, quoted, last == b"\n"


def _put_by(name: str, stream: IO[bytes], start: _Start, into: IO[bytes]) -> Spool:
    import pyarrow as pa

    unnamed = set(start.found.unnamed)
    lengths, gaps = [0], []
    rows = read = 0
    schema = pa.schema([(header, pa.string()) for header in start.found.headers])
    # Packed: half the place or less, and no time.
    packed = pa.ipc.IpcWriteOptions(compression="lz4")
    with pa.ipc.new_file(into, schema, options=packed) as writer:
        for cells in _blocks(stream, start):
            kept, left_out = _without_strays(cells, start.found)
            gaps.append(rows + left_out - np.arange(len(left_out)))
            unnamed = {header for header in unnamed if strays.is_blank(kept.column(header))}
            read += len(cells)
            rows += len(kept)
            for batch in kept.combine_chunks().to_batches():
                writer.write_batch(batch)
                lengths.append(len(batch))
    if read != start.rows or not rows:
        raise _NotFastError  # a row spans lines, or there is none
    starts = np.cumsum(lengths)
    reader = pa.ipc.open_file(into)
    top = _top(name, reader, starts, start, unnamed)
    spool = Spool(top, starts, reader, start.line, np.concatenate(gaps))
    return replace(spool, top=replace(top, lines=spool.lines(np.arange(len(top.cells)))))


def _blocks(stream: IO[bytes], start: _Start) -> Iterator[Any]:
    import pyarrow.csv as pa_csv

    stream.seek(start.offset)
    options = arrow_options(
        start.found.headers, start.delimiter, quoted=start.quoted, block_bytes=_BLOCK_BYTES
    )
    with pa_csv.open_csv(stream, *options) as reader:
        for batch in reader:
            yield _table(batch)


def _without_strays(cells: Any, found: Layout) -> tuple[Any, np.ndarray]:
    """Return the rows of a block that are rows, and the positions of the others."""
    at = np.arange(len(cells), dtype=np.int64)
    # Whether a column is empty only the whole file tells.
    kept, stays, faults = strays.drop_strays(cells, at, [], replace(found, unnamed=frozenset()))
    if faults:
        raise _NotFastError
    return kept, np.delete(at, stays)


def _top(name: str, reader: Any, starts: np.ndarray, start: _Start, empty: set[str]) -> RawTable:
    import pyarrow as pa

    batches = int(np.searchsorted(starts, DECIMAL_ROWS))
    first = [reader.get_batch(number) for number in range(min(batches, len(starts) - 1))]
    cells = pa.Table.from_batches(first).slice(0, DECIMAL_ROWS)
    cells = cells.drop_columns(list(empty)) if empty else cells
    return RawTable(
        name,
        cells.combine_chunks(),
        np.arange(len(cells), dtype=np.int64),
        start.found.units,
        decimal_of(cells, start.delimiter),
        notes=tuple(start.found.notes),
        is_text=True,
    )


def _table(batch: Any) -> Any:
    import pyarrow as pa

    return pa.Table.from_batches([batch])
