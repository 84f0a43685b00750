"""Delimited text to a raw table: encoding, delimiter, header; then the fast way or the sure way."""

from __future__ import annotations

import contextlib
import csv
import gc
import io
import itertools
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np

from survey.errors import UnreadableFile
from survey.readings import dittos, layout, strays
from survey.readings.decoding import to_utf8
from survey.readings.faults import Faults
from survey.readings.kinds import unreadable
from survey.readings.limits import (
    MAX_COLUMNS,
    MAX_SET_ASIDE,
    SAMPLE_BYTES,
    SAMPLE_ROWS,
    most_rows,
)
from survey.readings.model import HeaderMap, RawTable

DECIMAL_ROWS = 5_000
"""Rows by which a file's decimal mark is told: enough for its habit."""
_DELIMITERS = (",", ";", "\t", "|")
_SIMPLER = "save it again as CSV, quotes closed, or as .xlsx"
_SPLIT = "take blank lines out, or split the round by area"
_ROWS_AT_ONCE = 20_000
_LARGEST_FIELD = 2 * 1024**3 - 1  # the reader's own limit is far lower; ours is applied after it
_DECIMAL_COMMA = r"^\s*[+-]?(?:0?,[0-9]+|[1-9][0-9]*,(?:[0-9]{1,2}|[0-9]{4,}))\s*$"
_DECIMAL_POINT = r"^\s*[+-]?(?:0?\.[0-9]+|[1-9][0-9]*\.(?:[0-9]{1,2}|[0-9]{4,}))\s*$"


def read_delimited(
    path: Path, *, header_map: HeaderMap | None = None, preview: bool = False
) -> RawTable:
    """Read a CSV file of any usual dialect, every cell as text.

    Raises
    ------
    UnreadableFile
        No table can be found in it, or it is over a limit.
    """
    import pyarrow as pa

    limit = SAMPLE_BYTES if preview else None
    text, notes = to_utf8(path, limit)
    if b"\r" in text and text.count(b"\r") != text.count(b"\r\n"):
        text = text.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    if text.count(b"\n") > most_rows(len(text)):
        raise unreadable(
            path, f"{text.count(10):,} lines, more than readings could fill", do=_SPLIT
        )
    sample, delimiter, found = understand_sample(path, text[:SAMPLE_BYTES], header_map)
    if len(found.headers) > MAX_COLUMNS:
        raise unreadable(
            path,
            f"{len(found.headers):,} columns, over the limit of {MAX_COLUMNS:,}",
            do="keep the columns of the round only",
        )
    start_line = sample[found.rows_at - 1][1] + 1
    notes = [*notes, *found.notes]
    try:
        cells, lines, faults = _read_rows(text, delimiter, found, start_line, preview=preview)
    except (csv.Error, pa.ArrowException, MemoryError):
        raise unreadable(path, "text whose cells cannot be told apart", do=_SIMPLER) from None
    del text  # cells in one piece take their memory twice for a moment; the text need not be there
    cells, repeated = dittos.fill_dittos(cells.combine_chunks())
    notes += [repeated] if repeated else []
    return RawTable(
        path.name,
        cells,
        lines,
        found.units,
        decimal_of(cells, delimiter),
        tuple(faults),
        tuple(notes),
        is_text=True,
    )


def understand_sample(
    path: Path, text: bytes, header_map: HeaderMap | None
) -> tuple[list[tuple[list[str], int]], str, layout.Layout]:
    """Return the first rows of a text, each with the line it ends on, its delimiter and layout.

    Raises
    ------
    UnreadableFile
        No header is in it, or far too many columns are.
    """
    best: tuple[tuple[int, int], list[tuple[list[str], int]], str, layout.Layout] | None = None
    for delimiter in _delimiters_of(text):
        rows = list(itertools.islice(_rows(text, delimiter), SAMPLE_ROWS))
        if max((len(row) for row, _ in rows), default=0) > MAX_COLUMNS * 10:
            raise unreadable(
                path,
                f"over {MAX_COLUMNS * 10:,} columns, past the limit of {MAX_COLUMNS:,}",
                do="keep the columns of the round only",
            )
        found = layout.find_layout([row for row, _ in rows], header_map)
        if found is None:
            continue
        score = (found.known, min(len(found.headers), 50))
        if best is None or score > best[0]:
            best = (score, rows, delimiter, found)
    if best is None:
        raise unreadable(
            path,
            "text with no header line of a table in it",
            do="give a file whose first lines name the columns, tag among them",
        )
    return best[1], best[2], best[3]


def _delimiters_of(text: bytes) -> tuple[str, ...]:
    first = text[:10].decode("ascii", "replace").lower()
    if first.startswith("sep=") and first[4:5] in _DELIMITERS:
        return (first[4],)
    return _DELIMITERS


def _rows(text: bytes, delimiter: str) -> Iterator[tuple[list[str], int]]:
    """Give each row and the line it ends on."""
    csv.field_size_limit(max(csv.field_size_limit(), _LARGEST_FIELD))
    stream = io.TextIOWrapper(io.BytesIO(text), "utf-8", "replace", newline="")
    reader = csv.reader(stream, delimiter=delimiter)
    for row in reader:
        yield row, reader.line_num


