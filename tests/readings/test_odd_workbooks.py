"""Workbooks that are odd inside: packed otherwise, locked, many sheets, parts elsewhere."""

from __future__ import annotations

import struct
import zipfile
from pathlib import Path

import pytest

from survey.errors import UnreadableFile
from survey.readings import archives, read_round, workbooks
from tests.readings.build import write_sheets
from tests.readings.test_workbooks import HEAD, SHEET, TAIL, rewritten

ROUND = [["tag", "inlet_temp_f"], ["T-1", 200]]


def repacked(tmp_path: Path, how: int, **changed: str) -> Path:
    """Write a good workbook packed in another way, some of its names changed."""
    good = write_sheets(tmp_path / "good.xlsx", {"A": ROUND})
    path = tmp_path / "r.xlsx"
    with zipfile.ZipFile(good) as old, zipfile.ZipFile(path, "w", how) as new:
        for name in old.namelist():
            new.writestr(changed.get(name, name), old.read(name))
    return path


def test_a_workbook_whose_parts_are_not_packed_is_read(tmp_path: Path) -> None:
    assert len(read_round(repacked(tmp_path, zipfile.ZIP_STORED)).table) == 1


@pytest.mark.parametrize("how", [zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA])
def test_a_workbook_packed_as_none_is_has_its_answer(tmp_path: Path, how: int) -> None:
    with pytest.raises(UnreadableFile, match="a damaged workbook or archive"):
        read_round(repacked(tmp_path, how))


def test_what_a_part_says_of_itself_is_held_against_its_place(tmp_path: Path) -> None:
    raw = rewritten(tmp_path).read_bytes()
    path = tmp_path / "r.xlsx"
    with zipfile.ZipFile(path) as archive:
        at = archive.getinfo(SHEET).header_offset
    path.write_bytes(raw[:at] + b"XX" + raw[at + 2 :])
    with pytest.raises(UnreadableFile, match="a damaged workbook or archive"):
        read_round(path)


def test_an_extra_field_before_a_part_is_stepped_over(tmp_path: Path) -> None:
    # Programs keep times and owners there; the part begins after it.
    sheet = HEAD + b'<row r="1"><c r="XFD1"><v>1</v></c></row>' + TAIL
    path = rewritten(tmp_path, {SHEET: sheet})
    other = tmp_path / "extra.xlsx"
    with zipfile.ZipFile(path) as old, zipfile.ZipFile(other, "w") as new:
        for entry in old.infolist():
            entry.extra = struct.pack("<HH", 0x5455, 700) + b"\x01" * 700
            new.writestr(entry, old.read(entry.filename))
    with pytest.raises(UnreadableFile, match="16,384 columns"):
        read_round(other)


def test_a_locked_archive_is_named(tmp_path: Path) -> None:
    raw = bytearray(rewritten(tmp_path).read_bytes())
    at = raw.index(b"PK\x01\x02")  # the first entry of the directory at the end
    raw[at + 8] |= 1
    (tmp_path / "r.xlsx").write_bytes(raw)
    with pytest.raises(UnreadableFile, match=r"an encrypted archive.*without a password"):
        read_round(tmp_path / "r.xlsx")


def test_a_workbook_over_the_limits_is_refused_before_it_is_opened(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = rewritten(tmp_path)
    size = path.stat().st_size
    monkeypatch.setattr(archives, "MAX_WORKBOOK_BYTES", size)
    assert len(read_round(path).table) == 1
    monkeypatch.setattr(archives, "MAX_WORKBOOK_BYTES", size - 1)
    with pytest.raises(UnreadableFile, match=r"a workbook of 0 MB.*\.csv or \.parquet"):
        read_round(path)


def test_entities_are_found_wherever_they_stand(tmp_path: Path) -> None:
    # Also where the word lies across two of the pieces that a part is unpacked in.
    for before in range(archives._CHUNK - 12, archives._CHUNK + 2):
        pad = b" " * (before - len(HEAD))
        sheet = HEAD + pad + b"<!ENTITY a 'aa'>" + TAIL
        path = rewritten(tmp_path, {SHEET: sheet})
        with pytest.raises(UnreadableFile, match="XML that declares entities"):
            read_round(path)


def test_parts_named_in_capitals_are_the_same_parts(tmp_path: Path) -> None:
    sheet = HEAD + b'<row r="1"><c r="XFD1"><v>1</v></c></row>' + TAIL
    path = rewritten(tmp_path, {SHEET: sheet})
    other = tmp_path / "capitals.xlsx"
    with zipfile.ZipFile(path) as old, zipfile.ZipFile(other, "w") as new:
        for name in old.namelist():
            new.writestr(name.replace("worksheets/sheet1", "WORKSHEETS/SHEET1"), old.read(name))
    with pytest.raises(UnreadableFile, match="16,384 columns"):
        read_round(other)


def test_more_sheets_than_the_limit_are_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = write_sheets(tmp_path / "r.xlsx", {"A": ROUND, "B": [["remark"]], "C": [["remark"]]})
    monkeypatch.setattr(workbooks, "MAX_SHEETS", 3)
    assert len(read_round(path).table) == 1
    monkeypatch.setattr(workbooks, "MAX_SHEETS", 2)
    with pytest.raises(UnreadableFile, match="3 sheets, over the limit of 2"):
        read_round(path)


def test_a_sheet_too_wide_for_a_round_is_left_and_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(workbooks, "MAX_COLUMNS", 3)
    wide = [["tag", "inlet_temp_f", "sound_db", "note"], ["T-9", 200, 30, "x"]]
    path = write_sheets(tmp_path / "r.xlsx", {"A": ROUND, "Wide": wide})
    read = read_round(path)
    assert read.table["tag"].tolist() == ["T-1"]
    assert any("'Wide' was left unread" in note for note in read.notes)


def test_a_workbook_with_nothing_in_it_is_refused(tmp_path: Path) -> None:
    path = write_sheets(tmp_path / "r.xlsx", {"A": [], "B": [["only"]]})
    with pytest.raises(UnreadableFile, match="a workbook with no table in it"):
        read_round(path)


def test_sheets_whose_parts_are_named_from_the_top_keep_their_failed_formulas(
    tmp_path: Path,
) -> None:
    cells = (b'<row r="1"><c r="A1" t="inlineStr"><is><t>tag</t></is></c>'
             b'<c r="B1" t="inlineStr"><is><t>inlet_temp_f</t></is></c>'
             b'<c r="C1" t="inlineStr"><is><t>sound_db</t></is></c></row>'
             b'<row r="2"><c r="A2" t="inlineStr"><is><t>T-1</t></is></c>'
             b'<c r="B2" t="e"><v>#DIV/0!</v></c><c r="C2"><v>30</v></c></row>')
    for target in ("worksheets/sheet1.xml", "/xl/worksheets/sheet1.xml"):
        rels = (b'<?xml version="1.0"?><Relationships xmlns="http://schemas.openxmlformats.org/'
                b'package/2006/relationships"><Relationship Id="rId1" Type="http://schemas.'
                b'openxmlformats.org/officeDocument/2006/relationships/worksheet" Target="'
                + target.encode() + b'"/></Relationships>')
        path = rewritten(tmp_path, {SHEET: HEAD + cells + TAIL, "xl/_rels/workbook.xml.rels": rels})
        read = read_round(path)
        assert len(read.table) == 0
        assert "#DIV/0!" in read.rejects["value"][0]
