"""XLSX to raw tables: every sheet whose header is that of a round."""

from __future__ import annotations

import datetime as dt
import re
import zipfile
from collections.abc import Iterable, Sequence
from pathlib import Path, PurePosixPath
from typing import Any

import numpy as np

from survey.errors import SurveyError
from survey.readings import dittos, layout, strays
from survey.readings.archives import SheetPart, inspect_workbook
from survey.readings.kinds import unreadable
from survey.readings.limits import MAX_COLUMNS, MAX_SHEETS, SAMPLE_ROWS
from survey.readings.model import HeaderMap, RawTable
from survey.readings.words import NO_RESULT

_FEWEST_KNOWN = 2
_MERGED_NOTE = "what stands in a cell that is merged over several rows was taken for each of them"
_Range = tuple[tuple[int, int], tuple[int, int]]


def read_workbook(
    path: Path, *, header_map: HeaderMap | None = None, preview: bool = False
) -> tuple[list[RawTable], list[str]]:
    """Read the sheets of a workbook that hold a round, and notes on those left.

    Raises
    ------
    UnreadableFile
        Not a workbook, damaged, locked, over a limit, or no sheet holds a table.
    """
    parts = inspect_workbook(path)
    try:
        return _read_sheets(path, parts, header_map, preview)
    except (SurveyError, KeyboardInterrupt, SystemExit, GeneratorExit):
        raise
    except BaseException as error:  # the reader's own panics are no Exceptions
        words = (
            "a workbook locked with a password"
            if "assword" in type(error).__name__
            else "a damaged workbook"
        )
        raise unreadable(path, words, do="open it, save it again as .xlsx and give that") from None


def _read_sheets(
    path: Path, parts: dict[str, SheetPart], header_map: HeaderMap | None, preview: bool
) -> tuple[list[RawTable], list[str]]:
    from python_calamine import CalamineWorkbook, SheetTypeEnum

    part_of = _part_of_sheet(path)
    tables: list[RawTable] = []
    doubtful: list[RawTable] = []
    left: list[str] = []
    with CalamineWorkbook.from_path(str(path)) as book:
        sheets = [s.name for s in book.sheets_metadata if s.typ == SheetTypeEnum.WorkSheet]
        if len(sheets) > MAX_SHEETS:
            raise unreadable(
                path,
                f"{len(sheets)} sheets, over the limit of {MAX_SHEETS}",
                do="keep the sheets of the round only",
            )
        for name in sheets:
            part = parts.get(part_of.get(name, ""), SheetPart())
            label = path.name if len(sheets) == 1 else f"{path.name}, sheet {name!r}"
            sheet = book.get_sheet_by_name(name)
            read = sheet.to_python(
                skip_empty_area=False, nrows=SAMPLE_ROWS + 60 if preview else None
            )
            merged = sheet.merged_cell_ranges or []
            rows, told = _with_failed(read, part, whole=not preview)
            table, known = _read_sheet(rows, merged, told, label, header_map)
            if table is not None and known >= _FEWEST_KNOWN:
                tables.append(table)
            else:
                left.append(name)
                doubtful += [table] if table is not None else []
    return _chosen(path, tables, doubtful, left)


def _chosen(
    path: Path, tables: list[RawTable], doubtful: list[RawTable], left: list[str]
) -> tuple[list[RawTable], list[str]]:
    if not tables and doubtful:
        # Nothing is known in any sheet: show the first, so that a map can be made for it.
        return doubtful[:1], ["no header was recognised"]
    if not tables:
        raise unreadable(
            path,
            "a workbook with no table in it",
            do="give a sheet whose header line names the columns, tag among them",
        )
    return tables, [
        f"sheet {name!r} was left unread: its header is not that of a round" for name in left
    ]


def _read_sheet(
    rows: Sequence[Sequence[Any]],
    merged: Sequence[_Range],
    told: Sequence[str],
    label: str,
    header_map: HeaderMap | None,
) -> tuple[RawTable | None, int]:
    top = [[cell_text(cell) for cell in row] for row in rows[:SAMPLE_ROWS]]
    found = layout.find_layout(top, header_map)
    if found is None:
        return None, 0
    if len(found.headers) > MAX_COLUMNS:
        return None, 0
    filled, shared = _shared_down(rows, merged, found.rows_at)
    cells = _to_arrow(filled, found.headers)
    lines = np.arange(found.rows_at + 1, found.rows_at + 1 + len(cells), dtype=np.int64)
    cells, lines, faults = strays.drop_strays(cells, lines, [], found)
    cells, repeated = dittos.fill_dittos(cells)
    further = [_MERGED_NOTE if shared else "", repeated, *told]
    notes = (*found.notes, *filter(None, further))
    raw = RawTable(label, cells, lines, found.units, ".", tuple(faults), notes, is_text=True)
    return raw, found.known


