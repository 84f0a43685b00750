"""Papers read back by other programs: the text of a PDF, the cells of a workbook."""

from __future__ import annotations

import io
import re
from pathlib import Path
from typing import Any

import openpyxl
import pypdf

NUMBER = r"(?:\d{1,3}(?:,\d{3})+(?:\.\d+)?|\d+(?:\.\d+)?)"


def pdf_text(paper: bytes) -> str:
    """Return all text of a PDF, white space made single, each page's foot left out."""
    pages = []
    for page in pypdf.PdfReader(io.BytesIO(paper)).pages:
        lines = page.extract_text().splitlines()
        pages += [line for line in lines if not re.search(r"\d+ of \d+$", line)
                  or "with survey" not in line]
    return " ".join(" ".join(pages).split())


def sheet_rows(path: Path, name: str) -> list[dict[str, Any]]:
    """Return the rows of a sheet by head; fails where two heads are the same."""
    sheet = openpyxl.load_workbook(path)[name]
    heads, *rows = sheet.iter_rows(values_only=True)
    assert len(set(heads)) == len(heads)
    return [dict(zip(heads, row, strict=True)) for row in rows]


def is_shown(text: str, value: float, digits: int = 3) -> bool:
    """Tell whether a figure in words is a value rounded to the digits that it shows.

    Zeros at the end of a whole number past so many digits are not shown digits.
    """
    plain = text.replace(",", "")
    if "." in plain:
        unit = 10.0 ** -len(plain.partition(".")[2])
    else:
        unit = 10.0 ** max(0, len(plain) - digits)
    return abs(float(plain) - value) <= unit / 2 * (1 + 1e-9)
