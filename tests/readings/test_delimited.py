from __future__ import annotations

import gc
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from survey.errors import UnreadableFile
from survey.readings import delimited, read_round
from tests.readings.build import checked, read_text

PLAIN = "tag,area,inlet_temp_f\nT-1,Glasshouse é,212.5\nT-2,,300\n"


@pytest.mark.parametrize(
    ("encoding", "mark", "note"),
    [
        ("utf-8", b"", None),
        ("utf-8", b"\xef\xbb\xbf", None),
        ("utf-16-le", b"\xff\xfe", "read as UTF-16"),
        ("utf-16-be", b"\xfe\xff", "read as UTF-16"),
        ("utf-16-le", b"", "read as UTF-16"),
        ("utf-16-be", b"", "read as UTF-16"),
        ("cp1252", b"", "read as Windows-1252"),
    ],
)
@pytest.mark.parametrize("ends", ["\n", "\r\n", "\r"])
def test_encodings_and_line_ends(tmp_path, encoding, mark, note, ends):
    read = read_text(tmp_path, mark + PLAIN.replace("\n", ends).encode(encoding))
    assert read.table["area"].tolist()[0] == "Glasshouse é"
    assert read.table["inlet_temp_f"].tolist() == [212.5, 300.0]
    assert read.lines.tolist() == [2, 3]
    assert read.notes == ((note,) if note else ())


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
def test_delimiters(tmp_path, delimiter):
    read = read_text(tmp_path, PLAIN.replace(",", delimiter))
    assert read.given == ("tag", "area", "inlet_temp_f")
    assert len(read.table) == 2


def test_a_spreadsheets_own_delimiter_line(tmp_path):
    read = read_text(tmp_path, "sep=;\ntag;inlet_temp_c;note\nT-1;100,5;a, b\n")
    assert read.table["inlet_temp_f"].tolist() == pytest.approx([212.9])
    assert read.lines.tolist() == [3]
    assert read.notes == ()


def test_decimal_commas_where_the_delimiter_is_none(tmp_path):
    read = read_text(
        tmp_path, "tag;inlet_temp_f;hours_per_year;orifice_in\nA;212,5;6.000;0,125\nB;300;;1,250\n"
    )
    assert read.table["inlet_temp_f"].tolist() == [212.5, 300.0]
    assert read.table["hours_per_year"].tolist()[0] == 6000.0
    assert read.table["orifice_in"].tolist() == [0.125, 1.25]


def test_quoted_thousands_where_the_delimiter_is_a_comma(tmp_path):
    read = read_text(tmp_path, 'tag,inlet_temp_f,hours_per_year\nA,"212,5","6,000"\n')
    assert read.table["inlet_temp_f"].tolist() == [212.5]
    assert read.table["hours_per_year"].tolist() == [6000.0]


def test_titles_units_blank_lines_headers_again_and_totals(tmp_path):
    text = (
        "North houses, November\n"
        "\n"
        "Trap No.,Area,Inlet Temp,Supply\n"
        ",,(°C),(bar g)\n"
        "T-1,A,100,1\n"
        "\n"
        ",,,\n"
        "Trap No.,Area,Inlet Temp,Supply\n"
        ",,(°C),(bar g)\n"
        "T-2,B,110,2\n"
        "Total,,210,\n"
        "Total: 2 traps\n"
    )
    read = read_text(tmp_path, text)
    assert read.table["tag"].tolist() == ["T-1", "T-2"]
    assert read.table["inlet_temp_f"].tolist() == [212.0, 230.0]
    assert read.lines.tolist() == [5, 10]
    assert read.rejects[["row", "reason"]].to_numpy().tolist() == [
        [11, "a line of totals, not a device"],
        [12, "a line of totals, not a device"],
    ]
    assert read.notes == ("one title line above the header skipped: 'North houses, November'",)


def test_rows_too_short_and_too_long(tmp_path):
    read = read_text(tmp_path, "tag,inlet_temp_f,note\nT-1,200\nT-2,200,x,,\nT-3,200,x,,9\nT-4,2\n")
    assert read.table["tag"].tolist() == ["T-1", "T-2", "T-4"]
    (found,) = read.rejects.itertuples(index=False)
    assert (found.row, found.value, found.reason) == (4, "9", "5 cells where the header has 3")


def test_line_numbers_pass_over_quoted_line_ends(tmp_path):
    read = read_text(tmp_path, 'tag,note,inlet_temp_f\nT-1,"two\r\nlines",200\nT-2,x,-900\n')
    assert read.table["note"].tolist() == ["two\nlines"]
    assert read.rejects["row"].tolist() == [4]


def test_nul_characters_are_dropped_and_told(tmp_path):
    read = read_text(tmp_path, b"tag,inlet_temp_f\nT\x00-1,200\n")
    assert read.table["tag"].tolist() == ["T-1"]
    assert read.notes == ("1 NUL characters dropped",)


def test_long_cells(tmp_path):
    note = "x" * 200_000
    read = read_text(tmp_path, f"tag,inlet_temp_f,note\nT-1,200,{note}\nT-2,{note},\n{note},200,\n")
    assert read.table["note"].tolist() == [note]
    assert read.rejects["reason"].tolist() == ["not a number", "longer than 200 characters"]
    assert read.rejects["value"].str.len().tolist() == [200, 200]
    assert read.rejects["inlet_temp_f"].tolist()[0] == note
    read = read_text(tmp_path, "tag,inlet_temp_f,note\nT-1,200," + "x" * 1_000_001 + "\n")
    assert read.rejects["reason"].tolist() == ["longer than 1,000,000 characters"]


