"""Files to take away: findings, papers and work lists, made when they are asked for."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Mapping
from functools import partial
from pathlib import Path

import pandas as pd
import streamlit as st

from survey.dashboard.wording import screen_words
from survey.findings import Findings
from survey.reports import manner, words
from survey.reports.blocks import Block, Heading, Paragraph, Points, Table, as_html
from survey.reports.files import write_report
from survey.writing import write_csv, write_xlsx

_MIME = {
    "csv": "text/csv",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    "parquet": "application/vnd.apache.parquet",
    "html": "text/html",
    "pdf": "application/pdf",
    "toml": "application/toml",
}


def findings_buttons(findings: Findings) -> None:
    """Draw one button for each kind of findings file: every column, in its own unit."""
    _buttons(
        "findings",
        screen_words.FINDINGS_FILES,
        lambda suffix: partial(made, f"findings.{suffix}", findings),
    )


def report_buttons(findings: Findings) -> None:
    """Draw one button for each kind of report, in the units and numbers of the screens."""
    its = manner.current()
    kinds = screen_words.REPORT_FILES
    _buttons("report", kinds, lambda suffix: partial(report, suffix, findings, its))


def work_list_buttons(table: pd.DataFrame, site_name: str) -> None:
    """Draw one button for each kind of work list."""
    kinds = screen_words.WORK_LIST_FILES
    _buttons("work_list", kinds, lambda suffix: partial(work_list, suffix, table, site_name))


def rejects_button(findings: Findings) -> None:
    """Draw the button for the rows that were set aside; nothing where there are none."""
    if len(findings.rejects):
        one(screen_words.REJECTS_FILE, "rejects.csv", partial(made, "rejects.csv", findings))


def one(label: str, file_name: str, data: Callable[[], bytes | str] | str | bytes) -> None:
    """Draw one button for one file; where ``data`` is called, it is when the button is pressed."""
    st.download_button(
        label,
        data=data,
        mime=_MIME[file_name.rsplit(".", 1)[-1]],
        file_name=file_name,
        on_click="ignore",
        width="stretch",
        key=f"take_{file_name}",
    )


def paper(label: str, file_name: str, make: Callable[[], str]) -> None:
    """Draw the button for a page that is made, when it is pressed, as the screens are now."""
    one(label, file_name, partial(in_manner, make, manner.current()))


def papers(
    name: str, kinds: Mapping[str, str], make: Mapping[str, Callable[[], str | bytes]]
) -> None:
    """Draw one button for each kind of a paper, made as `paper` makes it."""
    its = manner.current()
    _buttons(name, kinds, lambda suffix: partial(in_manner, make[suffix], its))


def in_manner(make: Callable[[], str | bytes], its: manner.Manner) -> bytes:
    """Return a page or a PDF made in these units and with these decimals."""
    with manner.using(units=its.units, locale=its.locale):
        made = make()
    return made.encode("utf-8", "replace") if isinstance(made, str) else made


def _buttons(
    name: str, kinds: Mapping[str, str], maker: Callable[[str], Callable[[], bytes]]
) -> None:
    for column, (suffix, label) in zip(st.columns(len(kinds)), kinds.items(), strict=True):
        with column:
            one(label, f"{name}.{suffix}", maker(suffix))


def made(name: str, findings: Findings) -> bytes:
    """Return the file of this name: rejects.csv, or findings in the kind its ending says."""

    def write(path: Path) -> None:
        if name.startswith("rejects"):
            write_csv(findings.rejects, path)
        else:
            findings.save(path)

    return _written(name, write)


def as_csv(table: pd.DataFrame) -> bytes:
    """Return a table as CSV that is safe to open in a spreadsheet."""
    return _written("table.csv", lambda path: write_csv(table, path))


def report(suffix: str, findings: Findings, its: manner.Manner) -> bytes:
    """Return the findings as a report, in these units and with these decimals."""
    return _written(
        f"report.{suffix}",
        lambda path: write_report(findings, path, units=its.units, locale=its.locale),
    )


def work_list(suffix: str, table: pd.DataFrame, site_name: str) -> bytes:
    """Return a work list as CSV, XLSX, or a page to print with the cautions on it."""

    def write(path: Path) -> None:
        if suffix == "csv":
            write_csv(table, path)
        elif suffix == "xlsx":
            write_xlsx({screen_words.WORK_LIST_SHEET: table}, path)
        else:
            path.write_text(_page(table, site_name), encoding="utf-8")

    return _written(f"work_list.{suffix}", write)


def _page(table: pd.DataFrame, site_name: str) -> str:
    title = screen_words.WORK_LIST
    if site_name:
        title = screen_words.WORK_LIST_OF.format(site=words.tidy(site_name))
    rows = tuple(tuple(map(str, row)) for row in table.itertuples(index=False, name=None))
    blocks: list[Block] = [
        Heading(1, title),
        Points(words.CAUTION_POINTS, caution=True),
        Paragraph(screen_words.WORK_LIST_ORDER),
        Table(screen_words.WORK_LIST_TABLE, tuple(map(str, table.columns)), rows),
    ]
    return as_html(blocks, title=title)


def _written(name: str, write: Callable[[Path], None]) -> bytes:
    with tempfile.TemporaryDirectory(prefix="survey-") as folder:
        path = Path(folder) / name
        write(path)
        return path.read_bytes()
