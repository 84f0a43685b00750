"""What a file is, by its content; and its bytes as text."""

from __future__ import annotations

from pathlib import Path

import pytest

from survey.errors import UnreadableFile, UsageError
from survey.readings import delimited, kinds, read_round
from survey.readings.decoding import to_utf8
from survey.readings.kinds import tell_kind
from tests.readings.build import read_text

# The first bytes of each by the format's own description, or by libmagic's table.
OTHERS = {
    b"\xff\xd8\xff\xe0\0\x10JFIF": "JPEG", b"GIF89a": "GIF", b"BZh91AY": "bzip2",
    b"7z\xbc\xaf\x27\x1c": "7z", b"Rar!\x1a\x07": "RAR", b"\x28\xb5\x2f\xfd\x04": "zstd",
    b"\xfd7zXZ\0": "xz", b"SQLite format 3\0": "SQLite", b"ARROW1\0\0": "Arrow",
    b"FEA1\0": "Arrow", b"{\\rtf1": "rich text", b"\x7fELF\x02": "a program",
    b"PARE\0": "encrypted Parquet", b"\x1f\x8b\x08": "gzip", b"%PDF-1.4": "PDF",
    b"<svg xmlns=": "web page or XML", b"  <?xml ?>": "web page or XML", b"<TABLE>": "web page",
    b"<!-- x -->": "web page", b"\n<div>": "web page", b"<meta x>": "web page",
    b"[1, 2]": "JSON", b"[[1], [2]]": "JSON", b"{}": "JSON", b'["a"]': "JSON", b"[]": "JSON",
    "<html>".encode("utf-16-le"): "web page or XML", '{"a"'.encode("utf-16"): "JSON",
}  # fmt: skip


@pytest.mark.parametrize(("raw", "said"), OTHERS.items(), ids=lambda one: str(one)[:12])
def test_a_file_of_another_kind_is_named(tmp_path: Path, raw: bytes, said: str) -> None:
    path = tmp_path / "round.csv"
    path.write_bytes(raw + b"\n" * 3)
    with pytest.raises(UnreadableFile, match=said):
        read_round(path)


def test_a_name_says_nothing(tmp_path: Path) -> None:
    for name in ("round.pdf", "round.xlsx", "round", "round.parquet"):
        path = tmp_path / name
        path.write_text("tag,inlet_temp_f\nT-1,200\n", encoding="utf-8")
        assert tell_kind(path) == "text"


@pytest.mark.parametrize("text", [
    "<5 psig seen,x\ntag,inlet_temp_f\nT-1,200\n", "{braces},x\ntag,inlet_temp_f\nT-1,200\n",
    "[North]\ntag,inlet_temp_f\nT-1,200\n",
])  # fmt: skip
def test_a_title_that_begins_like_another_kind_is_a_title(tmp_path: Path, text: str) -> None:
    assert read_text(tmp_path, text).table["tag"].tolist() == ["T-1"]


@pytest.mark.parametrize(
    "place", ["Теплица номер", "Θερμοκήπιο βορρά", "Szklarnia żółć ął", "温室一号"]
)
@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-le", "utf-16-be", "utf-8"])
def test_letters_of_any_script_are_no_controls(tmp_path: Path, place: str, encoding: str) -> None:
    rows = [f"T-{n},{place},200" for n in range(60)]
    raw = "\n".join(["tag,area,inlet_temp_f", *rows, ""]).encode(encoding)
    assert read_text(tmp_path, raw).table["area"].tolist() == [place] * 60


@pytest.mark.parametrize("rows", [20, 120, 4000])
def test_a_copy_that_broke_off_into_nothing_keeps_its_rows(tmp_path: Path, rows: int) -> None:
    raw = b"tag,inlet_temp_f\n" + b"".join(b"T-%d,200\n" % n for n in range(rows))
    read = read_text(tmp_path, raw + b"\x00" * 6000)
    assert len(read.table) == rows
    assert any("NUL characters dropped" in note for note in read.notes)


