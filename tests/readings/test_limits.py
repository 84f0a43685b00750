"""The limits that README states, and what is said where a text cannot be taken apart."""

from __future__ import annotations

import csv

import pytest

from survey.errors import UnreadableFile
from survey.readings import delimited, limits, read_round


def test_the_limits_are_those_that_are_stated():
    """README: 1.5 GB, 60 MB as .xlsx; the others stand in the messages and in `limits` itself."""
    stated = {name: value for name, value in vars(limits).items() if name.isupper()}
    assert stated == {
        "MEGABYTE": 1_000_000, "MAX_FILE_BYTES": 1_500_000_000, "MAX_WORKBOOK_BYTES": 60_000_000,
        "MAX_WORKBOOK_UNPACKED_BYTES": 300_000_000, "MAX_COLUMNS": 1_000, "MAX_ROWS": 20_000_000,
        "MAX_SET_ASIDE": 1_500_000, "MAX_UNPACKED_BYTES": 1_000_000_000, "MAX_UNPACKED_RATIO": 12,
        "MAX_SHEET_CELLS": 6_000_000, "MAX_SHEETS": 100, "MAX_ZIP_ENTRIES": 5_000,
        "MAX_CELL_CHARACTERS": 1_000_000, "MAX_NAME_CHARACTERS": 200, "MAX_VALUE_SHOWN": 200,
        "MAX_HEADER_CHARACTERS": 200, "SAMPLE_ROWS": 200, "SAMPLE_BYTES": 1_000_000,
        "HEADER_SEARCH_ROWS": 60,
    }


def test_bytes_that_mean_nothing_in_utf_16_are_marked_and_cost_no_row(tmp_path):
    path = tmp_path / "round.csv"
    text = "tag,inlet_temp_f,note\nT-1,200,ab"
    path.write_bytes(text.encode("utf-16") + b"\x00\xd8" + "cd\nT-2,210,x\n".encode("utf-16-le"))
    read = read_round(path)
    assert list(read.table["tag"]) == ["T-1", "T-2"]
    assert "\ufffd" in read.table["note"].iloc[0]


def test_text_that_cannot_be_taken_apart_is_refused_in_words(tmp_path, monkeypatch):
    path = tmp_path / "round.csv"
    path.write_text("tag,inlet_temp_f\nT-1,200\n", encoding="utf-8")

    def fails(*_, **__):
        raise csv.Error("too hard")

    monkeypatch.setattr(delimited, "_read_rows", fails)
    with pytest.raises(UnreadableFile, match="text whose cells cannot be told apart"):
        read_round(path)
