"""A report on disk: the suffix says which kind."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from survey.errors import UsageError
from survey.findings import Findings
from survey.reports.manner import DEFAULT_LOCALE, using
from survey.writing import replacing

if TYPE_CHECKING:
    from survey.rounds.known import Known


def write_report(
    findings: Findings,
    path: str | Path,
    *,
    areas: Sequence[str] | None = None,
    show_money: bool = True,
    before: Findings | None = None,
    known: Known | None = None,
    units: str = "us",
    locale: str = DEFAULT_LOCALE,
) -> None:
    """Write a report, atomically, in the kind of file that the suffix names.

    Parameters
    ----------
    findings
        The judged round.
    path
        Ends in .html (one self-contained page), .pdf (to print) or .xlsx (a workbook).
    areas
        Show only these areas; None shows all.
    before
        An earlier round to hold it against, in an .html report.
    known
        What a store knows of the two rounds, as `rounds.known` tells it.
    show_money
        False leaves out every price and cost.
    units
        us or si.
    locale
        Whose decimals, dates and money: en, en_US, de_DE. A workbook follows its reader's own.

    Raises
    ------
    UsageError
        The suffix is another one, or an area is not in the findings, or units or locale are
        not known.
    OutputError
        The place cannot be written.
    """
    path = Path(path)
    suffix = path.suffix.lower()
    if before is not None and suffix != ".html":
        raise UsageError(
            "Before and after stand in a report that ends in .html", found=path.name,
            do="give --out a name ending in .html; a browser prints that page as a PDF",
        )
    with using(units=units, locale=locale):
        if suffix == ".html":
            _write_page(findings, path, areas, show_money, before, known)
        elif suffix == ".pdf":
            from survey.reports.pdf import render_pdf

            paper = render_pdf(findings, areas=areas, show_money=show_money)
            with replacing(path) as temporary:
                temporary.write_bytes(paper)
        elif suffix == ".xlsx":
            from survey.reports.workbook import write_workbook

            write_workbook(findings, path, areas=areas, show_money=show_money)
        else:
            raise UsageError(
                "A report ends in .html, .pdf or .xlsx", found=path.name,
                do="give --out a name with one of these endings",
            )


def _write_page(
    findings: Findings,
    path: Path,
    areas: Sequence[str] | None,
    show_money: bool,
    before: Findings | None,
    known: Known | None,
) -> None:
    from survey.reports.page import REPORT_BYTES, render_page

    page = render_page(
        findings, areas=areas, show_money=show_money, before=before, known=known,
        most_bytes=REPORT_BYTES,
    )  # fmt: skip
    with replacing(path) as temporary:
        temporary.write_text(page, encoding="utf-8", newline="\n")
