"""Ditto marks: 'the same as above', as people write it in a sheet."""

from __future__ import annotations

from pathlib import Path

import pyarrow as pa
import pytest
from hypothesis import given
from hypothesis import strategies as st

from survey.readings import read_round, understand
from survey.readings.dittos import fill_dittos, may_hold_dittos
from tests.readings.build import write_sheets

HEAD = ["Area", "Serves", "Tag", "Type", "Seat", "Temp in °F", "Remarks"]
ROWS = [
    ["North", "UH-1", "T-1", "thermostatic", "1/8", 212, "dirty"],
    ['"', '"', "T-2", "ditto", '"', 213, '"'],
    ["″", "UH-2", "T-3", "〃", '-"-', 214, ""],
    ["", "''", "T-4", "bucket", "3/16", 215, ""],
    [' " ', '"', "T-5", '"', '"', '"', "DITTO"],
]


def test_a_ditto_mark_says_what_stands_above_it(tmp_path: Path) -> None:
    read = read_round(write_sheets(tmp_path / "r.xlsx", {"A": [HEAD, *ROWS]}))
    table = read.table
    assert len(read.rejects) == 0
    assert table["area"].fillna("").tolist() == ["North", "North", "North", "", "North"]
    assert table["equipment"].tolist() == ["UH-1", "UH-1", "UH-2", "UH-2", "UH-2"]
    assert table["trap_type"].tolist() == [*["thermostatic"] * 3, *["inverted_bucket"] * 2]
    assert table["orifice_in"].tolist() == [0.125, 0.125, 0.125, 0.1875, 0.1875]
    assert table["inlet_temp_f"].tolist() == [212, 213, 214, 215, 215]
    assert table["note"].fillna("").tolist() == ["dirty", "dirty", "", "", "dirty"]
    said = [note for note in read.notes if "ditto" in note]
    assert len(said) == 1
    assert "'Area' (3)" in said[0]
    assert "'Temp in °F' (1)" in said[0]


@pytest.mark.parametrize("mark", ['""""', '"-""-"', '-"-', "ditto", '" Ditto "', "〃"])
def test_a_csv_says_so_too_judged_in_batches_or_whole(tmp_path: Path, mark: str) -> None:
    path = tmp_path / "r.csv"
    path.write_text(f"tag,area,inlet_temp_f\nT-1,North,212\nT-2,{mark},213\nT-3,South,214\n")
    read = read_round(path)
    assert read.table["area"].tolist() == ["North", "North", "South"]
    assert any("ditto marks were taken for what stands above" in note for note in read.notes)
    assert any("ditto marks were taken" in note for note in understand(path).notes)
    assert may_hold_dittos(path.read_bytes())


def test_with_nothing_above_it_a_mark_stays() -> None:
    cells, said = fill_dittos(pa.table({"area": ['"', "", "North", '"']}))
    assert cells.column("area").to_pylist() == ['"', "", "North", "North"]
    assert said is not None
    assert "(1)" in said


WORDS = st.sampled_from(["North", "3/8″", 'the "old" one', "it's", "", "dittography", "''x", '",'])


@given(st.lists(st.lists(WORDS, min_size=2, max_size=2), min_size=1, max_size=9))
def test_what_is_no_mark_is_left_alone(rows: list[list[str]]) -> None:
    columns = list(zip(*rows, strict=True))
    cells = pa.table({"a": list(columns[0]), "b": list(columns[1])})
    filled, said = fill_dittos(cells)
    assert said is None
    assert filled.equals(cells)
    lines = "\n".join(",".join('"' + w.replace('"', '""') + '"' for w in row) for row in rows)
    assert not may_hold_dittos(lines.encode())
