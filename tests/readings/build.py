"""Small rounds as files, for tests."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import xlsxwriter

from survey.readings import Round, read_round


def read_text(folder: Path, text: str | bytes, name: str = "round.csv", **options: Any) -> Round:
    """Write a text to a file and read it as a round."""
    path = folder / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode("utf-8"))
    return checked(read_round(path, **options))


def checked(read: Round) -> Round:
    """Return the round if its rows add up."""
    assert read.rows_read == len(read.table) + len(read.rejects)
    assert len(read.originals) == len(read.lines) == len(read.table)
    assert list(read.rejects.columns[:4]) == ["row", "column", "value", "reason"]
    assert read.rejects["reason"].str.len().gt(0).all()
    return read


def write_sheets(path: Path, sheets: dict[str, list[list[Any]]]) -> Path:
    """Write rows of plain values as the sheets of a workbook."""
    book = xlsxwriter.Workbook(str(path), {"strings_to_formulas": False})
    for name, rows in sheets.items():
        sheet = book.add_worksheet(name)
        for line, row in enumerate(rows):
            for position, value in enumerate(row):
                if value is not None:
                    sheet.write(line, position, value)
    book.close()
    return path
