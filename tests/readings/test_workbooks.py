from __future__ import annotations

import datetime as dt
import time
import zipfile

import pytest
import xlsxwriter

from survey.errors import UnreadableFile
from survey.readings import archives, read_round, understand
from tests.readings.build import checked, read_text, write_sheets


def test_titles_units_and_real_numbers(tmp_path):
    path = write_sheets(
        tmp_path / "r.xlsx",
        {
            "Round": [
                ["North houses"],
                [],
                ["Trap ID", "Inlet Temp", "Seat bore mm", "Present", "Remarks"],
                [None, "°C", None, None, None],
                [101.0, 100.0, 3.2, True, "=1+1"],
                [102.0, 110.5, "1/8 in", False, None],
                [],
                ["T-3", "n/a", "—", None, "dark"],
            ]
        },
    )
    read = checked(read_round(path))
    assert read.table["tag"].tolist() == ["101", "102"]
    assert read.table["inlet_temp_f"].tolist() == pytest.approx([212.0, 230.9])
    assert read.table["orifice_in"].tolist() == pytest.approx([3.2 / 25.4, 0.125])
    assert read.table["present"].tolist() == ["yes", "no"]
    assert read.table["note"].tolist()[0] == "=1+1"
    assert read.lines.tolist() == [5, 6]
    assert read.rejects["row"].tolist() == [8]


def test_every_sheet_with_a_rounds_header_is_read(tmp_path):
    path = write_sheets(
        tmp_path / "r.xlsx",
        {
            "North": [["tag", "inlet_temp_f"], ["T-1", 200], ["T-2", 210]],
            "Notes": [["call the gate first"], ["then the keys"]],
            "South": [
                ["Trap No.", "Inlet Temp (°C)", "state"],
                ["T-2", 100, "ok"],
                ["T-3", 100, "ok"],
            ],
        },
    )
    read = checked(read_round(path))
    assert read.table["tag"].tolist() == ["T-1", "T-2", "T-3"]
    assert read.rejects[["row", "reason"]].to_numpy().tolist() == [
        ["r.xlsx, sheet 'South', row 2", "the tag is already on row 3 of r.xlsx, sheet 'North'"]
    ]
    assert read.notes[0] == "sheet 'Notes' was left unread: its header is not that of a round"
    assert read.originals["input_state"].tolist()[-1] == "ok"
    assert understand(path).matches == read.matches


def test_dates_and_cells_where_a_formula_failed(tmp_path):
    path = tmp_path / "r.xlsx"
    book = xlsxwriter.Workbook(str(path))
    sheet = book.add_worksheet("Round")
    sheet.write_row(0, 0, ["tag", "inlet_temp_f", "outlet_temp_f", "Date"])
    day = book.add_format({"num_format": "dd/mm/yyyy"})
    for line, (failed, word) in enumerate([("=NA()", "#N/A"), ("=1/0", "#DIV/0!")], start=1):
        sheet.write_row(line, 0, [f"T-{line}", 200])
        sheet.write_formula(line, 2, failed, None, word)
        sheet.write_datetime(line, 3, dt.datetime(2025, 4, 3), day)
    book.close()
    read = checked(read_round(path))
    assert read.table["read_at"].tolist() == ["2025-04-03"]
    assert read.originals["Date"].tolist() == ["2025-04-03"]
    (found,) = read.rejects.itertuples(index=False)
    assert (found.row, found.column, found.value) == (3, "outlet_temp_f", "#DIV/0!")
    assert found.reason == "a spreadsheet error (#DIV/0!), not a reading"


def test_a_workbook_of_unknown_headers_can_still_be_mapped(tmp_path):
    path = write_sheets(tmp_path / "r.xlsx", {"A": [["foo", "bar2"], ["T-1", 200]]})
    assert [m.header for m in understand(path).matches] == ["foo", "bar2"]
    read = checked(read_round(path, header_map={"foo": "tag", "bar2": "inlet_temp_f"}))
    assert read.table["tag"].tolist() == ["T-1"]


def test_a_workbook_named_csv_is_read_as_one(tmp_path):
    path = write_sheets(tmp_path / "r.csv", {"A": [["tag", "inlet_temp_f"], ["T-1", 200]]})
    assert len(read_round(path).table) == 1


