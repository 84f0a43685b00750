"""A report on disk: the suffix says which kind."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from survey.errors import UsageError
from survey.findings import Findings
from survey.writing import replacing


def write_report(
    findings: Findings,
    path: str | Path,
    *,
    areas: Sequence[str] | None = None,
    show_money: bool = True,
) -> None:
    """Write a report, atomically, in the kind of file that the suffix names.

    Parameters
    ----------
    findings
        The judged round.
    path
        Ends in .html (one self-contained page) or .xlsx (the findings as a workbook).
    areas
        Show only these areas; None shows all.
    show_money
        False leaves out every price and cost (.html only).

    Raises
    ------
    UsageError
        The suffix is another one, or an area is not in the findings.
    OutputError
        The place cannot be written.
    """
    path = Path(path)
    suffix = path.suffix.lower()
    if suffix == ".html":
        from survey.reports.page import REPORT_BYTES, render_page

        page = render_page(findings, areas=areas, show_money=show_money, most_bytes=REPORT_BYTES)
        with replacing(path) as temporary:
            temporary.write_text(page, encoding="utf-8", newline="\n")
    elif suffix == ".xlsx":
        findings.save(path)
    else:
        raise UsageError(
            "A report ends in .html or .xlsx",
            found=path.name,
            do="write .html and print it to a PDF from the browser" if suffix == ".pdf"
            else "give --out a name with one of these endings",
        )
