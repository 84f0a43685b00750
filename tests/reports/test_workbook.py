"""The workbook for people."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from reports.build import SUMMARY, UNITS, findings
from reports.papers import sheet_rows
from survey.errors import OutputError, UsageError
from survey.reports import manner
from survey.reports.workbook import write_workbook

SHEETS = ["Findings", "Work list", "Assumptions", "What the round told"]


@pytest.fixture
def path(tmp_path: Path) -> Path:
    place = tmp_path / "report.xlsx"
    write_workbook(findings(), place)
    return place


def test_every_sheet_is_frozen_filtered_and_wide_enough(path: Path) -> None:
    book = openpyxl.load_workbook(path)
    assert book.sheetnames == SHEETS
    assert book.properties.title == "The Nursery: steam trap survey"
    for sheet in book:
        assert sheet.freeze_panes == "B2", sheet.title
        assert sheet.auto_filter.ref == sheet.dimensions, sheet.title
        widths = {at: one.width for one in sheet.column_dimensions.values()
                  for at in range(one.min, one.max + 1)}
        for at, cells in enumerate(sheet.columns, start=1):
            texts = [cell.value for cell in cells[1:] if isinstance(cell.value, str)]
            longest = max(map(len, texts), default=0)
            assert widths[at] >= max(9, min(longest, 50)), (sheet.title, cells[0].value)


def test_figures_are_numbers_with_a_format_and_a_unit_in_the_head(path: Path) -> None:
    sheet = openpyxl.load_workbook(path)["Findings"]
    heads = {cell.value: cell.column_letter for cell in sheet[1]}
    for head, shown in (("Cost a year, USD", "#,##0"), ("Confidence", "0 %"),
                        ("Steam lost, lb/h", "#,##0.00"), ("Steam temperature, °F", "#,##0.0")):
        cell = sheet[f"{heads[head]}2"]
        assert cell.data_type == "n", head
        assert cell.number_format == shown, head
    assert sheet[f"{heads['Tag']}2"].value == "T-1"
    assert sheet[f"{heads['State']}2"].value == "blown open"


def test_times_are_a_spreadsheets_own_so_that_it_shows_them_as_its_readers_do(
    tmp_path: Path,
) -> None:
    judged = findings()
    judged.table["read_at"] = ["2025-11-04T08:02:00", "2025-11-05T09:00:00+01:00", "noon",
                               "1899-01-01", ""][: len(judged.table)]
    write_workbook(judged, tmp_path / "times.xlsx")
    sheet = openpyxl.load_workbook(tmp_path / "times.xlsx")["Findings"]
    [column] = [cell.column_letter for cell in sheet[1] if cell.value == "Read at"]
    shown = {cell.value: cell.number_format for cell in sheet[column][1:] if cell.value}
    assert datetime(2025, 11, 4, 8, 2) in shown
    assert datetime(2025, 11, 5, 9) in shown
    assert {"noon", "1899-01-01"} <= set(shown)
    assert set(shown.values()) == {"m/d/yy h:mm"}  # the one that follows the reader's country


def test_the_work_list_is_in_order_and_holds_every_unit_once(path: Path) -> None:
    rows = sheet_rows(path, "Work list")
    assert [row["Order"] for row in rows] == list(range(1, len(rows) + 1))
    units = [row["Device"] for row in rows]
    units += [tag for row in rows for tag in (row["Holds back"] or "").split(", ") if tag]
    assert sorted(units) == ["T-1", "T-3", "T-4", "V-1"]
    assert rows[0]["Device"] == "V-1"
    dearest = next(row for row in rows if row["Device"] == "T-1")
    assert dearest["Cost a year, USD"] == 2431.4
    assert dearest["Steam lost, lb/h"] == 41.25
    assert dearest["What to do"] == "Replace the trap."


def test_assumptions_and_what_the_round_told_are_there(path: Path) -> None:
    said = [row["What was assumed or noticed"] for row in sheet_rows(path, "Assumptions")]
    assert said == [SUMMARY["loss_basis"], *SUMMARY["assumptions"], *SUMMARY["notes"]]
    told = sheet_rows(path, "What the round told")
    assert [row["Figure"] for row in told] == [0.97, 0.99]
    assert told[0]["What was found"] == "At station North it read 3 % low."


@pytest.mark.parametrize("nasty", ["=1+1", "+cmd|' /C calc'!A0", "@SUM(A1)", "-2+3",
                                   "\t=HYPERLINK(\"http://x.example\")", "http://x.example",
                                   "mailto:a@b.example", "{=1}", "\u202e=1"])
def test_nothing_from_the_round_is_a_formula_or_a_link(tmp_path: Path, nasty: str) -> None:
    names = ("tag", "equipment", "area", "station", "action", "evidence", "note", "flags", "cause")
    units = [dict(unit, **dict.fromkeys(names, nasty)) for unit in UNITS]
    summary = SUMMARY | {"site_name": nasty, "assumptions": [nasty], "notes": [nasty],
                         "currency": nasty, "loss_basis": nasty,
                         "calibration": [dict(SUMMARY["calibration"][0], words=nasty, what=nasty)]}
    judged = findings(units, summary)
    judged.table[nasty] = nasty
    place = tmp_path / "nasty.xlsx"
    write_workbook(judged, place)
    cells = [c for s in openpyxl.load_workbook(place) for row in s.iter_rows() for c in row]
    assert not [c.coordinate for c in cells if c.data_type == "f" or c.hyperlink]
    starts = ("=", "+", "-", "@", "\t")
    assert not [c.value for c in cells if isinstance(c.value, str) and c.value.startswith(starts)]
    assert any(nasty.strip("\t\u202e") in str(c.value) for c in cells)


def test_money_and_areas_can_be_left_out(tmp_path: Path) -> None:
    place = tmp_path / "report.xlsx"
    write_workbook(findings(), place, areas=["Laundry"], show_money=False)
    cells = [str(c.value) for s in openpyxl.load_workbook(place)
             for row in s.iter_rows() for c in row]
    assert not [cell for cell in cells if "USD" in cell or "Cost" in cell]
    assert not [cell for cell in cells if "Glasshouse" in cell or cell == "T-1"]
    assert "T-3" in cells
    with pytest.raises(UsageError, match="Areas that are in the findings"):
        write_workbook(findings(), place, areas=["Attic"])


def test_si_units_stand_in_the_heads_and_a_locale_changes_no_cell(tmp_path: Path) -> None:
    place = tmp_path / "report.xlsx"
    with manner.using(units="si", locale="de_DE"):
        write_workbook(findings(), place)
    first = sheet_rows(place, "Findings")[0]
    assert first["Inlet temperature, °C"] == pytest.approx((303.5 - 32) / 1.8, rel=1e-12)
    assert first["Pressure ahead, bar (gauge)"] == pytest.approx(60 * 0.0689475729, rel=1e-8)
    assert first["Steam lost, kg/h"] == pytest.approx(41.25 * 0.45359237, rel=1e-12)
    heads = [head for name in SHEETS for head in sheet_rows(place, name)[0]]
    assert not [h for h in heads if h.endswith(("°F", "psig", " in", " ft", "lb/h", "lb"))]


def test_no_rows_and_no_summary_still_make_a_workbook(tmp_path: Path) -> None:
    place = tmp_path / "empty.xlsx"
    write_workbook(findings([], {}), place)
    assert openpyxl.load_workbook(place).sheetnames == SHEETS


def test_too_many_rows_are_refused_in_words(tmp_path: Path, monkeypatch: Any) -> None:
    monkeypatch.setattr("survey.reports.workbook.MOST_ROWS", 4)
    with pytest.raises(OutputError, match=r"at most .* rows.*Found: 5 rows.*--areas"):
        write_workbook(findings(), tmp_path / "big.xlsx")
    assert list(tmp_path.iterdir()) == []