def rewritten(tmp_path, replace=None, add=None):
    """Write a good workbook with some parts replaced or added."""
    good = write_sheets(tmp_path / "good.xlsx", {"A": [["tag", "inlet_temp_f"], ["T-1", 200]]})
    path = tmp_path / "r.xlsx"
    with zipfile.ZipFile(good) as old, zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            new.writestr(name, (replace or {}).get(name, old.read(name)))
        for name, data in (add or {}).items():
            new.writestr(name, data)
    return path


SHEET = "xl/worksheets/sheet1.xml"
HEAD = (
    b'<?xml version="1.0"?><worksheet '
    b'xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>'
)
TAIL = b"</sheetData></worksheet>"


@pytest.mark.parametrize(
    ("cells", "found"),
    [
        (b'<row r="1"><c r="XFD1"><v>1</v></c></row>', "a sheet that spans 16,384 columns"),
        (b"<row r='1'><c r='XFD1'><v>1</v></c></row>", "a sheet that spans 16,384 columns"),
        (b'<row r="1"><c\nr = "XFD1"><v>1</v></c></row>', "a sheet that spans 16,384 columns"),
        (b'<row r="9"><c r="A9999999"><v>1</v></c></row>', "a sheet that spans 9,999,999 rows"),
        (b'<row r="1048576"><c r="Z1"/></row>', "a sheet that spans 1,048,576 rows and 26"),
    ],
)
def test_a_far_cell_is_refused_before_memory_is_taken_for_it(tmp_path, cells, found):
    path = rewritten(tmp_path, {SHEET: HEAD + cells + TAIL})
    with pytest.raises(UnreadableFile, match=found):
        read_round(path)


def test_entities_are_refused(tmp_path):
    xml = b'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "aa">]>' + HEAD[21:] + TAIL
    with pytest.raises(UnreadableFile, match="XML that declares entities"):
        read_round(rewritten(tmp_path, {SHEET: xml}))


def test_a_zip_of_something_else(tmp_path):
    for name, found in (
        ("hello.txt", "a zip archive that is not a workbook"),
        ("word/document.xml", r"a text document \(.docx\)"),
        ("xl/workbook.bin", r"a binary workbook \(.xlsb\)"),
        ("content.xml", "an OpenDocument file"),
    ):
        path = tmp_path / "r.xlsx"
        with zipfile.ZipFile(path, "w") as archive:
            archive.writestr(name, "x")
        with pytest.raises(UnreadableFile, match=found):
            read_round(path)


def test_parts_repeated(tmp_path):
    with pytest.warns(UserWarning, match="Duplicate name"):
        path = rewritten(tmp_path, add={SHEET: HEAD + TAIL})
    with pytest.raises(UnreadableFile, match="parts repeated"):
        read_round(path)


