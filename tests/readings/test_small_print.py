"""What a file gives where one small thing in it is unusual, each as whoever wrote it meant it."""

from __future__ import annotations

import datetime as dt
import math
from pathlib import Path

import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
import python_calamine
import xlsxwriter

from survey.columns import FINDING_NAMES, INPUT_NAMES
from survey.errors import MapError, UnreadableFile
from survey.readings import (
    convert,
    delimited,
    load_header_map,
    parquets,
    read_round,
    round_from_frame,
    understand,
    workbooks,
)
from survey.readings.cells import convert_one, read_number
from survey.readings.layout import find_layout
from survey.readings.texts import as_text
from tests.readings.build import read_text, write_sheets
from tests.readings.test_headers import understood
from tests.readings.test_page_headers import walked
from tests.readings.test_workbooks import SHEET, rewritten

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


def test_a_column_of_times_with_none_in_it_is_text_all_the_same(tmp_path: Path) -> None:
    for rows in ("T-1,200,\nT-2,200,n/a\n", ""):
        read = read_text(tmp_path, "tag,inlet_temp_f,read_at\n" + rows)
        assert read.table["read_at"].dtype == "str"
        assert read.table["read_at"].isna().all()


def test_days_that_can_be_read_in_two_ways_are_counted_and_blank_ones_are_not(
    tmp_path: Path,
) -> None:
    head = "tag,inlet_temp_f,read_at\nT-1,200,\nT-2,200,n/a\nT-3,200,25/12/2025\n"
    assert read_text(tmp_path, head).notes == ()
    read = read_text(tmp_path, head + "T-4,200,03/04/2025\nT-5,200,03/04/2025\n")
    assert read.notes == ("2 dates were kept as typed: day and month cannot be told apart",)


# Header maps


@pytest.mark.parametrize("raw", [
    b"[columns\n", b'[columns]\n"T" = \n', b'[columns]\n"\xff" = "tag"',
])  # fmt: skip
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


@pytest.mark.parametrize("xml", [
    b"not xml at all", b"<worksheet><sheetData><row",
    b'<worksheet><sheetData><row r="1"><c r="A1" t="s"><v>99</v></c></row></sheetData></worksheet>',
])  # fmt: skip
def test_a_sheet_that_breaks_off_or_points_nowhere_is_a_damaged_workbook(
    tmp_path: Path, xml: bytes
) -> None:
    with pytest.raises(UnreadableFile, match=r"a damaged workbook\..*save it again as \.xlsx"):
        read_round(rewritten(tmp_path, {SHEET: xml}))


def test_a_password_that_only_the_reader_finds_is_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Locked:
        @staticmethod
        def from_path(path: str) -> None:
            raise python_calamine.PasswordError

    path = write_sheets(tmp_path / "r.xlsx", {"A": [["tag", "inlet_temp_f"], ["T-1", 200]]})
    monkeypatch.setattr(python_calamine, "CalamineWorkbook", Locked)
    with pytest.raises(UnreadableFile, match="a workbook locked with a password"):
        read_round(path)


# Parquet


def test_a_column_chunk_of_no_bytes_holds_no_pages() -> None:
    assert walked(b"PAR1") == 0


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


def test_words_of_few_kinds_and_words_of_many_are_read_alike(tmp_path: Path) -> None:
    columns = {
        "tag": ["A", "B", "C", "D"],
        "inlet_temp_f": ["200", None, "n/a", "93.3 °C"],
        "area": ["North \t house", None, "N/A", "South"],
        "trap_type": ["IB", None, "swirl", "vent"],
        "valve_position": ["shut", None, "-", "open"],
        "sound_db": ["30", "31", "32", "33"],
        "read_at": ["2025-11-03", None, "03/04/2025", "tbd"],
    }
    plain = pa.table({name: pa.array(words) for name, words in columns.items()})
    coded = pa.table({name: pa.array(words).dictionary_encode() for name, words in columns.items()})
    reads = []
    for name, table in (("plain", plain), ("coded", coded)):
        pq.write_table(table, tmp_path / f"{name}.parquet")
        reads.append(read_round(tmp_path / f"{name}.parquet"))
    for read in reads:
        table = read.table.astype("object").where(read.table.notna(), None)
        assert table["inlet_temp_f"].tolist() == [200.0, None, None, pytest.approx(199.94)]
        assert table["area"].tolist() == ["North house", None, None, "South"]
        assert table["trap_type"].tolist() == ["inverted_bucket", None, None, None]
        assert table["device"].tolist() == ["trap", "trap", "trap", "air_vent"]
        assert table["valve_position"].tolist() == ["closed", None, None, "open"]
        assert table["read_at"].tolist() == ["2025-11-03", None, "03/04/2025", None]
        assert read.notes == (
            "1 dates were kept as typed: day and month cannot be told apart",
            "trap_type: 1 cells with words it does not know were taken as missing: 'swirl' (1)",
        )
    assert reads[0].table.equals(reads[1].table)