def test_header_only_is_an_empty_round(tmp_path):
    for text in ("tag,inlet_temp_f\n", "tag,inlet_temp_f"):
        read = read_text(tmp_path, text)
        assert (len(read.table), len(read.rejects)) == (0, 0)
        assert read.notes == ("round.csv: no rows under the header",)


def test_a_table_with_no_known_header_is_set_aside_whole(tmp_path):
    read = read_text(tmp_path, "colour,shape\nred,round\n")
    assert read.rejects["reason"].tolist()[0].startswith("tag: no tag; no reading")
    assert read.notes == (
        "round.csv: no header was understood as the tag, without which no row can be judged; say "
        "which it is with a header map",
    )


def wanted(found, do):
    return (
        f"A round as CSV, XLSX or Parquet was expected. Found: {found}. Where: {{path}}. "
        f"What to do: {do}."
    )


SAVE = "save the round as .csv, .xlsx or .parquet and give that"


@pytest.mark.parametrize(
    ("raw", "message"),
    [
        (b"", wanted("an empty file", "give a file with a header line and readings")),
        (
            b"\xef\xbb\xbf \r\n\n",
            wanted("an empty file", "give a file with a header line and readings"),
        ),
        (b"<!DOCTYPE html><p>", wanted("a web page or XML, whatever its name", SAVE)),
        ("\ufeff<html>".encode("utf-16"), wanted("a web page or XML, whatever its name", SAVE)),
        (b"%PDF-1.7\n", wanted("a PDF document", SAVE)),
        (b"\x89PNG\r\n\x1a\n", wanted("a picture (PNG)", SAVE)),
        (b'[{"tag": "T-1"}]', wanted("JSON", SAVE)),
        (b'{"tag": ["T-1"]}', wanted("JSON", SAVE)),
        (b"\x1f\x8b\x08\x00", wanted("a gzip archive", SAVE)),
        (bytes(range(256)) * 4, wanted("binary content that is not a table", SAVE)),
        (
            b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1",
            wanted(
                "a workbook or document of the old kind (.xls, .doc)",
                "open it, save it as .xlsx and give that",
            ),
        ),
        (
            b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + "EncryptedPackage".encode("utf-16-le"),
            wanted(
                "a workbook locked with a password",
                "take the password off, save it as .xlsx and give that",
            ),
        ),
        (
            b"Dear reader\nall is well\n",
            wanted(
                "text with no header line of a table in it",
                "give a file whose first lines name the columns, tag among them",
            ),
        ),
        (
            b"tag," + b",".join(b"c%d" % i for i in range(2000)) + b"\nT-1\n",
            wanted("2,001 columns, over the limit of 1,000", "keep the columns of the round only"),
        ),
    ],
)
def test_what_is_no_round_is_refused_in_one_sentence(tmp_path, raw, message):
    with pytest.raises(UnreadableFile) as caught:
        read_text(tmp_path, raw)
    assert str(caught.value) == message.format(path=tmp_path / "round.csv")


def test_a_missing_file_and_a_folder(tmp_path):
    with pytest.raises(UnreadableFile, match="Found: no such file"):
        read_round(tmp_path / "none.csv")
    with pytest.raises(UnreadableFile, match="Found: a folder"):
        read_round(tmp_path)


CELL = st.one_of(
    st.sampled_from(["", "T-1", "200", "12,5", "1.250", "x y", "~180", "—", '3/16"', "ajar", " 5"]),
    st.text(st.characters(codec="utf-8", exclude_characters="\x00"), max_size=6),
)


@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    rows=st.lists(st.lists(CELL, min_size=3, max_size=3), max_size=6), which=st.sampled_from(",;\t")
)
def test_the_fast_way_and_the_sure_way_agree(tmp_path, monkeypatch, rows, which):
    quote = '"{}"'.format
    lines = ["tag,inlet_temp_f,valve_position".replace(",", which)]
    lines += [which.join(quote(cell.replace('"', '""')) for cell in row) for row in rows]
    path = tmp_path / "round.csv"
    path.write_bytes("\n".join([*lines, ""]).encode())
    ways, refused = [], []
    for fast in (True, False):
        with monkeypatch.context() as patch:
            if not fast:
                patch.setattr(delimited, "_read_fast", lambda *_: None)
            try:
                ways.append(checked(read_round(path)))
            except UnreadableFile as error:  # so many control characters that it is no text
                refused.append(str(error))
    if refused:
        assert refused[1:] == refused[:1]
        return
    first, second = ways
    assert first.table.equals(second.table)
    assert first.rejects.equals(second.rejects)
    assert first.lines.tolist() == second.lines.tolist()
    assert first.notes == second.notes


def test_a_clean_file_takes_the_fast_way(tmp_path, monkeypatch):
    def never(*_):
        raise AssertionError("the sure way was taken")

    monkeypatch.setattr(delimited, "_read_surely", never)
    assert len(read_text(tmp_path, PLAIN).table) == 2
    assert len(read_text(tmp_path, 'tag,inlet_temp_f,note\nT-1,200,"a, b"\n').table) == 1


@pytest.mark.parametrize("rows", ["T-1,200\n", "T-1,200,extra\n"])
def test_reading_ragged_lines_leaves_the_collector_as_it_was(tmp_path: Path, rows: str) -> None:
    path = tmp_path / "round.csv"
    path.write_text(f"tag,inlet_temp_f\nT-0,200\n{rows}T-2\n", encoding="utf-8")
    for on in (True, False):
        gc.enable() if on else gc.disable()
        try:
            delimited.read_delimited(path)
            assert gc.isenabled() is on
        finally:
            gc.enable()