def test_cut_and_not_a_zip_at_all(tmp_path):
    good = rewritten(tmp_path).read_bytes()
    for raw in (good[:-40], good[: len(good) // 2], b"PK\x03\x04junk"):
        with pytest.raises(UnreadableFile, match="a damaged workbook or archive"):
            read_text(tmp_path, raw, "r.xlsx")


def test_a_line_of_totals_is_set_aside_as_one(tmp_path):
    rows = [["tag", "inlet_temp_f", "note"], ["T-1", 200, ""], ["Total", 200, "1 trap"]]
    read = read_round(write_sheets(tmp_path / "r.xlsx", {"A": rows}))
    assert read.table["tag"].tolist() == ["T-1"]
    assert read.rejects["reason"].tolist() == ["a line of totals, not a device"]


def test_a_total_is_told_by_its_last_word_where_no_device_stands(tmp_path):
    rows = [
        ["note", "tag", "inlet_temp_f"],
        ["counted in the total", "T-1", 200],
        ["", "Dye house subtotal", 200],
        ["Laundry sub-total:", "", 400],
        ["Hall totals", "T-2", 200],
    ]
    read = checked(read_round(write_sheets(tmp_path / "r.xlsx", {"A": rows})))
    assert read.table["tag"].tolist() == ["T-1", "T-2"]
    assert set(read.rejects["reason"]) == {"a line of totals, not a device"}


def test_a_cell_merged_over_several_rows_counts_for_each(tmp_path):
    path = tmp_path / "r.xlsx"
    with xlsxwriter.Workbook(path) as book:
        sheet = book.add_worksheet("Round")
        sheet.merge_range("A1:D1", "North houses, merged across: no cell of the round")
        sheet.write_row("A3", ["area", "tag", "inlet_temp_f", "supply_psig", "note"])
        for row, (tag, inlet) in enumerate([("A", 230), ("B", 231), ("C", 229), ("D", 228)], 3):
            sheet.write_row(row, 1, [tag, inlet, 12])
        sheet.merge_range("A4:A6", "Glasshouse A")
        sheet.merge_range("A7:A12", "Glasshouse B")  # past the last device
        sheet.merge_range("D4:D5", 15)
        sheet.merge_range("E6:F6", "merged across")
    read = checked(read_round(path))
    assert read.table["area"].tolist() == [*["Glasshouse A"] * 3, "Glasshouse B"]
    assert read.table["supply_psig"].tolist() == [15, 15, 12, 12]
    assert read.table["note"].dropna().tolist() == ["merged across"]
    assert len(read.rejects) == 0
    assert any("merged over several rows" in note for note in read.notes)


def test_a_tag_merged_over_two_rows_is_one_given_twice(tmp_path):
    path = tmp_path / "r.xlsx"
    with xlsxwriter.Workbook(path) as book:
        sheet = book.add_worksheet("Round")
        sheet.write_row("A1", ["tag", "inlet_temp_f"])
        sheet.write_column("B2", [230, 231])
        sheet.merge_range("A2:A3", "T-1")
    read = checked(read_round(path))
    assert read.table["inlet_temp_f"].tolist() == [230]
    assert read.rejects["reason"].tolist() == ["the tag is already on row 2"]


def test_cells_merged_over_one_another_cost_no_more(tmp_path):
    path = tmp_path / "r.xlsx"
    with xlsxwriter.Workbook(path) as book:
        sheet = book.add_worksheet("Round")
        sheet.write_row("A1", ["tag", "inlet_temp_f", "area"])
        for row in range(1, 4_000):
            sheet.write_row(row, 0, [f"T-{row}", 230, f"Bay {row}"])
        sheet.merge_range("C2:C4000", "Glasshouse A")
    odd = path.with_name("odd.xlsx")
    with zipfile.ZipFile(path) as old, zipfile.ZipFile(odd, "w") as new:
        for name in old.namelist():
            ranges = "".join(f'<mergeCell ref="C{row}:C4000"/>' for row in range(3, 3_999))
            content = old.read(name).replace(b"</mergeCells>", f"{ranges}</mergeCells>".encode())
            new.writestr(name, content)
    read = checked(read_round(odd))
    assert set(read.table["area"]) == {"Glasshouse A"}


FORMULA_ROW = (
    b'<row r="1"><c r="A1" t="inlineStr"><is><t>tag</t></is></c>'
    b'<c r="B1" t="inlineStr"><is><t>inlet_temp_f</t></is></c>'
    b'<c r="C1" t="inlineStr"><is><t>Area</t></is></c>'
    b'<c r="D1" t="inlineStr"><is><t>device</t></is></c></row>'
)


def with_cells(tmp_path, *rows):
    """Write a workbook of tag, inlet_temp_f, Area, device and the rows given as XML, from 2 on."""
    body = b"".join(
        b'<row r="%d">' % line + row.replace(b"@", b"%d" % line) + b"</row>"
        for line, row in enumerate(rows, start=2)
    )
    return rewritten(tmp_path, {SHEET: HEAD + FORMULA_ROW + body + TAIL})


UNSOLVED = "(formula without a result)"


@pytest.mark.parametrize("cell", [
    b'<c r="B@"><f>C2*1.8+32</f><v></v></c>', b'<c r="B@"><f>C2</f><v/></c>',
    b'<c r="B@" s="3"><f>C2</f><v /></c>', b'<c r="B@"><f>C2</f></c>',
    b"<c r='B@' t='n'><f>IF(C2&lt;5,C2>3)</f><v/></c>", b'<c r="B@"><f t="shared" si="0"/></c>',
    b'<c r="B@">\n <f>C2</f>\n <v></v>\n</c>', b'<c t="b" r="B@"><f>C2</f><v></v></c>',
    b'<c r="B@"><f>' + b"C2+" * 2500 + b"C2</f><v></v></c>",
])  # fmt: skip
def test_a_formula_whose_result_was_not_saved_is_no_blank(tmp_path, cell):
    # As programs save that do not calculate.
    good = b'<c r="A@"><v>@</v></c><c r="B@"><f>D3*2</f><v>240</v></c>'
    read = checked(read_round(with_cells(tmp_path, b'<c r="A@"><v>@</v></c>' + cell, good)))
    (found,) = read.rejects.itertuples(index=False)
    assert (found.row, found.column, found.value) == (2, "inlet_temp_f", UNSOLVED)
    assert found.reason.startswith("a formula whose result was not saved: open the workbook")
    assert read.table["inlet_temp_f"].tolist() == [240.0]
    assert [note for note in read.notes if note.startswith("1 cell holds a formula whose result")]


def test_long_formulas_are_found_wherever_the_scan_is_cut(tmp_path):
    row = b'<c r="A@"><v>@</v></c><c r="B@"><f>' + b"C2+" * 700 + b"C2</f><v></v></c>"
    row += b'<c r="C@"><v>1</v></c>'
    read = checked(read_round(with_cells(tmp_path, *[row] * 2000)))
    assert (len(read.table), len(read.rejects)) == (0, 2000)


def test_an_empty_text_is_a_result_and_a_choice_without_one_is_none(tmp_path):
    heat = b'<c r="B@"><v>240</v></c>'
    rows = [
        b'<c r="A@"><v>1</v></c><c r="B@" t="str"><f>""</f><v></v></c><c r="C@"><v>7</v></c>',
        b'<c r="A@"><v>2</v></c>' + heat + b'<c r="C@"><f>E3</f></c>',
        b'<c r="A@"><v>3</v></c>' + heat + b'<c r="D@"><f>E3</f></c>',
    ]
    read = checked(read_round(with_cells(tmp_path, *rows)))
    assert read.table["tag"].tolist() == ["2"]
    assert read.table["area"].isna().all()
    told = dict(zip(read.rejects["row"], read.rejects["reason"], strict=True))
    assert told[2].startswith("no reading")
    assert told[4].startswith("a formula whose result was not saved")


@pytest.mark.parametrize("last", [b"", b'<c r="A@"><v>9</v></c><c r="B@"><v>250</v></c>'])
def test_a_form_filled_down_with_formulas_is_blank_and_said(tmp_path, last):
    row = b'<c r="A@"><v>@</v></c><c r="B@"><v>240</v></c>'
    idle = b'<c r="B@"><f>C@*1.8+32</f><v></v></c>'
    read = checked(read_round(with_cells(tmp_path, row, *[idle] * 40, last)))
    assert len(read.table) == 1 + bool(last)
    assert len(read.rejects) == 0
    assert [n for n in read.notes if n.startswith("40 rows hold nothing but formulas")]


def test_a_merged_cell_without_a_result_is_so_for_each_of_its_rows(tmp_path):
    rows = [b'<c r="A2"><v>1</v></c><c r="B2"><f>15</f><v/></c><c r="C2"><v>5</v></c>',
            b'<c r="A3"><v>2</v></c><c r="C3"><v>5</v></c>']  # fmt: skip
    merged = b'</sheetData><mergeCells count="1"><mergeCell ref="B2:B3"/></mergeCells></worksheet>'
    body = HEAD + FORMULA_ROW + b"".join(
        b'<row r="%d">' % (line + 2) + row + b"</row>" for line, row in enumerate(rows)
    ) + merged
    read = checked(read_round(rewritten(tmp_path, {SHEET: body})))
    assert read.rejects["row"].tolist() == [2, 3]


def test_a_tag_made_to_be_searched_for_ever_is_not(tmp_path):
    tag = b"<c r=\"A@\" x='" + b' r="A1" t="e"' * 60_000 + b"'>"
    cell = tag + b'<v>1</v></c><c r="B@"><f>1</f></c>'
    start = time.perf_counter()
    checked(read_round(with_cells(tmp_path, cell, cell)))
    assert time.perf_counter() - start < 5  # quadratic, it would take minutes


def test_more_formulas_without_results_than_are_kept_are_refused(tmp_path, monkeypatch):
    monkeypatch.setattr(archives, "MOST_WITHOUT_RESULT", 3)
    row = b'<c r="A@"><v>@</v></c><c r="B@"><f>C2</f></c>'
    assert len(read_round(with_cells(tmp_path, *[row] * 3)).rejects) == 3
    with pytest.raises(UnreadableFile, match="over 3 formulas that failed or whose results"):
        read_round(with_cells(tmp_path, *[row] * 4))


def test_a_preview_says_no_more_of_formulas_than_it_has_seen(tmp_path):
    row = b'<c r="A@"><v>@</v></c><c r="B@"><v>240</v></c><c r="C@"><f>1+1</f><v/></c>'
    path = with_cells(tmp_path, *[row] * 900)
    assert not any("nothing but formulas" in note for note in understand(path).notes)
    assert any(note.startswith("900 cells hold") for note in read_round(path).notes)
