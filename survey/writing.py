"""Files out: atomic replacement, and tables that are safe to open in a spreadsheet."""

from __future__ import annotations

import contextlib
import io
import math
import os
import re
import secrets
import shutil
import stat
import tempfile
import time
from collections.abc import Collection, Iterator, Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from survey.errors import OutputError

_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")
_NUMBER = re.compile(r"[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+-]?[0-9]+)?")
_PLAIN_NUMBER = re.compile(r"-?(?:0|[1-9][0-9]*)(?:\.[0-9]+)?")
_BEFORE_FORMULA = " \u00a0'"
_UNPRINTABLE = re.compile(
    r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u200e\u200f\u202a-\u202e\u2066-\u2069]"
)
XLSX_CELL_LIMIT = 32_767
_LEFTOVER_SECONDS = 3600.0
_STREAM = re.compile(r"/dev/(stdout|stderr)|(?:/dev|/proc/self)/fd/([0-9]{1,6})", re.ASCII)
_STREAMS = {"stdout": 1, "stderr": 2}
_KINDS = {stat.S_IFDIR: "a folder", stat.S_IFIFO: "a named pipe", stat.S_IFBLK: "a disk",
          stat.S_IFSOCK: "a socket"}


@contextlib.contextmanager
def replacing(path: Path, *, mode: int | None = None) -> Iterator[Path]:
    """Give a temporary path whose content takes the place of ``path`` only if all goes well.

    Where ``path`` is a link, the file it points at is replaced. A device such as /dev/null, and
    a stream such as /dev/stdout, is written to; nothing else that is not a plain file is touched.
    What a killed run left half-written beside the same file is cleared away once it is an hour old.

    Parameters
    ----------
    path
        The file to write.
    mode
        Who may read and write it, from its first byte on. By default as the file that is
        replaced; a new file is as the user's own settings (umask) have it.

    Raises
    ------
    OutputError
        The folder is missing, read-only or full, or ``path`` is a folder, a named pipe or a disk;
        nothing is left behind.
    """
    try:
        with _way_to(path, mode) as temporary:
            yield temporary
    except OSError as error:
        raise OutputError(
            "A file that can be written was expected",
            found=error.strerror or str(error),
            where=str(path),
            do="choose another folder, or free some space",
        ) from None


def _way_to(path: Path, mode: int | None) -> contextlib.AbstractContextManager[Path]:
    stream = _STREAM.fullmatch(path.as_posix())
    if stream:
        return _into(_STREAMS.get(stream[1]) or int(stream[2]))
    try:
        there = path.stat().st_mode
    except FileNotFoundError:
        there = None
    if there is not None and stat.S_ISCHR(there):
        return _into(path)
    if there is not None and not stat.S_ISREG(there):
        raise OutputError(
            "A plain file, or the name of a new one, was expected",
            found=_KINDS.get(stat.S_IFMT(there), "something else that has this name"),
            where=str(path),
            do="give another name; nothing was written",
        )
    if mode is None and there is not None:
        mode = there & 0o777
    return _in_place_of(Path(os.path.realpath(path)) if path.is_symlink() else path, mode)


@contextlib.contextmanager
def _in_place_of(path: Path, mode: int | None) -> Iterator[Path]:
    _clear_leftovers(path)
    temporary = path.with_name(f".{_start_of_name(path)}.{secrets.token_hex(4)}.part")
    # Made by hand, not by tempfile: only so does the system itself apply the user's umask.
    born = 0o666 if mode is None else mode | 0o600
    os.close(os.open(temporary, os.O_CREAT | os.O_EXCL | os.O_WRONLY, born))
    try:
        yield temporary
        with temporary.open("rb+") as stream:
            os.fsync(stream.fileno())
        if mode is not None:
            temporary.chmod(mode)
        temporary.replace(path)
    finally:
        temporary.unlink(missing_ok=True)


@contextlib.contextmanager
def _into(place: Path | int) -> Iterator[Path]:
    """Give a temporary path whose content is then written to a device or an open stream."""
    with tempfile.TemporaryDirectory() as folder:
        whole = Path(folder) / "whole"
        whole.touch()
        yield whole
        # A stream is written on with where it stands; opened by name it would start afresh.
        handle = os.dup(place) if isinstance(place, int) else os.open(place, os.O_WRONLY)
        with whole.open("rb") as source, os.fdopen(handle, "wb") as target:
            shutil.copyfileobj(source, target)


def _start_of_name(path: Path) -> str:
    # A name may be bytes that are no text, and not every library takes such.
    return path.name[:40].encode("utf-8", "replace").decode()


def _clear_leftovers(path: Path) -> None:
    # A run that is still at it is younger than this.
    before = time.time() - _LEFTOVER_SECONDS
    shape = re.compile(rf"\.{re.escape(_start_of_name(path))}\.[a-z0-9_]{{8}}\.part")
    with contextlib.suppress(OSError):
        for beside in path.parent.iterdir():
            if shape.fullmatch(beside.name) and beside.lstat().st_mtime < before:
                beside.unlink()


def printable(text: str) -> str:
    """Drop control and text-direction characters, which could disguise what a cell says."""
    return _UNPRINTABLE.sub("", text)


def spreadsheet_safe(value: Any) -> Any:
    """Return a cell that no spreadsheet takes for a formula; numbers pass, typed as text too.

    Text that would start one is led by an apostrophe, as spreadsheets themselves mark text.
    `as_written` takes it off again.
    """
    if not isinstance(value, str):
        return value
    value = printable(value)
    return f"'{value}" if _starts_formula(value) else value