def _read_rows(
    text: bytes, delimiter: str, found: layout.Layout, start_line: int, *, preview: bool
) -> tuple[Any, Any, list[Faults]]:
    offset = offset_of_line(text, start_line)
    cells = None if preview else _read_fast(text, offset, delimiter, found.headers)
    if cells is not None:
        lines = np.arange(start_line, start_line + len(cells), dtype=np.int64)
        faults: list[Faults] = []
    else:
        with _no_search_for_cycles():
            body = text[offset:]
            cells, lines, faults = _read_surely(body, delimiter, found, start_line, preview)
    return strays.drop_strays(cells, lines, faults, found)


@contextlib.contextmanager
def _no_search_for_cycles() -> Iterator[None]:
    """Pause Python's search for cyclic garbage: millions of cells hold none, and it costs half."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


def offset_of_line(text: bytes, line: int) -> int:
    """Return where a line begins, counted from 1; the end of the text where there is none."""
    offset = 0
    for _ in range(line - 1):
        end = text.find(b"\n", offset)
        if end < 0:
            return len(text)
        offset = end + 1
    return offset


def _read_fast(text: bytes, offset: int, delimiter: str, headers: tuple[str, ...]) -> Any | None:
    """Read with pyarrow where each row is one line of the header's width; None elsewhere."""
    import pyarrow as pa
    import pyarrow.csv as pa_csv

    if offset == len(text):
        return None
    quoted = text.find(b'"', offset) >= 0
    try:
        cells = pa_csv.read_csv(
            pa.BufferReader(pa.py_buffer(text).slice(offset)),
            *arrow_options(headers, delimiter, quoted=quoted, block_bytes=4 << 20),
        )
    except pa.ArrowInvalid:
        return None
    physical = text.count(b"\n", offset) + (not text.endswith(b"\n"))
    return cells if len(cells) == physical else None


def arrow_options(
    headers: tuple[str, ...], delimiter: str, *, quoted: bool, block_bytes: int
) -> tuple[Any, Any, Any]:
    """Return how pyarrow is to read rows: all text, none missing, no line passed over."""
    import pyarrow as pa
    import pyarrow.csv as pa_csv

    return (
        pa_csv.ReadOptions(column_names=list(headers), block_size=block_bytes),
        pa_csv.ParseOptions(
            delimiter=delimiter, newlines_in_values=quoted, ignore_empty_lines=False
        ),
        pa_csv.ConvertOptions(
            column_types=dict.fromkeys(headers, pa.string()), strings_can_be_null=False
        ),
    )


def _read_surely(
    body: bytes, delimiter: str, found: layout.Layout, start_line: int, preview: bool
) -> tuple[Any, Any, list[Faults]]:
    import pyarrow as pa

    schema = pa.schema([(header, pa.string()) for header in found.headers])
    parts: list[Any] = []
    ends = [np.array([start_line - 1], dtype=np.int64)]
    misfits = strays.Misfits(len(found.headers))
    rows, quoted = _rows(body, delimiter), b'"' in body
    if preview:
        rows = itertools.islice(rows, SAMPLE_ROWS)
    while batch := list(itertools.islice(rows, _ROWS_AT_ONCE)):
        if quoted:
            _refuse_swallowed(batch, delimiter, len(found.headers), start_line)
        fitted = misfits.fit_all([row for row, _ in batch])
        if len(misfits.positions) > MAX_SET_ASIDE:
            raise csv.Error
        columns = [pa.array(column, pa.string()) for column in zip(*fitted, strict=True)]
        parts.append(pa.Table.from_arrays(columns, schema=schema))
        ends.append(np.array([last for _, last in batch], dtype=np.int64) + start_line - 1)
    table = pa.concat_tables(parts).combine_chunks() if parts else schema.empty_table()
    return table, np.concatenate(ends)[:-1] + 1, misfits.faults()


def _refuse_swallowed(
    batch: list[tuple[list[str], int]], delimiter: str, columns: int, start_line: int
) -> None:
    """Refuse a file in which a quote left open has taken whole lines into one cell.

    Raises
    ------
    UnreadableFile
        Names the line that the quote seems to stand on: rows would else be lost unsaid.
    """
    for row, last in batch:
        for cell in row:
            lines = cell.rstrip("\n").split("\n")
            if len(lines) > 1 and any(x.count(delimiter) >= columns - 1 > 0 for x in lines[1:]):
                first = start_line + last - max(len(lines) - 1, 1)
                raise UnreadableFile(
                    "Every quote in a CSV was expected to be closed",
                    found=f"a cell that holds {len(lines) - 1:,} whole lines",
                    where=f"about line {max(first - 1, start_line):,}",
                    do="close the quote there, or " + _SIMPLER,
                )


def decimal_of(cells: Any, delimiter: str) -> str:
    """Tell the decimal mark of a file from its cells; a comma between cells leaves the point."""
    import pyarrow.compute as pc

    if delimiter == "," or not len(cells):
        return "."
    commas = points = 0
    for column in cells.slice(0, DECIMAL_ROWS).columns:
        commas += pc.sum(pc.match_substring_regex(column, _DECIMAL_COMMA)).as_py() or 0
        points += pc.sum(pc.match_substring_regex(column, _DECIMAL_POINT)).as_py() or 0
    return "," if (commas >= points and delimiter == ";") or commas > points else "."
