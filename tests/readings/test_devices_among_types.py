"""A sheet with one column for 'type' lists vents and check valves among the traps' types."""

from __future__ import annotations

import pandas as pd
import pytest

from survey.readings import Round, round_from_frame

DEVICES = {
    "F&T": "trap", "IB": "trap", "thermostatic": "trap", "air vent": "air_vent",
    "vacuum breaker": "vacuum_breaker", "check valve": "check_valve",
}  # fmt: skip
TYPES = {"F&T": "float_thermostatic", "IB": "inverted_bucket", "thermostatic": "thermostatic"}


def read(words: list[str], **columns: str) -> Round:
    tags = [f"X-{number}" for number in range(len(words))]
    frame = pd.DataFrame({"tag": tags, "Type": words, "inlet_temp_f": 240.0}).assign(**columns)
    return round_from_frame(frame)


@pytest.mark.parametrize(
    "words",
    [
        ["F&T", "IB", "thermostatic", "F&T", "air vent", "vacuum breaker", "check valve"],
        ["F&T", "air vent", "air vent", "vacuum breaker", "check valve", "check valve"],
    ],
    ids=["mostly types", "mostly devices"],
)
def test_each_word_is_taken_for_what_it_is(words: list[str]) -> None:
    found = read(words)
    assert len(found.rejects) == 0
    assert list(found.table["device"]) == [DEVICES[word] for word in words]
    types = found.table["trap_type"].astype("object").where(found.table["trap_type"].notna(), None)
    assert list(types) == [TYPES.get(word) for word in words]
    assert not any("does not know" in note for note in found.notes)


def test_a_word_that_is_neither_is_still_said() -> None:
    found = read(["F&T", "IB", "air vent", "some make and model"])
    assert list(found.table["device"]) == ["trap", "trap", "air_vent", "trap"]
    assert any("some make and model" in note for note in found.notes)


def test_a_column_of_devices_stands_against_words_among_the_types() -> None:
    assert set(read(["F&T", "IB", "air vent"], device="trap").table["device"]) == {"trap"}


def test_types_in_a_column_named_device_are_taken_for_traps_of_that_type() -> None:
    words = list(DEVICES)
    frame = pd.DataFrame({"tag": words, "device": words, "inlet_temp_f": 240.0})
    found = round_from_frame(frame)
    assert len(found.rejects) == 0
    assert list(found.table["device"]) == list(DEVICES.values())
    assert found.table["trap_type"].dropna().tolist() == list(TYPES.values())


def test_a_column_of_types_beside_it_is_the_word_on_types() -> None:
    frame = pd.DataFrame({"tag": ["A", "B"], "device": ["trap", "F&T"], "inlet_temp_f": 240.0,
                          "trap_type": ["IB", "IB"]})
    found = round_from_frame(frame)
    assert found.table["trap_type"].tolist() == ["inverted_bucket"]
    assert found.rejects["value"].tolist() == ["F&T"]


def test_in_a_column_named_device_a_word_that_is_neither_sets_its_row_aside() -> None:
    frame = pd.DataFrame({"tag": ["A", "B"], "device": ["F&T", "pump"], "inlet_temp_f": 240.0})
    found = round_from_frame(frame)
    assert found.table["tag"].tolist() == ["A"]
    assert found.rejects["reason"].tolist() == [
        "expected trap, air_vent, vacuum_breaker or check_valve"
    ]
