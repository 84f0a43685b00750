"""A column that says what each device is and is not understood is never passed over in silence."""

from __future__ import annotations

from pathlib import Path

import pytest

from survey.readings import read_round

LINES = "T-1,trap,300,220\nT-2,trap,300,221\nV-1,vent,290,150\nC-1,check valve,180,170\n"


def read(tmp_path: Path, header: str) -> tuple[list[str], tuple[str, ...]]:
    path = tmp_path / "round.csv"
    path.write_text(f"Tag,{header},Inlet Temp (F),Outlet Temp (F)\n{LINES}")
    made = read_round(path)
    return made.table["device"].astype(str).tolist(), made.notes


def test_a_plain_what_is_understood(tmp_path: Path) -> None:
    devices, notes = read(tmp_path, "What")
    assert devices == ["trap", "trap", "air_vent", "check_valve"]
    assert not any("steam trap" in note for note in notes)


@pytest.mark.parametrize("header", ["Gizmo", "Sort"])
def test_another_header_is_named_with_what_to_do(tmp_path: Path, header: str) -> None:
    devices, notes = read(tmp_path, header)
    assert set(devices) == {"trap"}
    assert [note for note in notes if header in note and "header map" in note]


def test_a_remark_is_not_taken_for_one(tmp_path: Path) -> None:
    path = tmp_path / "round.csv"
    path.write_text("Tag,Remark on it,Inlet (F)\nT-1,trap,300\nT-2,leaks at the flange,300\n")
    assert not any("seems to say" in note for note in read_round(path).notes)