def _with_failed(
    rows: Sequence[Sequence[Any]], part: SheetPart, *, whole: bool
) -> tuple[Sequence[Sequence[Any]], list[str]]:
    """Put in what failed formulas left, and a word where no result of one was saved.

    A row that holds nothing but formulas without results is one of a form filled down, and stays
    blank. Also returned: what is to be said of those, and of the cells of other rows. The reader
    leaves out rows at a sheet's end that hold no value; unless ``whole``, others too.
    """
    by_row: dict[int, list[tuple[int, str]]] = {}
    for (line, place), word in part.errors.items():
        by_row.setdefault(line, []).append((place, word))
    result, unsolved, idle = list(rows), 0, 0
    for at, words in by_row.items():
        told = any(word == NO_RESULT for _, word in words)
        if at >= len(result):
            idle += told and whole
            continue
        row = list(result[at])
        filled = any(cell not in ("", None) for cell in row)
        idle += told and not filled
        for column, word in words:
            # What has a value has a result, whatever the scan of its XML took it for.
            empty = column < len(row) and row[column] in ("", None)
            if not empty or (word == NO_RESULT and not filled):
                continue
            row[column] = word
            unsolved += word == NO_RESULT
        result[at] = row
    cells = "1 cell holds" if unsolved == 1 else f"{unsolved:,} cells hold"
    lines = "1 row holds" if idle == 1 else f"{idle:,} rows hold"
    do = "open the workbook in a spreadsheet program and save it"
    notes = [
        f"{cells} a formula whose result was not saved, and so no reading: {do}",
        f"{lines} nothing but formulas whose results were not saved, and counted as blank: {do} "
        "if they are of the round",
    ]
    return result, [note for note, count in zip(notes, (unsolved, idle), strict=True) if count]


def _shared_down(
    rows: Sequence[Sequence[Any]], merged: Sequence[_Range], first: int
) -> tuple[Sequence[Sequence[Any]], bool]:
    """Return the rows from one on, with what is in a cell merged over several in each of them.

    A workbook keeps it in the uppermost. What is merged across columns stays where it is, and a
    row with nothing else in it stays empty. Also returned: whether there was any such cell.
    """
    if not merged:
        return rows[first:], False
    result = [list(row) for row in rows[first:]]
    filled = [any(cell not in ("", None) for cell in row) for row in result]
    done: dict[int, int] = {}  # ranges that overlap, as no program writes them, cost no more
    shared = False
    for (top, column), (bottom, _) in sorted(merged):
        start = max(top, done.get(column, -1)) + 1 - first
        end = min(bottom + 1 - first, len(result))
        if top < first or start >= end or column >= len(result[start]):
            continue
        for at in range(start, end):
            if filled[at]:
                result[at][column] = result[top - first][column]
                shared = True
        done[column] = bottom
    return result, shared


def _to_arrow(rows: Sequence[Sequence[Any]], headers: Sequence[str]) -> Any:
    import pyarrow as pa

    columns = [
        pa.array([cell_text(row[position]) for row in rows], pa.string())
        for position in range(len(headers))
    ]
    return pa.Table.from_arrays(columns, names=list(headers))


def cell_text(cell: Any) -> str:
    """Return a spreadsheet cell as text: 101.0 as '101', dates as ISO 8601, True as 'yes'."""
    if isinstance(cell, str):
        return cell
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, float):
        return str(int(cell)) if cell.is_integer() and abs(cell) < 1e15 else repr(cell)
    if isinstance(cell, dt.datetime):
        midnight = cell.time() == dt.time()
        return cell.date().isoformat() if midnight else cell.isoformat(timespec="seconds")
    if isinstance(cell, dt.date | dt.time):
        return cell.isoformat()
    return "" if cell is None else str(cell)


def _part_of_sheet(path: Path) -> dict[str, str]:
    """Map each sheet's name to the part of the archive that holds it; empty if that is odd."""
    try:
        with zipfile.ZipFile(path) as archive:
            book = archive.read("xl/workbook.xml").decode("utf-8", "replace")
            links = archive.read("xl/_rels/workbook.xml.rels").decode("utf-8", "replace")
    except (KeyError, OSError, zipfile.BadZipFile, ValueError):
        return {}
    targets = dict(_pairs(links, "Relationship", "Id", "Target"))
    found = {}
    for name, link in _pairs(book, "sheet", "name", "r:id"):
        target = targets.get(link, "")
        part = target.lstrip("/") if target.startswith("/") else str(PurePosixPath("xl") / target)
        found[name] = part.lower()
    return found


def _pairs(xml: str, element: str, first: str, second: str) -> Iterable[tuple[str, str]]:
    from html import unescape

    for found in re.finditer(rf"<{element}\b([^>]*)>", xml):
        values = dict(re.findall(r'([\w:]+)="([^"]*)"', found[1]))
        if first in values and second in values:
            yield unescape(values[first]), values[second]
