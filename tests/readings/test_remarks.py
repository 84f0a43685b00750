"""Remarks are kept, not read: what one tells of a valve is said to count for nothing yet."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.readings.build import read_text

HEAD = "tag,device,inlet_temp_f,valve_position,present,Remarks\n"


@pytest.mark.parametrize(
    "remark", ["vent valve found SHUT", "Isolated by stores", "none fitted", "closed?"]
)
def test_a_remark_of_a_shut_valve_is_asked_about(tmp_path: Path, remark: str) -> None:
    read = read_text(tmp_path, f"{HEAD}V-1,air vent,200,,,fine\nV-2,air vent,90,,,{remark}\n")
    said = [note for note in read.notes if "remarks" in note]
    assert len(said) == 1
    assert remark in said[0]
    assert "(row 3)" in said[0]
    assert "valve_position" in said[0]


@pytest.mark.parametrize("cells", ["closed,,found shut", ",no,none fitted", ",,trap stuck shut",
                                   ",,new shutters", ",,"])  # fmt: skip
def test_what_a_column_tells_or_no_valve_is_in_is_not(tmp_path: Path, cells: str) -> None:
    read = read_text(tmp_path, f"{HEAD}V-1,air vent,200,{cells}\n")
    assert not [note for note in read.notes if "remarks" in note]
