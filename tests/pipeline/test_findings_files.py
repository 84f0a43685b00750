"""Findings kept in a file and read back: three kinds, and text that means harm."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import openpyxl
import pandas as pd
import pyarrow.parquet as pq
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pipeline.rounds import small_round
from survey import analyze
from survey.columns import FINDING_COLUMNS, FINDING_NAMES
from survey.errors import OutputError, UnreadableFile
from survey.findings import Findings
from survey.writing import (
    XLSX_CELL_LIMIT,
    as_written,
    printable,
    replacing,
    spreadsheet_safe,
    write_csv,
    write_xlsx,
)

KINDS = (".parquet", ".csv", ".xlsx")
LONG = "steam " * 40_000  # 240,000 characters
NASTY = (
    '=HYPERLINK("http://example.org","click")',
    "+1+cmd|' /C calc'!A0",
    "-2+3",
    "@SUM(A1:A9)",
    "\t=1+1",
    "\r=1+1",
    "  =1+1",
    "\u00a0=1+1",
    "＝1+1",
    "\x00=1+1",
    "\u202e=1+1",
    '{=1+1}";"',
    "'=1+1",
)
A_NUMBER = re.compile(r"[+-](\d+\.?\d*|\.\d+)(e[+-]?\d+)?", re.ASCII | re.IGNORECASE)
DISGUISES = "safe\u202eexe.vulg\u202c \u2066x\u2069 \x07bell \x1b[31mred \x85 next"


@pytest.fixture(scope="module")
def findings() -> Findings:
    """Return findings whose texts try to be formulas, terminal codes and floods."""
    frame = small_round(6)
    notes: list[Any] = [*NASTY, DISGUISES, "plain", "007", "1e5", None]
    frame["note"] = notes[: len(frame)] + [None] * (len(frame) - len(notes))
    frame["Remark, second"] = [*NASTY[:4], *["two\nlines"] * 14]
    frame.loc[len(frame)] = frame.iloc[0].to_dict() | {"tag": "=T-0", "inlet_temp_f": -999.0}
    return analyze(frame)


def test_a_column_of_plain_numbers_that_was_passed_through_is_numbers_in_a_workbook(
    tmp_path: Path,
) -> None:
    frame = small_round(6)
    typed = {
        "Shelf": "12", "Load": "1.50", "Below": "-3", "Serial": "007", "Sign": "+4",
        "Long": "1234567890123456", "Comma": "1,5", "Mixed": "7",
    }  # fmt: skip
    for name, cell in typed.items():
        frame[name] = cell
    frame.loc[1, "Mixed"] = "about 7"
    frame.loc[2, "Shelf"] = None
    found = analyze(frame)
    path = tmp_path / "findings.xlsx"
    found.save(path)
    head, *rows = openpyxl.load_workbook(path)["findings"].iter_rows(values_only=True)
    shown = {name: rows[0][head.index(name)] for name in typed}
    assert shown == typed | {"Shelf": 12, "Load": 1.5, "Below": -3}
    assert rows[0][head.index("tag")] == found.table["tag"][0]
    back = Findings.load(path).table
    told = ("12", "1.5", "-3", "007", "+4", "1234567890123456", "1,5", "7")
    assert tuple(back.loc[0, list(typed)]) == told
    assert pd.isna(back.loc[2, "Shelf"])


@pytest.mark.parametrize("suffix", KINDS)
def test_numbers_and_verdicts_come_back(findings: Findings, tmp_path: Path, suffix: str) -> None:
    path = tmp_path / f"findings{suffix}"
    findings.save(path)
    back = Findings.load(path).table
    assert list(back.columns) == list(findings.table.columns)
    assert len(back) == len(findings.table)
    for column in FINDING_COLUMNS:
        given = findings.table[column.name]
        if column.kind == "number":
            np.testing.assert_allclose(
                back[column.name].to_numpy(float), given.to_numpy(float), rtol=1e-12
            )
        else:
            same = back[column.name].fillna("") == given.fillna("")
            assert same.all(), column.name
    assert back["tag"].tolist() == findings.table["tag"].tolist()


@pytest.mark.parametrize("suffix", [".parquet", ".xlsx"])
def test_summary_and_rejects_come_back(findings: Findings, tmp_path: Path, suffix: str) -> None:
    path = tmp_path / f"findings{suffix}"
    findings.save(path)
    back = Findings.load(path)
    assert back.summary == findings.summary
    assert len(back.rejects) == len(findings.rejects) == 1
    assert list(back.rejects.columns) == list(findings.rejects.columns)
    assert back.rejects["reason"].tolist() == findings.rejects["reason"].tolist()
    assert str(back.rejects["row"].iloc[0]) == str(findings.rejects["row"].iloc[0])


def test_parquet_keeps_texts_as_they_are(findings: Findings, tmp_path: Path) -> None:
    path = tmp_path / "findings.parquet"
    findings.save(path)
    back = Findings.load(path).table
    pd.testing.assert_frame_equal(back[list(FINDING_NAMES)], findings.table[list(FINDING_NAMES)])
    for name in ("note", "Remark, second"):
        given = findings.table[name].fillna("")
        assert back[name].fillna("").tolist() == given.tolist()


def starts_formula(text: str) -> bool:
    """Say whether a spreadsheet may take a cell for a formula."""
    begins = text.lstrip(" \u00a0\x00").startswith(
        ("=", "+", "-", "@", "\t", "\r", "＝", "＋", "－", "＠")
    )
    return begins and not A_NUMBER.fullmatch(text)


def test_no_cell_of_a_csv_starts_a_formula(findings: Findings, tmp_path: Path) -> None:
    path = tmp_path / "findings.csv"
    findings.save(path)
    raw = pd.read_csv(path, dtype=str, keep_default_na=False)
    for name in raw.columns:
        texts = raw[name]
        numbers = pd.to_numeric(texts, errors="coerce").notna()
        assert not texts[~numbers].map(starts_formula).any(), name
        assert not starts_formula(name)
    notes = raw["note"].tolist()
    assert notes[0].startswith("'=HYPERLINK")


def test_no_cell_of_a_workbook_is_a_formula_or_a_link(findings: Findings, tmp_path: Path) -> None:
    path = tmp_path / "findings.xlsx"
    findings.save(path)
    book = openpyxl.load_workbook(path)
    for sheet in book.worksheets:
        for row in sheet.iter_rows():
            for cell in row:
                assert cell.data_type != "f", (sheet.title, cell.coordinate, cell.value)
                assert cell.hyperlink is None
                if isinstance(cell.value, str):
                    assert not starts_formula(cell.value)


@pytest.mark.parametrize("suffix", [".csv", ".xlsx"])
def test_no_control_or_direction_character_reaches_a_file(
    findings: Findings, tmp_path: Path, suffix: str
) -> None:
    path = tmp_path / f"findings{suffix}"
    findings.save(path)
    back = Findings.load(path).table
    for name in ("note", "Remark, second"):
        for text in back[name].dropna().astype(str):
            assert text == printable(text)


def test_text_of_every_length_is_kept_or_cut_with_a_sign(tmp_path: Path) -> None:
    frame = small_round(2)
    frame["note"] = [LONG, "x" * XLSX_CELL_LIMIT, "x" * (XLSX_CELL_LIMIT + 1), *["short"] * 3]
    findings = analyze(frame)
    for suffix in KINDS:
        findings.save(tmp_path / f"findings{suffix}")
    for suffix in (".parquet", ".csv"):
        back = Findings.load(tmp_path / f"findings{suffix}").table
        assert back["note"].str.len().tolist() == findings.table["note"].str.len().tolist()
        assert back["note"].str.len().iloc[0] >= 200_000
    notes = Findings.load(tmp_path / "findings.xlsx").table["note"]
    assert notes.str.len().tolist()[:3] == [XLSX_CELL_LIMIT] * 3
    assert notes.str.endswith("…").tolist() == [True, False, True, False, False, False]


@pytest.mark.parametrize("suffix", KINDS)
@pytest.mark.parametrize(
    "tags",
    [
        ["007", "1e5", "12", "1.0", "TRUE", "None"],
        ["001", "002", "003", "004", "005", "010"],
        ["1.10", "1.20", "1.30", "1.1", "1.2", "1.3"],
    ],
)
def test_tags_that_look_like_numbers_stay_as_they_are(
    findings: Findings, tmp_path: Path, tags: list[str], suffix: str
) -> None:
    table = findings.table.head(len(tags)).assign(tag=pd.Series(tags, dtype="str"))
    replace(findings, table=table).save(tmp_path / f"findings{suffix}")
    back = Findings.load(tmp_path / f"findings{suffix}").table
    assert back["tag"].tolist() == tags


@pytest.mark.parametrize("suffix", KINDS)
def test_words_for_nothing_stay_words(findings: Findings, tmp_path: Path, suffix: str) -> None:
    words = ["None", "NA", "n/a", "nan", "null", "NULL", "-nan", "#N/A", "<NA>", "none fitted"]
    table = findings.table.head(len(words)).assign(Remark=words)
    replace(findings, table=table).save(tmp_path / f"findings{suffix}")
    back = Findings.load(tmp_path / f"findings{suffix}").table
    assert back["Remark"].tolist() == words


@pytest.mark.parametrize("suffix", KINDS)
def test_saving_again_changes_nothing(findings: Findings, tmp_path: Path, suffix: str) -> None:
    first, second = tmp_path / f"a{suffix}", tmp_path / f"b{suffix}"
    findings.save(first)
    Findings.load(first).save(second)
    one, two = Findings.load(first), Findings.load(second)
    pd.testing.assert_frame_equal(one.table, two.table)
    assert one.summary == two.summary


@pytest.mark.parametrize("name", ["findings.txt", "findings", "findings.parquet.gz"])
def test_another_ending_is_refused(findings: Findings, tmp_path: Path, name: str) -> None:
    with pytest.raises(OutputError, match=r"ends in \.parquet, \.csv or \.xlsx"):
        findings.save(tmp_path / name)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("suffix", KINDS)
@pytest.mark.parametrize("content", [b"", b"nonsense", b"PK\x03\x04 broken", b"a,b\n1,2\n"])
def test_what_is_no_findings_file_is_refused(tmp_path: Path, suffix: str, content: bytes) -> None:
    path = tmp_path / f"findings{suffix}"
    path.write_bytes(content)
    with pytest.raises(UnreadableFile, match="A findings file"):
        Findings.load(path)


@pytest.mark.parametrize("name", ["none.parquet", "none.csv", "none.xlsx", "none.txt", "none"])
def test_a_missing_file_is_refused(tmp_path: Path, name: str) -> None:
    with pytest.raises(UnreadableFile, match="A findings file"):
        Findings.load(tmp_path / name)


def test_a_round_is_no_findings_file(tmp_path: Path) -> None:
    path = tmp_path / "round.parquet"
    small_round(2).drop(columns=["state", "rank", "confidence"]).to_parquet(path)
    with pytest.raises(UnreadableFile, match="no column 'state'"):
        Findings.load(path)


@pytest.mark.parametrize("suffix", KINDS)
def test_a_failing_writer_leaves_the_old_file(
    findings: Findings, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, suffix: str
) -> None:
    path = tmp_path / f"findings{suffix}"
    path.write_bytes(b"the old one")

    def fail(*args: object, **options: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("pyarrow.parquet.write_table", fail)
    monkeypatch.setattr(pd.DataFrame, "to_csv", fail)
    monkeypatch.setattr("xlsxwriter.Workbook.close", fail)
    with pytest.raises(OutputError, match="No space left on device"):
        findings.save(path)
    assert path.read_bytes() == b"the old one"
    assert [p.name for p in tmp_path.iterdir()] == [path.name]


def test_a_writer_that_is_stopped_leaves_nothing(tmp_path: Path) -> None:
    path = tmp_path / "report.html"
    with pytest.raises(KeyboardInterrupt), replacing(path) as temporary:  # noqa: PT012
        temporary.write_text("half")
        raise KeyboardInterrupt
    assert list(tmp_path.iterdir()) == []


def test_a_file_is_replaced_whole(tmp_path: Path) -> None:
    path = tmp_path / "report.html"
    path.write_text("old")
    with path.open() as reader:
        with replacing(path) as temporary:
            temporary.write_text("new")
            assert path.read_text() == "old"
            assert temporary.parent == path.parent
        assert reader.read() == "old"  # who has it open never sees half of each
    assert path.read_text() == "new"
    assert [p.name for p in tmp_path.iterdir()] == ["report.html"]


def test_a_missing_folder_is_told(findings: Findings, tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="choose another folder"):
        findings.save(tmp_path / "nowhere" / "findings.csv")


@pytest.mark.parametrize("text", NASTY)
def test_text_that_would_start_a_formula_is_led_by_an_apostrophe(text: str) -> None:
    safe = spreadsheet_safe(text)
    assert not starts_formula(safe)
    assert printable(text) in safe


@pytest.mark.parametrize("value", ["plain", "a=b", "T-001", 3.5, -4, None, "", "5-6", "é"])
def test_what_starts_no_formula_passes_unchanged(value: object) -> None:
    assert spreadsheet_safe(value) == value


def test_safe_text_comes_back_however_often_it_was_made_safe() -> None:
    for text in NASTY:
        once = spreadsheet_safe(text)
        twice = spreadsheet_safe(once)
        assert not starts_formula(twice)
        assert as_written(twice) == once
        assert as_written(once) == printable(text)


@pytest.mark.parametrize("text", ["-5", "+5", "-5.25", "-.5", "+1e5", "-1E-3", "-007"])
def test_a_number_is_no_formula_typed_as_text_or_not(text: str) -> None:
    assert spreadsheet_safe(text) == text
    assert as_written(text) == text
    assert as_written(f"'{text}") == f"'{text}"


# What begins as formulas, numbers and quoted text do, in every order.
formula_like = st.one_of(
    st.text(alphabet="=+-@'\"\t ＝0159.eE,;ab\u00a0", max_size=8),
    st.text(st.characters(codec="utf-8", exclude_categories=["Cs", "Cc", "Cf"]), max_size=12),
    st.integers(-1000, 1000).map(str),
    st.floats(allow_nan=False, allow_infinity=False).map(str),
)


@given(formula_like)
def test_what_was_written_comes_back(text: str) -> None:
    safe = spreadsheet_safe(text)
    assert not starts_formula(safe)
    assert as_written(safe) == text


@pytest.mark.parametrize("suffix", KINDS)
@settings(max_examples=15, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(texts=st.lists(formula_like, min_size=12, max_size=12), header=formula_like)
def test_findings_come_back_as_they_were_saved(
    findings: Findings, tmp_path: Path, suffix: str, texts: list[str], header: str
) -> None:
    tags = [f"{text}{n}" for n, text in enumerate(texts)]
    table = findings.table.head(12).assign(note=texts, tag=tags)
    header = header.strip() or "Remark"
    table[f"{header}?"] = texts
    replace(findings, table=table).save(tmp_path / f"findings{suffix}")
    back = Findings.load(tmp_path / f"findings{suffix}").table
    assert list(back.columns) == list(table.columns)
    assert back["tag"].tolist() == tags
    for name in ("note", f"{header}?"):
        assert back[name].fillna("").tolist() == texts


def damaged(findings: Findings, kind: str, path: Path) -> Path:
    """Write findings with one thing wrong with them."""
    table, summary = findings.table.copy(), dict(findings.summary)
    if kind == "inf":
        table.loc[0, "annual_cost"] = np.inf
    elif kind == "text":
        table["annual_cost"] = table["annual_cost"].astype(object)
        table.loc[0, "annual_cost"] = "much"
    elif kind == "missing":
        del table["flags"]
    elif kind == "short":
        del summary["annual_cost_low"]
    elif kind == "wrong":
        summary["rows_read"] = "twelve"
    Findings(table.astype({"annual_cost": str}) if kind == "text" else table,
             findings.rejects, summary).save(path)  # fmt: skip
    return path


@pytest.mark.parametrize("suffix", KINDS)
@pytest.mark.parametrize(
    ("kind", "words"),
    [
        ("text", "'much' in the column 'annual_cost', which holds numbers"),
        ("missing", "no column 'flags'"),
        ("inf", "'inf' in the column 'annual_cost'"),
        ("short", "a summary whose 'annual_cost_low' cannot be used"),
        ("wrong", "a summary whose 'rows_read' cannot be used"),
    ],
)
def test_damaged_findings_say_what_is_wrong(
    findings: Findings, tmp_path: Path, suffix: str, kind: str, words: str
) -> None:
    if (kind in ("short", "wrong") and suffix == ".csv") or (kind, suffix) == ("inf", ".xlsx"):
        pytest.skip("a CSV holds no summary, and a workbook leaves what is not finite blank")
    path = damaged(findings, kind, tmp_path / f"findings{suffix}")
    with pytest.raises(UnreadableFile, match=re.escape(words)) as raised:
        Findings.load(path)
    assert str(path) in str(raised.value)


@pytest.mark.parametrize("content", [b"[]", b"3", b"null", b'"text"'])
def test_a_summary_that_is_no_table_is_refused(
    findings: Findings, tmp_path: Path, content: bytes
) -> None:
    path = tmp_path / "findings.parquet"
    findings.save(path)
    arrow = pq.read_table(path)
    pq.write_table(
        arrow.replace_schema_metadata(arrow.schema.metadata | {b"survey.summary": content}), path
    )
    with pytest.raises(UnreadableFile, match="a summary"):
        Findings.load(path)


@pytest.mark.parametrize("suffix", KINDS)
def test_a_folder_is_refused(findings: Findings, tmp_path: Path, suffix: str) -> None:
    folder = tmp_path / f"findings{suffix}"
    folder.mkdir()
    findings.save(folder / "part.parquet")
    with pytest.raises(UnreadableFile, match="a folder"):
        Findings.load(folder)


def test_headers_are_made_safe_too(tmp_path: Path) -> None:
    table = pd.DataFrame({"=1+1": ["a"], "\u202eevil": ["b"], "a": [np.inf]})
    write_csv(table, tmp_path / "t.csv")
    assert (tmp_path / "t.csv").read_text(encoding="utf-8").startswith("'=1+1,evil,a\n")
    write_xlsx({"sheet": table}, tmp_path / "t.xlsx")
    sheet = openpyxl.load_workbook(tmp_path / "t.xlsx")["sheet"]
    assert [cell.value for cell in sheet[1]] == ["'=1+1", "evil", "a"]
    assert sheet["C2"].value is None


def test_two_columns_of_one_name_are_both_written(tmp_path: Path) -> None:
    table = pd.DataFrame([["a", "b"]], columns=["x", "x"])
    write_csv(table, tmp_path / "t.csv")
    assert (tmp_path / "t.csv").read_text(encoding="utf-8") == "x,x\na,b\n"
    write_xlsx({"s": table}, tmp_path / "t.xlsx")
    sheet = openpyxl.load_workbook(tmp_path / "t.xlsx")["s"]
    assert [[cell.value for cell in row] for row in sheet.iter_rows()] == [["x", "x"], ["a", "b"]]