def as_written(value: Any) -> Any:
    """Return the text that `spreadsheet_safe` made a cell from; other values unchanged."""
    led = isinstance(value, str) and value.startswith("'") and _starts_formula(value[1:])
    return value[1:] if led else value


def _starts_formula(text: str) -> bool:
    # Apostrophes are looked through, so that one more on the way out is one less on the way in.
    bare = text.lstrip(_BEFORE_FORMULA)
    return bare.startswith(_FORMULA_STARTS) and not _NUMBER.fullmatch(text)


def _safe_text_columns(table: pd.DataFrame) -> pd.DataFrame:
    safe = {
        position: series if pd.api.types.is_numeric_dtype(series.dtype) else _safe_series(series)
        for position, (_, series) in enumerate(table.items())
    }
    result = pd.DataFrame(safe, index=table.index)
    result.columns = pd.Index([spreadsheet_safe(str(name)) for name in table.columns])
    return result


def _safe_series(series: pd.Series[Any]) -> pd.Series[Any]:
    values = series.astype(object)
    return values.where(values.isna(), values.map(spreadsheet_safe))


def write_csv(table: pd.DataFrame, path: str | Path) -> None:
    """Write a table as UTF-8 CSV, atomically, no cell starting a formula; raises OutputError."""
    with replacing(Path(path)) as temporary:
        _safe_text_columns(table).to_csv(temporary, index=False, lineterminator="\n")


def write_xlsx(sheets: Mapping[str, pd.DataFrame], path: str | Path) -> None:
    """Write tables as the sheets of one workbook, atomically; every text stays text.

    Header frozen and filtered; numbers that are not finite are left blank; text past the
    format's limit of 32,767 characters is cut and ends in an ellipsis.

    Raises
    ------
    OutputError
        The file cannot be written, or a sheet has more rows than the format holds.
    """
    import xlsxwriter

    path = Path(path)
    longest = max((len(table) for table in sheets.values()), default=0)
    if longest > 1_048_575:
        raise OutputError(
            "A workbook holds at most 1,048,575 rows",
            found=f"{longest:,} rows",
            where=str(path),
            do="write .parquet or .csv",
        )
    options = {"strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False,
               "in_memory": True}
    with replacing(path) as temporary:
        whole = io.BytesIO()  # on a full disk the library would end in errors of its own
        book = xlsxwriter.Workbook(whole, options)
        heading = book.add_format({"bold": True, "bottom": 1, "text_wrap": True, "valign": "top"})
        for name, table in sheets.items():
            _fill_sheet(book.add_worksheet(name[:31]), table, heading)
        book.close()
        temporary.write_bytes(whole.getbuffer())


def plain_numbers(table: pd.DataFrame, *, leave: Collection[str]) -> pd.DataFrame:
    """Return a table whose columns of text that hold plain numbers only are numbers.

    A spreadsheet can then add them up. A column stays as it is where any cell is more than a
    number says: leading zeros, a plus, or more digits than a spreadsheet keeps (15).

    Parameters
    ----------
    leave
        Columns to leave as they are, by name.
    """
    result = table.copy(deep=False)
    for position, name in enumerate(table.columns):
        column = table.iloc[:, position]
        if name in leave or pd.api.types.is_numeric_dtype(column.dtype):
            continue
        given = column.dropna()
        if len(given) and given.map(_is_plain_number).all():
            result.isetitem(position, pd.to_numeric(column).to_numpy(dtype="float64"))
    return result


def _is_plain_number(value: Any) -> bool:
    digits = sum(map(str.isdecimal, value)) if isinstance(value, str) else 16
    return digits <= 15 and _PLAIN_NUMBER.fullmatch(value) is not None


def as_text_again(table: pd.DataFrame, *, leave: Collection[str]) -> pd.DataFrame:
    """Return a table read from a spreadsheet with what `plain_numbers` changed as text again."""
    for name in table.columns:
        if name not in leave:
            table[name] = table[name].astype(object).map(str, na_action="ignore").astype("str")
    return table


def _fill_sheet(sheet: Any, table: pd.DataFrame, heading: Any) -> None:
    for position, name in enumerate(table.columns):
        sheet.write_string(0, position, _cell_text(str(name)), heading)
        sheet.set_column(position, position, min(48, max(10, len(str(name)) + 2)))
    for position in range(table.shape[1]):
        column = table.iloc[:, position].astype(object)
        values = column.where(column.notna(), None).to_numpy()
        for line, value in enumerate(values, start=1):
            _write_cell(sheet, line, position, value)
    sheet.freeze_panes(1, 1)
    if len(table):
        sheet.autofilter(0, 0, len(table), max(0, table.shape[1] - 1))


def _write_cell(sheet: Any, line: int, position: int, value: Any) -> None:
    if value is None or value is pd.NA:
        return
    if isinstance(value, bool | np.bool_):
        sheet.write_boolean(line, position, bool(value))
    elif isinstance(value, int | float | np.integer | np.floating):
        if math.isfinite(value):
            sheet.write_number(line, position, float(value))
    else:
        sheet.write_string(line, position, _cell_text(str(value)))


def _cell_text(text: str) -> str:
    safe = str(spreadsheet_safe(text))
    return safe if len(safe) <= XLSX_CELL_LIMIT else safe[: XLSX_CELL_LIMIT - 1] + "…"
