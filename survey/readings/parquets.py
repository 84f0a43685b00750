"""Parquet to a raw table, after its metadata and page headers have been measured."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np

from survey.errors import SurveyError
from survey.readings.kinds import unreadable
from survey.readings.layout import unique_headers
from survey.readings.limits import (
    MAX_COLUMNS,
    MAX_ROWS,
    SAMPLE_ROWS,
    most_packed_rows,
    most_unpacked,
)
from survey.readings.model import RawTable
from survey.readings.pages import unpacked_page_bytes

_FOOTER_STRING_LIMIT = 20_000_000
_FOOTER_ITEM_LIMIT = 2_000_000
_BYTES_PER_CELL = 8
_CODED_BYTES_PER_ROW = 3
_REWRITE = "write the file again, or save the round as .csv"


def read_parquet(path: Path, *, preview: bool = False) -> RawTable:
    """Read a Parquet file's flat columns, in their own types.

    Raises
    ------
    UnreadableFile
        Damaged, encrypted, nested, over a limit, or unpacking to far more than it should.
    """
    with _damage_named(path), _checked_file(path) as file:
        if not preview and file.metadata.num_rows > most_packed_rows(path.stat().st_size):
            raise unreadable(
                path,
                f"{file.metadata.num_rows:,} rows in so small a file, more than readings could be",
                do="take empty rows out, or split the round by area",
            )
        cells = _top(file) if preview else _valid(file.read())
    return _raw(path, cells, 1)


def parquet_top(path: Path) -> tuple[RawTable, int]:
    """Read a Parquet file's first rows; return them, and how many rows it has in all.

    Raises
    ------
    UnreadableFile
        As `read_parquet` does.
    """
    with _damage_named(path), _checked_file(path) as file:
        return _raw(path, _top(file), 1), int(file.metadata.num_rows)


def parquet_batches(path: Path, rows: int, *, skip: int = 0) -> Iterator[RawTable]:
    """Read a Parquet file as tables of so many rows; the first and the last may have fewer.

    Parameters
    ----------
    skip
        Rows to leave out at the start. Row groups that hold only such rows are not read.

    Raises
    ------
    UnreadableFile
        As `read_parquet` does; at the first table, or at the damaged one.
    """
    import pyarrow as pa

    with _damage_named(path), _checked_file(path) as file:
        groups, first = _groups_after(file.metadata, skip)
        for batch in file.iter_batches(batch_size=rows, row_groups=groups):
            left_out = min(max(skip - first, 0), len(batch))
            if left_out < len(batch):
                table = _valid(pa.Table.from_batches([batch.slice(left_out)]))
                yield _raw(path, table, first + left_out + 1)
            first += len(batch)


def _groups_after(metadata: Any, skip: int) -> tuple[list[int], int]:
    """Return the row groups that hold any row after so many, and the rows before the first."""
    group, before = 0, 0
    while group < metadata.num_row_groups and before + metadata.row_group(group).num_rows <= skip:
        before += metadata.row_group(group).num_rows
        group += 1
    return list(range(group, metadata.num_row_groups)), before


def _raw(path: Path, cells: Any, first_line: int) -> RawTable:
    names, _ = unique_headers(cells.column_names)
    lines = np.arange(first_line, first_line + len(cells), dtype=np.int64)
    return RawTable(path.name, _no_views(cells).rename_columns(list(names)), lines)


def _no_views(table: Any) -> Any:
    """Return the table with text kept as views made plain text: Arrow has no `take` for views."""
    import pyarrow as pa

    plain = {pa.string_view(): pa.string(), pa.binary_view(): pa.binary()}
    if not any(kind in plain for kind in table.schema.types):
        return table
    fields = [field.with_type(plain.get(field.type, field.type)) for field in table.schema]
    return table.cast(pa.schema(fields))


@contextlib.contextmanager
def _damage_named(path: Path) -> Iterator[None]:
    import pyarrow as pa

    try:
        yield
    except SurveyError:
        raise
    except UnicodeEncodeError:  # of the name: nothing in a file is encoded here
        raise unreadable(path, "a name that is no text", do="give the file a plain name") from None
    except (
        pa.ArrowException,
        OSError,
        ValueError,
        TypeError,
        OverflowError,
        MemoryError,
        NotImplementedError,
        KeyError,
    ):
        raise unreadable(path, "a Parquet file that is damaged or cut short", do=_REWRITE) from None


@contextlib.contextmanager
def _checked_file(path: Path) -> Iterator[Any]:
    """Open a Parquet file, once nothing in it would unpack past the limits."""
    import pyarrow.parquet as pq

    limits = {
        "thrift_string_size_limit": _FOOTER_STRING_LIMIT,
        "thrift_container_size_limit": _FOOTER_ITEM_LIMIT,
    }
    with pq.ParquetFile(path, **limits) as file:
        _check_shape(path, file)
        suspects, coded = _check_pages(path, file)
    if suspects:
        with pq.ParquetFile(path, read_dictionary=suspects, **limits) as file:
            _check_texts(path, file, suspects)
    with pq.ParquetFile(path, read_dictionary=coded, **limits) as file:
        yield file


def _top(file: Any) -> Any:
    import pyarrow as pa

    first = next(file.iter_batches(batch_size=SAMPLE_ROWS), None)
    batches = [] if first is None else [first]
    return _valid(pa.Table.from_batches(batches, schema=file.schema_arrow))


def _valid(table: Any) -> Any:
    """Return the table if its text is UTF-8 and its codes have words; raise ArrowInvalid else."""
    for column in table.columns:
        if _is_text(column.type):
            column.validate(full=True)
    return table


def _check_shape(path: Path, file: Any) -> None:
    shape = file.metadata
    if shape.num_columns > MAX_COLUMNS:
        raise unreadable(
            path,
            f"{shape.num_columns:,} columns, over the limit of {MAX_COLUMNS:,}",
            do="keep the columns of the round only",
        )
    if shape.num_columns == 0:
        raise unreadable(path, "a Parquet file with no columns")
    if not 0 <= shape.num_rows <= MAX_ROWS:
        raise unreadable(
            path,
            f"{shape.num_rows:,} rows, over the limit of {MAX_ROWS:,}",
            do="split the round by area",
        )
    for field in file.schema_arrow:
        _check_flat(path, field)
    width = sum(_bytes_per_cell(field.type) for field in file.schema_arrow)
    if shape.num_rows * width > most_unpacked(path.stat().st_size):
        raise _too_large(path)


def _check_flat(path: Path, field: Any) -> None:
    import pyarrow as pa

    kind = field.type.value_type if pa.types.is_dictionary(field.type) else field.type
    if pa.types.is_nested(kind) or isinstance(kind, pa.BaseExtensionType):
        raise unreadable(
            path,
            f"the column {field.name[:80]!r}, which holds lists or records",
            do="keep one plain value to a cell",
        )


def _bytes_per_cell(kind: Any) -> int:
    import pyarrow as pa

    return int(kind.byte_width) if pa.types.is_fixed_size_binary(kind) else _BYTES_PER_CELL


def _too_large(path: Path) -> Exception:
    return unreadable(
        path, "a Parquet file that unpacks to far more than its size allows", do=_REWRITE
    )


def _check_pages(path: Path, file: Any) -> tuple[list[str], list[str]]:
    """Refuse pages that would unpack past the limit.

    Returns text columns to look at closer, and those with few words, quicker read as codes.
    """
    limit = most_unpacked(path.stat().st_size)
    total = 0
    suspects = set()
    stored: dict[str, int] = {}
    with path.open("rb") as stream:
        for group in range(file.metadata.num_row_groups):
            rows = file.metadata.row_group(group)
            for position, field in enumerate(file.schema_arrow):
                chunk = rows.column(position)
                unpacked = unpacked_page_bytes(stream, chunk, limit)
                total += unpacked
                if total > limit:
                    raise _too_large(path)
                # At the very worst, each row repeats all that is stored.
                if _is_text(field.type) and rows.num_rows * unpacked > limit // 8:
                    suspects.add(field.name)
                if _is_text(field.type):
                    stored[field.name] = stored.get(field.name, 0) + unpacked
    few = _CODED_BYTES_PER_ROW * file.metadata.num_rows
    return sorted(suspects), sorted(name for name, size in stored.items() if size < few)


def _is_text(kind: Any) -> bool:
    import pyarrow as pa

    kind = kind.value_type if pa.types.is_dictionary(kind) else kind
    tests = (
        pa.types.is_string,
        pa.types.is_large_string,
        pa.types.is_string_view,
        pa.types.is_binary,
        pa.types.is_large_binary,
        pa.types.is_binary_view,
    )
    return any(test(kind) for test in tests)


def _check_texts(path: Path, file: Any, names: list[str]) -> None:
    """Refuse text that few stored words, each repeated, would blow up, before it is spread out."""
    import pyarrow as pa
    import pyarrow.compute as pc

    spread = 0
    limit = most_unpacked(path.stat().st_size)
    for group in range(file.metadata.num_row_groups):
        rows = file.metadata.row_group(group).num_rows
        for name in names:
            head = next(file.iter_batches(1, row_groups=[group], columns=[name]), None)
            if head is None or not pa.types.is_dictionary(head.column(0).type):
                continue
            longest = pc.max(pc.binary_length(head.column(0).dictionary)).as_py() or 0
            if rows * longest > limit // 8:
                column = file.read_row_group(group, columns=[name]).column(0)
                spread += sum(
                    pc.sum(pc.binary_length(part.dictionary).take(part.indices)).as_py() or 0
                    for part in column.chunks
                )
            if spread > limit:
                raise _too_large(path)