def test_a_time_finer_than_a_millionth_of_a_second_is_read_to_the_millionth() -> None:
    array = pa.array([1_500_000_700, None], pa.timestamp("ns"))
    assert as_text(array).to_pylist() == ["1970-01-01T00:00:01.500000", None]


# Frames in memory


def test_a_column_of_things_of_all_kinds_reads_as_each_of_them_would() -> None:
    things = [7.0, None, pd.NA, True, dt.date(2025, 4, 3), dt.time(7, 30), "x", 2.5, [1, 2]]
    frame = pd.DataFrame({"tag": [f"T-{n}" for n in range(len(things))], "inlet_temp_f": 200.0,
                          "Own": pd.Series(things, dtype="object")})
    own = round_from_frame(frame).originals["Own"]
    assert own.isna().tolist() == [thing is None or thing is pd.NA for thing in things]
    assert own.dropna().tolist() == [
        "7", "yes", "2025-04-03", "07:30:00", "x", "2.5", "[1, 2]"]
    frame["Own"] = [[n] for n in range(len(things))]
    assert round_from_frame(frame).originals["Own"].tolist()[:2] == ["[0]", "[1]"]


# Rows that are odd, and notes on them


def test_rows_that_do_not_fit_are_named_by_their_lines_however_many_come_before(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(delimited, "_ROWS_AT_ONCE", 3)
    rows = [f"T-{n},200,30,x" for n in range(10)]
    rows[4] += ",left over"
    rows[5] = ",,,"
    rows[8] += ",,and, here"
    read = read_text(tmp_path, FOUR + "\n".join(rows) + "\n")
    assert read.rejects[["row", "value"]].to_numpy().tolist() == [[6, "left over"],
                                                                  [10, "and,  here"]]
    assert read.lines.tolist() == [2, 3, 4, 5, 8, 9, 11]


def test_totals_are_known_by_the_first_cell_or_the_tag(tmp_path: Path) -> None:
    text = "area,Trap No.,inlet_temp_f\nN,T-1,200\nTotal,,200\nS,Sum,200\nMeans lane,T-2,200\n"
    read = read_text(tmp_path, text)
    assert read.table["tag"].tolist() == ["T-1", "T-2"]
    assert read.rejects["row"].tolist() == [3, 4]
    assert set(read.rejects["reason"]) == {"a line of totals, not a device"}
    others = read_text(
        tmp_path,
        "tag,inlet_temp_f\nSumme,200\nGesamtsumme: 2,200\nMoyenne,200\nSomme lane,200\n",
    )
    assert others.table["tag"].tolist() == ["Somme lane"]
    counted = read_text(
        tmp_path, "tag,inlet_temp_f\nTotal 40 traps,\nCount 5,200\nTotal 7 B,200\n"
    )
    assert counted.table["tag"].tolist() == ["Count 5", "Total 7 B"]
    assert counted.rejects["reason"].tolist() == ["a line of totals, not a device"]
    untagged = read_text(tmp_path, "area,inlet_temp_f\nTotal,200\n")
    assert untagged.rejects[["value", "reason"]].to_numpy().tolist() == [
        ["Total", "a line of totals, not a device"]]


def test_every_kind_of_name_has_its_longest(tmp_path: Path) -> None:
    for column in ("equipment", "area", "station"):
        text = f"tag,{column},inlet_temp_f,note\nT-1,{{}},200,{'y' * 300}\n"
        assert len(read_text(tmp_path, text.format("x" * 200)).table) == 1
        assert read_text(tmp_path, text.format("x" * 201)).rejects["column"].tolist() == [column]


@pytest.mark.parametrize(("words", "said"), [
    (["trap", "vent", "x"], True), (["trap", "vent", "x", "y"], False), (["trap"] * 3, False),
    (["trap", "vent", "x", "y", "z"], False), (["trap", "vent", "n/a", "", "-"], True),
])  # fmt: skip
def test_most_of_a_column_and_two_kinds_in_it_speak_for_devices(
    tmp_path: Path, words: list[str], said: bool
) -> None:
    rows = "".join(f"T-{n},{word},200\n" for n, word in enumerate(words))
    notes = read_text(tmp_path, "tag,Gizmo,inlet_temp_f\n" + rows).notes
    assert any("seems to say what each device is" in note for note in notes) is said


def test_eight_unknown_words_are_told_and_eight_renamed_headers(tmp_path: Path) -> None:
    rows = "".join(f"T-{n},make {n:02},200\n" for n in range(10))
    (note,) = read_text(tmp_path, "tag,trap_type,inlet_temp_f\n" + rows).notes
    assert note.startswith("trap_type: 10 cells with words it does not know")
    assert note.count("'make ") == 8
    kept = [name for name in FINDING_NAMES if name not in INPUT_NAMES][:8]
    (note,) = read_text(tmp_path, f"tag,inlet_temp_f,{','.join(kept)}\nT-1,200{',x' * 8}\n").notes
    assert note.count(" as ") == 8
    assert "more" not in note


def test_of_two_files_the_first_cell_that_is_not_blank_is_the_sample(tmp_path: Path) -> None:
    for name, remark in (("a", ""), ("b", "dark"), ("c", "wet")):
        (tmp_path / f"{name}.csv").write_text(f"tag,Remarks,inlet_temp_f\n{name},{remark},200\n")
    read = read_round([tmp_path / f"{name}.csv" for name in "abc"])
    assert [match.sample for match in read.matches] == ["a", "dark", "200"]
    assert read.table["note"].tolist()[1:] == ["dark", "wet"]


def test_an_impossible_figure_is_told_from_an_infinite_one(tmp_path: Path) -> None:
    text = "tag,inlet_temp_f,outlet_temp_f\nA,-500,200\nB,1600,200\nC,,200\nD,inf,200\nE,200,\n"
    read = read_text(tmp_path, text)
    assert read.table["tag"].tolist() == ["C", "E"]
    assert read.rejects["reason"].tolist() == [
        "impossible: below absolute zero", "impossible: over 1500 °F", "infinite, not a reading"]
    frame = pd.DataFrame({"tag": list("ABCD"), "sound_db": [-1e9, 1e9, math.inf, -math.inf]})
    assert [reason[:14] for reason in round_from_frame(frame).rejects["reason"]] == [
        "impossible: un", "impossible: ov", "infinite, not ", "infinite, not "]


def test_each_kind_of_file_is_read_whole_where_nobody_asks_for_its_top(tmp_path: Path) -> None:
    rows = [["tag", "inlet_temp_f"], *([f"T-{n}", "200"] for n in range(300))]
    text = "".join(f"{','.join(row)}\n" for row in rows)
    path = tmp_path / "r.csv"
    path.write_text(text)
    assert len(delimited.read_delimited(path).cells) == 300
    tables, _ = workbooks.read_workbook(write_sheets(tmp_path / "r.xlsx", {"A": rows}))
    assert [len(table.cells) for table in tables] == [300]
    columns = {name: [row[at] for row in rows[1:]] for at, name in enumerate(rows[0])}
    pq.write_table(pa.table(columns), tmp_path / "r.parquet")
    assert len(parquets.read_parquet(tmp_path / "r.parquet").cells) == 300
    batches = list(parquets.parquet_batches(tmp_path / "r.parquet", 1_000))
    assert [(len(batch.cells), batch.lines[0]) for batch in batches] == [(300, 1)]


def test_where_nothing_tells_what_parts_the_cells_it_is_a_comma(tmp_path: Path) -> None:
    for mark, rows_aside in ((",", [3]), (";", []), ("\t", []), ("|", [])):
        read = read_text(tmp_path, f"tag\nT-1\nT-2{mark}left over\n")
        misfits = read.rejects["reason"].str.contains("2 cells where the header has 1")
        assert read.rejects["row"][misfits].tolist() == rows_aside


def test_a_map_is_held_against_the_headers_before_anything_is_read_by_it(tmp_path: Path) -> None:
    path = tmp_path / "r.csv"
    path.write_text(FOUR)
    for read in (understand, read_round):
        with pytest.raises(MapError, match="the map names 'Temp', which the round does not have"):
            read(path, header_map={"Temp": "ambient_f"})


def test_columns_with_neither_name_nor_content_are_none_and_others_are_numbered(
    tmp_path: Path,
) -> None:
    assert read_text(tmp_path, "tag,inlet_temp_f,,\nT-1,200,, \n").given == ("tag", "inlet_temp_f")
    read = read_text(tmp_path, "tag,inlet_temp_f,,\nT-1,200,,\nT-2,200,,dark\n")
    assert read.given == ("tag", "inlet_temp_f", "column 4")
    assert read.originals["column 4"].tolist() == ["", "dark"]


def test_an_unknown_service_costs_no_row(tmp_path: Path) -> None:
    read = read_text(tmp_path, "tag,service,inlet_temp_f\nT-1,sauna,200\nT-2,drip,200\n")
    assert read.table["service"].isna().tolist() == [True, False]
    assert read.originals["input_service"].tolist() == ["sauna", "drip"]


def test_a_header_of_two_meanings_over_no_cells_is_the_one_that_any_text_fits() -> None:
    found, _ = understood("Trap", "Application")
    assert [column for column, _, _ in found.values()] == ["tag", "equipment"]


def test_plain_figures_in_text_are_not_read_one_by_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def never(*_: object) -> None:
        raise AssertionError("a cell was read by itself")

    monkeypatch.setattr(convert, "read_number", never)
    read = read_text(tmp_path, "tag,ambient_f,inlet_temp_f\nT-1,12,-5.25\nT-2,0.5,200\nT-3,,70\n")
    assert read.table["inlet_temp_f"].tolist() == [-5.25, 200.0, 70.0]
    read = read_text(tmp_path, "tag;ambient_f;inlet_temp_f\nT-1;12;-5,25\nT-2;0,5;200\n")
    assert read.table["inlet_temp_f"].tolist() == [-5.25, 200.0]
