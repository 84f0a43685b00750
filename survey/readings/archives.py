"""Is a workbook safe to open? Its parts are measured before anything builds on them."""

from __future__ import annotations

import re
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO

from survey.readings.kinds import unreadable
from survey.readings.limits import (
    MAX_COLUMNS,
    MAX_SHEET_CELLS,
    MAX_WORKBOOK_BYTES,
    MAX_WORKBOOK_UNPACKED_BYTES,
    MAX_ZIP_ENTRIES,
)
from survey.readings.words import NO_RESULT

_CHUNK = 1 << 20
_OVERLAP = 512
# Row and cell references as programs write them, and in any other way that XML allows.
_REF = re.compile(rb' r="([A-Za-z]{0,4})(\d{1,10})"')
_ANY_REF = re.compile(rb"\sr\s{0,9}=\s{0,9}[\"']\s{0,9}([A-Za-z]{0,4})(\d{1,10})")
_ODD_REFS = (b" r='", b"r =", b"\nr", b"\tr", b"\rr", b'r= "', b'r="\n', b'r=" ')
# Every repeat is short or stops at the next '<', and a tag is taken once and looked into apart: no
# text makes the search start over and over.
_TAG = rb"<(?:\w{1,20}:)?c\b([^<>]{0,400})>\s{0,9}"
_FORMULA = (
    rb"<(?:\w{1,20}:)?f\b[^<>]{0,400}(?:/>|(?<!/)>[^<]*</(?:\w{1,20}:)?f\s{0,9}>)\s{0,9}"
)
_END = rb"\s{0,9}</(?:\w{1,20}:)?c\s{0,9}>"
_ERROR_CELL = re.compile(_TAG + rb"(?:" + _FORMULA + rb")?<(?:\w{1,20}:)?v>(#[^<]{1,12})</")
_UNSOLVED_CELL = re.compile(
    _TAG + _FORMULA + rb"(?:<(?:\w{1,20}:)?v\b[^<>]{0,80}(?:/>|(?<!/)>\s{0,9}</(?:\w{1,20}:)?v>))?"
    + _END
)
_PLACE = re.compile(rb"(?:^|\s)r\s{0,9}=\s{0,9}[\"']([A-Z]{1,3})([1-9]\d{0,6})[\"']")
_TYPE = re.compile(rb"(?:^|\s)t\s{0,9}=\s{0,9}[\"'](\w{1,12})[\"']")
# A formula may have 8,192 characters, each written as five at most: &amp;
_LONGEST_CELL = 45_000
_LONGEST_PREFIX = 24  # what may stand before the 'c' of a cell: '<' and the name of its space
MOST_WITHOUT_RESULT = 1_000_000
"""Cells of a workbook that are kept as failed, or as without a result: some 120 MB of memory."""
_CELL_STARTS = (b"<c ", b"<c>", b"<c/", b":c ", b":c>", b":c/")
_TEXT_STARTS = (b"<si>", b"<si ", b":si>", b":si ", b"<si/")
_RESAVE = "open it, save it again as .xlsx and give that"
_REFUSED_PARTS = (
    ("xl/workbook.bin", "a binary workbook (.xlsb)"),
    ("content.xml", "an OpenDocument file (.ods, .odt)"),
    ("word/document.xml", "a text document (.docx)"),
    ("ppt/presentation.xml", "a presentation (.pptx)"),
)


@dataclass
class SheetPart:
    """What a scan of one sheet's XML found: its extent, and the cells where a formula failed.

    ``errors`` holds what a cell by row and column, both from 0, is to be read as instead.
    """

    last_row: int = 0
    last_column: int = 0
    cells: int = 0
    errors: dict[tuple[int, int], str] = field(default_factory=dict)


def inspect_workbook(path: Path) -> dict[str, SheetPart]:
    """Measure every part of an XLSX file, in bounded memory.

    Returns
    -------
    dict
        Part name of each sheet to what was found in it.

    Raises
    ------
    UnreadableFile
        Not a workbook, damaged, locked, over a limit, or with XML that declares entities.
    """
    size = path.stat().st_size
    if size > MAX_WORKBOOK_BYTES:
        raise unreadable(
            path, f"a workbook of {size / 1e6:,.0f} MB", do="save it as .csv or .parquet"
        )
    try:
        with zipfile.ZipFile(path) as archive:
            _check_directory(path, archive.infolist())
            with path.open("rb") as stream:
                return _scan_parts(path, archive.infolist(), stream, MAX_WORKBOOK_UNPACKED_BYTES)
    except (
        zipfile.BadZipFile,
        zlib.error,
        EOFError,
        OSError,
        ValueError,
        OverflowError,
        NotImplementedError,
        RuntimeError,
    ):
        raise unreadable(path, "a damaged workbook or archive", do=_RESAVE) from None


def _check_directory(path: Path, entries: list[zipfile.ZipInfo]) -> None:
    names = {entry.filename.lower() for entry in entries}
    for part, words in _REFUSED_PARTS:
        if part in names:
            raise unreadable(path, words, do="save it as .xlsx and give that")
    if "xl/workbook.xml" not in names:
        raise unreadable(
            path,
            "a zip archive that is not a workbook",
            do="take the round out of it and give that",
        )
    if len(entries) > MAX_ZIP_ENTRIES or len(names) != len(entries):
        raise unreadable(path, "a workbook with parts repeated or past counting", do=_RESAVE)
    declared = sum(entry.file_size for entry in entries)
    if declared > MAX_WORKBOOK_UNPACKED_BYTES:
        raise _too_large(path)
    if any(entry.flag_bits & 1 for entry in entries):
        raise unreadable(path, "an encrypted archive", do="save it without a password")