def test_a_few_odd_characters_are_a_slip_and_many_are_no_text(tmp_path: Path) -> None:
    head = b"tag,inlet_temp_f\n"
    assert len(read_text(tmp_path, head + b"T-1,200\x01\x02" + b"\n").rejects) == 1
    with pytest.raises(UnreadableFile, match="binary content that is not a table"):
        read_text(tmp_path, head + b"\x01\x02\x03" * 10)
    # Three in a hundred of much are not many.
    long = head + b"T-1,200\n" * 125
    assert read_text(tmp_path, long + b"\x01" * 20 + b"\n").rows_read == 126
    with pytest.raises(UnreadableFile, match="binary content"):
        read_text(tmp_path, long + b"\x01" * 50 + b"\n")


def test_a_file_past_the_limit_is_refused_unread(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    text = "tag,inlet_temp_f\nT-1,200\n"
    monkeypatch.setattr(kinds, "MAX_FILE_BYTES", len(text))
    assert len(read_text(tmp_path, text).table) == 1
    with pytest.raises(UnreadableFile, match=r"0 MB, over the limit of 0 MB.*split the round"):
        read_text(tmp_path, text + "\n")


@pytest.mark.parametrize("name", ["x" * 300 + ".csv", "a\0b.csv"])
def test_a_name_that_no_file_can_have_is_said(tmp_path: Path, name: str) -> None:
    with pytest.raises(UnreadableFile, match="Found: "):
        read_round(tmp_path / name)


def test_a_file_that_may_not_be_read_is_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "round.csv"
    path.write_text("tag,inlet_temp_f\nT-1,200\n", encoding="utf-8")

    def closed(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", closed)
    with pytest.raises(UnreadableFile, match=r"Permission denied.*that you may read it"):
        tell_kind(path)
    with pytest.raises(UnreadableFile, match=r"Permission denied.*that you may read it"):
        to_utf8(path)


def test_only_the_start_is_read_where_that_is_asked(tmp_path: Path) -> None:
    path = tmp_path / "round.csv"
    path.write_bytes(b"tag,note\n" + b"x" * 100)
    assert to_utf8(path, 12) == (b"tag,note\nxxx", [])
    assert len(to_utf8(path)[0]) == 109


def test_undefined_bytes_of_windows_1252_stand_for_themselves(tmp_path: Path) -> None:
    # As the WHATWG Encoding Standard has it: 81, 8D, 8F, 90 and 9D.
    path = tmp_path / "round.csv"
    path.write_bytes(b"\x81\x8d\x8f\x90\x9d\x80")
    text, notes = to_utf8(path)
    assert text.decode() == "\x81\x8d\x8f\x90\x9d€"
    assert notes == ["read as Windows-1252"]


def test_a_mark_of_utf_8_over_other_bytes_is_not_believed(tmp_path: Path) -> None:
    path = tmp_path / "round.csv"
    path.write_bytes(b"\xef\xbb\xbfGlash\xe4user")
    assert to_utf8(path) == ("Glashäuser".encode(), ["read as Windows-1252"])
    path.write_bytes(b"\xef\xbb\xbf" + "Glashäuser".encode())
    assert to_utf8(path) == ("Glashäuser".encode(), [])


def test_a_letter_cut_by_a_piece_of_the_file_is_still_one(tmp_path: Path) -> None:
    path = tmp_path / "round.csv"
    path.write_bytes(b"x" * ((1 << 20) - 1) + "é".encode() + b"y")
    text, notes = to_utf8(path)
    assert text.endswith("éy".encode())
    assert notes == []


def test_a_letter_at_the_very_end_is_told_by_what_stands_before_it(tmp_path: Path) -> None:
    path = tmp_path / "round.csv"
    path.write_bytes(b"tag,note\nT-1,caf\xe9")
    assert to_utf8(path) == ("tag,note\nT-1,café".encode(), ["read as Windows-1252"])
    # A file cut short in the middle of a letter stays what the rest of it is,
    path.write_bytes("é".encode() + b"caf\xc3")
    assert to_utf8(path)[1] == []
    # and so does one of which only the start was asked for.
    path.write_bytes("caféy".encode())
    assert to_utf8(path, 4) == (b"caf\xc3", [])


def test_more_lines_than_readings_could_fill_are_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(delimited, "most_rows", lambda size: 5)
    text = "tag,inlet_temp_f\n" + "".join(f"T-{n},200\n" for n in range(4))
    assert len(read_text(tmp_path, text).table) == 4
    with pytest.raises(UnreadableFile, match="6 lines, more than readings could fill"):
        read_text(tmp_path, text + "\n")


def test_far_more_columns_than_any_round_are_refused_at_the_first_look(tmp_path: Path) -> None:
    with pytest.raises(UnreadableFile, match="over 10,000 columns, past the limit of 1,000"):
        read_text(tmp_path, "tag" + "," * 10_000 + "\n")
    with pytest.raises(UnreadableFile, match="10,000 columns, over the limit of 1,000"):
        read_text(tmp_path, "tag" + "".join(f",c{n}" for n in range(9_999)) + "\n")
    just = "tag,inlet_temp_f" + "".join(f",c{n}" for n in range(998)) + "\nT-1,200\n"
    assert len(read_text(tmp_path, just).table) == 1


def test_more_misfits_than_can_be_set_aside_are_no_table(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(delimited, "MAX_SET_ASIDE", 2)
    text = "tag,inlet_temp_f\n" + "A,200,x\n" * 2
    assert len(read_text(tmp_path, text).rejects) == 2
    with pytest.raises(UnreadableFile, match="text whose cells cannot be told apart"):
        read_text(tmp_path, text + "A,200,x\n")


@pytest.mark.parametrize(("cells", "delimiter", "value"), [
    (["1,5", "2,25"], ";", 1500.0), (["1.5", "2.25"], ";", 1.5), (["1,5", "2.5"], ";", 1500.0),
    (["1,5", "2.5"], "\t", 1.5), (["1,5", "2,5"], "\t", 1500.0),
    (["1,5", "2,5", "3.5"], "|", 1500.0),
    (["-0,5", "+,5"], ";", 1500.0), (["1000,5"], ";", 1500.0), (["1.000"], ";", 1500.0),
    ([".5"], ";", 1.5), ([], ";", 1500.0),
])  # fmt: skip
def test_the_decimal_mark_is_what_most_cells_show(
    tmp_path: Path, cells: list[str], delimiter: str, value: float
) -> None:
    # 1.500 is read by the file's habit: a thousand and a half where commas are the decimals.
    rows = [["tag", "lift_ft", "hours_per_year", "inlet_temp_f"], ["A", "", "1.500", "200"]]
    rows += [[f"T-{n}", cell, "", "200"] for n, cell in enumerate(cells)]
    text = "".join(delimiter.join(row) + "\n" for row in rows)
    assert read_text(tmp_path, text).table["hours_per_year"][0] == value


@pytest.mark.parametrize(("first", "columns"), [
    ("sep=;", ("tag", "a,b")), ("SEP=|", None), ("sep=x", None)])
def test_a_delimiter_line_is_obeyed(tmp_path: Path, first: str, columns: tuple | None) -> None:
    text = f"{first}\ntag;a,b\nT-1;200\n"
    given = read_text(tmp_path, text).given if columns else None
    assert given == columns


def test_a_last_line_without_an_end_and_lines_of_blanks_are_counted_right(tmp_path: Path) -> None:
    read = read_text(tmp_path, "tag,inlet_temp_f\n\n\nT-1,200\n \n,\nT-2,hot")
    assert read.lines.tolist() == [4]
    assert read.rejects["row"].tolist() == [7]
    assert read.rows_read == 2


def test_no_file_at_all_is_said() -> None:
    with pytest.raises(UsageError, match="At least one file with a round was expected"):
        read_round([])
