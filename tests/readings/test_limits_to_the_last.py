"""Each limit at its edge: what just fits is read, and one more is refused in words."""

from __future__ import annotations

import zipfile
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from survey.errors import UnreadableFile
from survey.readings import archives, parquets, read_round
from tests.readings.build import read_text, write_sheets
from tests.readings.test_workbooks import HEAD, SHEET, TAIL, rewritten

Setting = Callable[[int], None]


def edge(path: Path, fits: int, setting: Setting, said: str) -> None:
    """Read a file at the least limit that it fits, and see it refused under the next lower one."""
    setting(fits)
    assert read_round(path).rows_read > 0
    setting(fits - 1)
    with pytest.raises(UnreadableFile, match=said):
        read_round(path)


def limit(monkeypatch: pytest.MonkeyPatch, module: object, name: str) -> Setting:
    return lambda value: monkeypatch.setattr(module, name, value)


@pytest.fixture
def book(tmp_path: Path) -> Path:
    """Write a sheet of two columns and three rows, four words among its cells."""
    rows = [["tag", "inlet_temp_f"], ["T-1", 200], ["T-2", 210]]
    return write_sheets(tmp_path / "r.xlsx", {"A": rows})


def test_parts_of_a_workbook(book: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with zipfile.ZipFile(book) as archive:
        entries = archive.infolist()
    edge(book, len(entries), limit(monkeypatch, archives, "MAX_ZIP_ENTRIES"),
         "parts repeated or past counting")


def test_what_a_workbook_says_it_unpacks_to(book: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with zipfile.ZipFile(book) as archive:
        size = sum(entry.file_size for entry in archive.infolist())
    edge(book, size, limit(monkeypatch, archives, "MAX_WORKBOOK_UNPACKED_BYTES"), "unpacks to over")


def test_cells_of_a_sheet_and_the_rectangle_that_it_spans(
    book: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    edge(book, 6, limit(monkeypatch, archives, "MAX_SHEET_CELLS"), "or 5 cells")
    apart = rewritten(book.parent, {SHEET: HEAD + (
        b'<row r="1"><c r="A1" t="inlineStr"><is><t>tag</t></is></c>'
        b'<c r="C1" t="inlineStr"><is><t>dB</t></is></c></row>'
        b'<row r="4"><c r="A4" t="inlineStr"><is><t>T-1</t></is></c></row>') + TAIL})
    edge(apart, 12, limit(monkeypatch, archives, "MAX_SHEET_CELLS"), "spans 4 rows and 3 columns")


def test_words_kept_apart_from_their_cells(book: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    words = b"<si><t>tag</t></si><si><t>inlet_temp_f</t></si><si><t>T-1</t></si><si><t>T-2</t></si>"
    strings = (b'<?xml version="1.0"?><sst xmlns="http://schemas.openxmlformats.org/spreadsheetml/'
               b'2006/main">' + words + b"<si><t>left over</t></si>" * 46 + b"</sst>")
    path = rewritten(book.parent, {"xl/sharedStrings.xml": strings})
    edge(path, 50, limit(monkeypatch, archives, "MAX_SHEET_CELLS"), "unpacks to over")


def test_columns_and_rows_of_a_sheet(book: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    edge(book, 2, limit(monkeypatch, archives, "MAX_COLUMNS"), "spans 2 columns, over the limit")
    monkeypatch.undo()
    far = b'<row r="1048577"><c r="A1048577"><v>1</v></c></row>'
    with pytest.raises(UnreadableFile, match="spans 1,048,577 rows"):
        read_round(rewritten(book.parent, {SHEET: HEAD + far + TAIL}))


def test_a_presentation_and_entities_beside_the_sheets(book: Path) -> None:
    path = rewritten(book.parent, add={"ppt/presentation.xml": b"x"})
    with pytest.raises(UnreadableFile, match=r"a presentation \(\.pptx\)"):
        read_round(path)
    for name in ("xl/other.xml", "xl/_rels/other.xml.rels"):
        for words in (b"<!DOCTYPE x>", b"<!ENTITY a 'aa'>"):
            with pytest.raises(UnreadableFile, match="XML that declares entities"):
                read_round(rewritten(book.parent, add={name: words}))
        # In a picture the same bytes mean nothing.
        assert len(read_round(rewritten(book.parent, add={"xl/a.png": b"<!ENTITY"})).table) == 1


def test_a_formula_that_failed_is_found_in_a_column_of_two_letters(tmp_path: Path) -> None:
    def cell(place: str, word: str) -> str:
        return f'<c r="{place}" t="inlineStr"><is><t>{word}</t></is></c>'

    names = [*"ABCDEFGHIJKLMNOPQRSTUVWXYZ", "AA", "AB"]
    heads = ["tag", *(f"extra {n}" for n in range(25)), "inlet_temp_f", "sound_db"]
    rows = "".join(
        [f'<row r="1">{cell("A1", "failed: ")}<c r="AA1" t="e"><v>#REF!</v></c></row><row r="2">',
         *(cell(f"{name}2", head) for name, head in zip(names, heads, strict=True)), "</row>",
         f'<row r="3">{cell("A3", "T-1")}<c r="AB3"><v>30</v></c></row>',
         f'<row r="4">{cell("A4", "T-2")}<c r="AA4" t="e"><f>1/0</f><v>#DIV/0!</v></c></row>']
    )
    read = read_round(rewritten(tmp_path, {SHEET: HEAD + rows.encode() + TAIL}))
    assert read.table["tag"].tolist() == ["T-1"]
    assert read.rejects[["row", "column", "value"]].to_numpy().tolist() == [
        [4, "inlet_temp_f", "#DIV/0!"]]


# Parquet


@pytest.fixture
def coded(tmp_path: Path) -> Path:
    """Write a thousand rows in two groups, two columns of which repeat a word of fifty bytes."""
    word = pa.DictionaryArray.from_arrays(pa.array(np.zeros(1_000, np.int32)), pa.array(["x" * 50]))
    path = tmp_path / "r.parquet"
    table = pa.table({"tag": np.arange(1_000), "one": word, "two": word})
    pq.write_table(table, path, row_group_size=500)
    return path


def test_words_that_repeat_are_counted_as_often_as_they_stand(
    coded: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    setting = limit(monkeypatch, parquets, "most_unpacked")
    edge(coded, 2 * 50 * 1_000, lambda size: setting(lambda _: size), "unpacks to far more")


def test_rows_and_columns_of_a_parquet_file(
    coded: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    edge(coded, 1_000, limit(monkeypatch, parquets, "MAX_ROWS"), "1,000 rows, over the limit of")
    monkeypatch.undo()
    edge(coded, 3, limit(monkeypatch, parquets, "MAX_COLUMNS"), "3 columns, over the limit of 2")


def test_bytes_of_one_width_are_counted_by_their_width(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "r.parquet"
    pq.write_table(pa.table({"tag": np.arange(100), "raw": pa.nulls(100, pa.binary(90))}), path)
    setting = limit(monkeypatch, parquets, "most_unpacked")
    edge(path, 100 * (8 + 90), lambda size: setting(lambda _: size), "unpacks to far more")


def test_words_of_lists_are_lists(tmp_path: Path) -> None:
    path = tmp_path / "r.parquet"
    for kind in (pa.list_(pa.int64()), pa.struct([("a", pa.int64())])):
        pq.write_table(pa.table({"tag": ["A"], "odd": pa.nulls(1, kind)}), path)
        with pytest.raises(UnreadableFile, match="the column 'odd', which holds lists or records"):
            read_round(path)


# Quotes left open, in tables of any width


def test_a_quote_left_open_in_a_table_of_two_columns_and_of_one(tmp_path: Path) -> None:
    text = 'tag,inlet_temp_f\nT-1,200\nT-2,"200\nT-3,200\nT-4,"200"\n'
    with pytest.raises(UnreadableFile, match="Every quote in a CSV was expected to be closed"):
        read_text(tmp_path, text)
    # Where there is but one column, a line says nothing of where a cell ends.
    assert read_text(tmp_path, 'tag\n"T-1\nT-2"\nT-3\n').rows_read == 2