def _too_large(path: Path) -> Exception:
    size = f"{MAX_WORKBOOK_UNPACKED_BYTES / 1e6:,.0f} MB or {MAX_SHEET_CELLS:,} cells"
    return unreadable(
        path, f"a workbook that unpacks to over {size}", do="save it as .csv or .parquet"
    )


def _scan_parts(
    path: Path, entries: list[zipfile.ZipInfo], stream: IO[bytes], budget: int
) -> dict[str, SheetPart]:
    sheets: dict[str, SheetPart] = {}
    failed = 0
    for entry in entries:
        name = entry.filename.lower()
        is_sheet = "/worksheets/" in name and name.endswith(".xml")
        part = SheetPart()
        for chunk in _unpacked(stream, entry):
            budget -= len(chunk)
            if budget < 0:
                raise _too_large(path)
            if name.endswith((".xml", ".rels")) and (b"<!DOCTYPE" in chunk or b"<!ENTITY" in chunk):
                raise unreadable(
                    path, "XML that declares entities, which no workbook needs", do=_RESAVE
                )
            part.cells += sum(map(chunk.count, _CELL_STARTS if is_sheet else _TEXT_STARTS))
            if part.cells > MAX_SHEET_CELLS:
                raise _too_large(path)
            if is_sheet:
                before = len(part.errors)
                _measure(part, chunk)
                failed += len(part.errors) - before
                if failed > MOST_WITHOUT_RESULT:
                    raise unreadable(
                        path,
                        f"over {MOST_WITHOUT_RESULT:,} formulas that failed or whose results were "
                        "not saved",
                        do="open it in a spreadsheet program, mend and save it, and give that",
                    )
        if is_sheet:
            _check_extent(path, part)
            sheets[name] = part
    return sheets


def _unpacked(stream: IO[bytes], entry: zipfile.ZipInfo) -> Iterator[bytes]:
    """Give a part's bytes as they truly unpack, whatever size is declared for it."""
    stream.seek(entry.header_offset)
    header = stream.read(30)
    if header[:4] != b"PK\x03\x04":
        raise zipfile.BadZipFile
    stream.seek(
        int.from_bytes(header[26:28], "little") + int.from_bytes(header[28:], "little"), 1
    )
    if entry.compress_type == zipfile.ZIP_STORED:
        inflate = None
    elif entry.compress_type == zipfile.ZIP_DEFLATED:
        inflate = zlib.decompressobj(-zlib.MAX_WBITS)
    else:
        raise NotImplementedError
    left, tail = entry.compress_size, b""
    while left > 0:
        packed = stream.read(min(_CHUNK, left))
        if not packed:
            raise EOFError
        left -= len(packed)
        while packed:
            out = inflate.decompress(packed, _CHUNK) if inflate else packed
            packed = inflate.unconsumed_tail if inflate else b""
            chunk = tail + out
            yield chunk
            keep = len(chunk) - _OVERLAP
            # A cell that is cut is seen whole with what follows: its formula may be a long one.
            cell = max(chunk.rfind(start, -_LONGEST_CELL) for start in (b"<c ", b":c "))
            if cell > chunk.rfind(b"</c>", -_LONGEST_CELL):
                keep = min(keep, cell - _LONGEST_PREFIX)
            tail = chunk[max(keep, 0) :]


def _measure(part: SheetPart, chunk: bytes) -> None:
    refs = (_ANY_REF if any(odd in chunk for odd in _ODD_REFS) else _REF).findall(chunk)
    if refs:
        part.last_column = max(part.last_column, *map(_column_number, {c for c, _ in refs}))
        part.last_row = max(part.last_row, *map(int, {r for _, r in refs}))
    if b"#" in chunk:
        for tag, word in _ERROR_CELL.findall(chunk):
            if _told(_TYPE, tag) == (b"e",):
                _put(part, tag, word.decode("ascii", "replace"))
    if b"<f" in chunk or b":f" in chunk:
        for tag in _UNSOLVED_CELL.findall(chunk):
            # An empty text is a result too, and is marked as one.
            if _told(_TYPE, tag) != (b"str",):
                _put(part, tag, NO_RESULT)


def _told(what: re.Pattern[bytes], tag: bytes) -> tuple[bytes, ...]:
    found = what.search(tag)
    return found.groups() if found else ()


def _put(part: SheetPart, tag: bytes, word: str) -> None:
    if place := _told(_PLACE, tag):
        letters, row = place
        part.errors[int(row) - 1, _column_number(letters) - 1] = word


def _column_number(letters: bytes) -> int:
    number = 0
    for letter in letters.upper():
        number = number * 26 + letter - 64
    return number


def _check_extent(path: Path, part: SheetPart) -> None:
    if part.last_column > MAX_COLUMNS:
        raise unreadable(
            path,
            f"a sheet that spans {part.last_column:,} columns, over the limit of {MAX_COLUMNS:,}",
            do="delete the stray cells on the far right",
        )
    if part.last_row > 1_048_576 or part.last_row * part.last_column > MAX_SHEET_CELLS:
        raise unreadable(
            path,
            f"a sheet that spans {part.last_row:,} rows and {part.last_column:,} "
            f"columns, over the limit of {MAX_SHEET_CELLS:,} cells",
            do="delete the stray cells far down, or save it as .csv",
        )
