"""The workbook for people: findings, work list, assumptions, and what the round told.

Figures are numbers in the units shown, with those units in the heads; every text stays text.
For a workbook that is read back by this package, save the findings themselves as .xlsx.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from survey.errors import OutputError
from survey.findings import Findings
from survey.reports import sentences, words
from survey.reports.narrowing import narrowed
from survey.reports.paper_words import SAY, SHEETS
from survey.reports.sheets import LONG, Column, sheets
from survey.writing import XLSX_CELL_LIMIT, replacing, spreadsheet_safe

MOST_ROWS = 1_048_575


def write_workbook(
    findings: Findings,
    path: str | Path,
    *,
    areas: Sequence[str] | None = None,
    show_money: bool = True,
) -> None:
    """Write the workbook, atomically.

    Parameters
    ----------
    findings
        The judged round.
    path
        Where to.
    areas
        Show only these areas; None shows all.
    show_money
        False leaves out every price and cost.

    Raises
    ------
    UsageError
        An area is not in the findings.
    OutputError
        The place cannot be written, or there are more rows than a sheet holds.
    """
    import xlsxwriter

    path = Path(path)
    findings = narrowed(findings, areas)
    if len(findings.table) > MOST_ROWS:
        raise OutputError(
            "A workbook holds at most 1,048,575 rows", found=f"{len(findings.table):,} rows",
            where=str(path), do="make one for each area, with --areas",
        )
    columns_of = sheets(findings, show_money)
    options = {"strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}
    with replacing(path) as temporary, temporary.open("wb") as stream:
        book = xlsxwriter.Workbook(stream, options)
        book.set_properties({"title": _title(findings), "created": _made(findings)})
        for name, columns in columns_of.items():
            _fill(book, book.add_worksheet(SHEETS[name]), columns)
        book.close()


def _fill(book: Any, sheet: Any, columns: Sequence[Column]) -> None:
    head = book.add_format({"bold": True, "bottom": 1, "text_wrap": True, "valign": "top"})
    wrapped = book.add_format({"text_wrap": True, "valign": "top"})
    for place, column in enumerate(columns):
        cell = book.add_format({"num_format": column.shown or "General", "valign": "top"})
        style = wrapped if column.key in LONG else cell
        sheet.set_column(place, place, column.width, style)
        sheet.write_string(0, place, _text(column.head), head)
        for line, value in enumerate(column.cells, start=1):
            _write(sheet, line, place, value, style)
    sheet.freeze_panes(1, 1)
    rows = max((len(column.cells) for column in columns), default=0)
    if rows and columns:
        sheet.autofilter(0, 0, rows, len(columns) - 1)


def _write(sheet: Any, line: int, place: int, value: Any, style: Any) -> None:
    if isinstance(value, str):
        if value:
            sheet.write_string(line, place, _text(value), style)
    elif isinstance(value, datetime):
        sheet.write_datetime(line, place, value, style)
    elif value is not None and math.isfinite(value):
        sheet.write_number(line, place, float(value), style)


def _text(value: str) -> str:
    safe = str(spreadsheet_safe(value))
    return safe if len(safe) <= XLSX_CELL_LIMIT else f"{safe[: XLSX_CELL_LIMIT - 1]}…"


def _title(findings: Findings) -> str:
    site = words.tidy(findings.summary.get("site_name"), 80)
    return SAY["title"].format(site) if site else SAY["survey"]


def _made(findings: Findings) -> datetime:
    return sentences.moment_made(findings) or datetime(2000, 1, 1, tzinfo=UTC)
