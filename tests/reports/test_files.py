"""A report on disk."""

from __future__ import annotations

from pathlib import Path

import openpyxl
import pytest

from reports.build import findings, many
from survey.errors import OutputError, UsageError
from survey.reports.files import write_report
from survey.reports.page import render_page
from survey.reports.pdf import render_pdf


def test_html_is_the_page(tmp_path: Path) -> None:
    path = tmp_path / "report.HTML"
    write_report(findings(), path)
    assert path.read_bytes() == render_page(findings()).encode()
    assert list(tmp_path.iterdir()) == [path]


def test_a_report_to_keep_shows_more_units_whole_than_a_page_to_open(tmp_path: Path) -> None:
    judged, path = many(1000), tmp_path / "report.html"
    write_report(judged, path)
    assert path.read_text("utf-8").count("<li data-g") == 1000
    assert render_page(judged).count("<li data-g") < 1000


def test_xlsx_is_the_workbook_worst_first(tmp_path: Path) -> None:
    path = tmp_path / "report.xlsx"
    write_report(findings(), path)
    sheet = openpyxl.load_workbook(path)["Findings"]
    assert [cell.value for cell in sheet["A"]] == ["Tag", "T-1", "T-3", "T-4", "V-1", "T-2"]


def test_pdf_is_the_paper(tmp_path: Path) -> None:
    path = tmp_path / "report.pdf"
    write_report(findings(), path)
    assert path.read_bytes() == render_pdf(findings())
    assert list(tmp_path.iterdir()) == [path]


def test_units_and_locale_rule_whatever_is_written(tmp_path: Path) -> None:
    path = tmp_path / "report.html"
    write_report(findings(), path, units="si", locale="de_DE")
    text = path.read_text("utf-8")
    assert "24,0 kg/h" in text
    assert "lb/h" not in text
    with pytest.raises(UsageError, match="locale"):
        write_report(findings(), path, locale="Atlantis")


@pytest.mark.parametrize("name", ["report.docx", "report", "report.html.zip"])
def test_another_kind_is_refused_in_words(tmp_path: Path, name: str) -> None:
    with pytest.raises(UsageError, match=rf"A report ends in .*Found: {name}"):
        write_report(findings(), tmp_path / name)
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_is_not_there_is_an_error_in_words(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match=r"file that can be written"):
        write_report(findings(), tmp_path / "none" / "report.html")
