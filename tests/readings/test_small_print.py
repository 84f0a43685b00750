"""What a file gives where one small thing in it is unusual, each as whoever wrote it meant it."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq
import pytest
import xlsxwriter

from survey.errors import MapError, UnreadableFile
from survey.readings import load_header_map, parquets, read_round, understand
from survey.readings.cells import convert_one, read_number
from survey.readings.layout import find_layout
from tests.readings.build import read_text, write_sheets
from tests.readings.test_headers import understood

FOUR = "tag,inlet_temp_f,sound_db,note\n"


def test_a_title_of_names_and_numbers_is_not_taken_for_a_header_of_fewer_names() -> None:
    # Two known words and two numbers above a header with a single known word in it.
    grid = [["Location", "Hall", "3", "2025"], ["Trap No.", "hot", "cold"], ["T-1", "200", "180"]]
    found = find_layout(grid)
    assert found is not None
    assert (found.header_at, found.known) == (1, 1)


def test_a_title_in_letters_that_fill_both_bytes_does_not_hide_that_it_is_utf_16(
    tmp_path: Path,
) -> None:
    # No letter of the title leaves the NUL by which text of two bytes a letter is known else.
    text = "温室" * 110 + "\n" + FOUR + "".join(f"T-{n},200,30,x\n" for n in range(60))
    read = read_text(tmp_path, text.encode("utf-16"))
    assert len(read.table) == 60
    assert "read as UTF-16" in read.notes


def test_a_cell_of_two_lines_is_kept_as_typed_whatever_ends_the_lines(tmp_path: Path) -> None:
    for end in ("\r\n", "\n"):
        text = f'tag,inlet_temp_f,Remarks{end}T-1,200,"two{end}lines"{end}'
        read = read_text(tmp_path, text)
        assert read.originals["Remarks"].tolist() == [f"two{end}lines"]
        assert read.table["note"].tolist() == ["two\nlines"]


def test_a_quote_that_takes_a_single_line_is_named_with_its_line(tmp_path: Path) -> None:
    text = FOUR + 'T-1,200,30,x\nT-2,200,30,"1/2 bore\nT-3,200,30,1/2" bore\nT-4,200,30,x\n'
    with pytest.raises(UnreadableFile, match=r"holds 1 whole lines\. Where: about line 3\."):
        read_text(tmp_path, text)


def test_a_note_with_as_many_commas_as_no_row_has_is_a_note(tmp_path: Path) -> None:
    read = read_text(tmp_path, FOUR + 'T-1,200,30,"looked at:\nvent, drip, bypass"\nT-2,200,31,x\n')
    assert read.table["note"].tolist() == ["looked at:\nvent, drip, bypass", "x"]


def test_a_word_under_a_header_that_is_no_unit_does_not_hide_the_units_said_again(
    tmp_path: Path,
) -> None:
    text = "Trap No.,Inlet Temp,Kind of fix\n,(°C),[max]\nT-1,100,a\n,°C,max\nT-2,100,b\n"
    read = read_text(tmp_path, text)
    assert read.table["tag"].tolist() == ["T-1", "T-2"]
    assert not len(read.rejects)


def test_a_row_without_a_tag_names_the_column_as_the_file_does(tmp_path: Path) -> None:
    read = read_text(tmp_path, "Trap No.,Inlet Temp (°F)\n,200\nT-1,200\n")
    assert read.rejects["column"].tolist() == ["Trap No."]


def test_a_level_has_one_unit_whether_it_is_written_or_not() -> None:
    for header in ("Background", "Sound level", "Operating hours"):
        found, _ = understood(header)
        assert found[header][2] == "by name and unit"


@pytest.mark.parametrize("sign", ["°", "º", "˚", "℃"])
def test_a_degree_sign_of_any_make_in_a_cell(sign: str) -> None:
    typed = f"80 {sign}" if sign == "℃" else f"80 {sign}C"
    assert convert_one(read_number(typed, "inlet_temp_f", "."), 14.7, None) == pytest.approx(176.0)


# Header maps


@pytest.mark.parametrize("raw", [b"[columns\n", b'[columns]\n"T" = \n', b'[columns]\n"\xff" = "tag"'])
def test_a_map_that_is_no_toml_is_said(tmp_path: Path, raw: bytes) -> None:
    path = tmp_path / "map.toml"
    path.write_bytes(raw)
    with pytest.raises(MapError, match=r"A header map in TOML \(UTF-8\) was expected"):
        load_header_map(path)


def test_a_map_with_a_byte_order_mark_is_read_and_one_that_is_not_there_is_said(
    tmp_path: Path,
) -> None:
    path = tmp_path / "map.toml"
    path.write_bytes(b'\xef\xbb\xbf[columns]\n"T" = "tag"\n')
    assert load_header_map(path) == {"T": "tag"}
    with pytest.raises(MapError, match="Found: No such file or directory"):
        load_header_map(tmp_path / "none.toml")


def test_every_line_of_a_map_is_checked_not_only_the_first(tmp_path: Path) -> None:
    path = tmp_path / "map.toml"
    for good in ('"A" = "tag"', '"A" = ""', '"A" = "inlet_temp_c"'):
        path.write_text(f'[columns]\n{good}\n"B" = "inlet_tmp_f"\n', encoding="utf-8")
        with pytest.raises(MapError, match="expected for the header 'B'"):
            load_header_map(path)
    with pytest.raises(MapError, match="the map names 'Temp'"):
        read_text(tmp_path, FOUR + "T-1,200,30,x\n", header_map={"note": "", "Temp": "ambient_f"})


# Workbooks


def test_a_time_in_a_workbook_is_kept_to_the_second(tmp_path: Path) -> None:
    path = tmp_path / "r.xlsx"
    book = xlsxwriter.Workbook(str(path))
    sheet = book.add_worksheet()
    sheet.write_row(0, 0, ["tag", "inlet_temp_f", "read_at"])
    style = book.add_format({"num_format": "yyyy-mm-dd hh:mm:ss"})
    for line, clock in enumerate([(14, 5, 6), (0, 0, 0), (0, 0, 1)], start=1):
        sheet.write_row(line, 0, [f"T-{line}", 200])
        sheet.write_datetime(line, 2, dt.datetime(2025, 4, 3, *clock), style)
    book.close()
    read = read_round(path)
    assert read.table["read_at"].tolist() == [
        "2025-04-03T14:05:06", "2025-04-03", "2025-04-03T00:00:01"]
    assert read.table["read_at"].dtype == "str"


def test_the_first_look_at_a_workbook_reaches_as_far_as_the_reading(tmp_path: Path) -> None:
    # The header on the last line that it is looked for on, and the first sounds far below it.
    rows: list[list[object]] = [["North houses"]] * 59
    rows += [["tag", "inlet_temp_f", "Sound"]]
    rows += [[f"T-{n}", 200, "steady" if n >= 195 else None] for n in range(200)]
    path = write_sheets(tmp_path / "r.xlsx", {"A": rows})
    seen = understand(path)
    assert [match.column for match in seen.matches] == ["tag", "inlet_temp_f", "sound_pattern"]
    assert seen.matches == read_round(path).matches


def test_of_sheets_that_nothing_is_known_in_the_first_is_shown(tmp_path: Path) -> None:
    sheets = {name: [[f"{name} one", f"{name} two"], ["T-1", 200]] for name in ("north", "south")}
    seen = understand(write_sheets(tmp_path / "r.xlsx", sheets))
    assert [match.header for match in seen.matches] == ["north one", "north two"]
    assert "no header was recognised" in seen.notes


# Parquet


def test_as_many_rows_as_a_file_of_its_size_may_have_are_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "r.parquet"
    pq.write_table(pa.table({"tag": ["A", "B", "C"], "inlet_temp_f": [200.0] * 3}), path)
    monkeypatch.setattr(parquets, "most_packed_rows", lambda size: 3)
    assert len(read_round(path).table) == 3
    monkeypatch.setattr(parquets, "most_packed_rows", lambda size: 2)
    with pytest.raises(UnreadableFile, match="3 rows in so small a file"):
        read_round(path)


def test_a_number_takes_eight_bytes_and_a_file_may_unpack_to_just_its_limit(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    rows = 1_000
    columns = {"tag": pa.nulls(rows, pa.string()), "inlet_temp_f": pa.nulls(rows, pa.float64())}
    path = tmp_path / "r.parquet"
    pq.write_table(pa.table(columns), path)
    monkeypatch.setattr(parquets, "most_unpacked", lambda size: 2 * 8 * rows)
    assert read_round(path).rows_read == rows
    monkeypatch.setattr(parquets, "most_unpacked", lambda size: 2 * 8 * rows - 1)
    with pytest.raises(UnreadableFile, match="unpacks to far more"):
        read_round(path)
