"""Every row of ``tests/published`` against the function that claims to agree with it.

A row whose quantity has no check fails, and so does a check that no row uses.
"""

from __future__ import annotations

import csv
import math
from pathlib import Path

import pytest

from .published_checks import CHECKS

PUBLISHED = Path(__file__).parents[1] / "published"
COLUMNS = [
    "id", "quantity", "inputs", "expected", "unit", "tolerance", "tolerance_is", "source",
    "standing",
]  # fmt: skip


def published_rows() -> list[dict[str, str]]:
    """All rows of all files, each with the name of its file."""
    rows = []
    for path in sorted(PUBLISHED.glob("*.csv")):
        with path.open(encoding="utf-8", newline="") as handle:
            rows += [{**row, "file": path.name} for row in csv.DictReader(handle)]
    return rows


ROWS = published_rows()


def inputs_of(row: dict[str, str]) -> dict[str, str]:
    pairs = (pair.split("=", 1) for pair in row["inputs"].split(";"))
    return {name.strip(): value.strip() for name, value in pairs}


def allowed_error(row: dict[str, str]) -> float:
    tolerance = float(row["tolerance"])
    if row["tolerance_is"] == "relative":
        return tolerance * abs(float(row["expected"]))
    return tolerance


@pytest.mark.parametrize("row", ROWS, ids=[row["id"] for row in ROWS])
def test_published_figure_is_reproduced(row: dict[str, str]) -> None:
    assert row["quantity"] in CHECKS, f"{row['file']}: no check for {row['quantity']!r}"
    found = CHECKS[row["quantity"]](**inputs_of(row))
    expected = float(row["expected"])
    if math.isnan(expected):
        assert math.isnan(found)
    else:
        # The last term only forgives the binary spelling of a decimal.
        assert abs(found - expected) <= allowed_error(row) + 1e-12 * abs(expected), row["source"]


def test_rows_are_complete_and_named_once() -> None:
    ids = [row["id"] for row in ROWS]
    assert len(ids) == len(set(ids))
    for row in ROWS:
        assert [name for name in row if name != "file"] == COLUMNS, row["file"]
        assert all(row[name] for name in COLUMNS), row["id"]
        assert row["tolerance_is"] in ("absolute", "relative"), row["id"]


def test_every_check_has_a_row() -> None:
    assert set(CHECKS) == {row["quantity"] for row in ROWS}


def test_a_tolerance_is_far_under_what_it_judges() -> None:
    for row in ROWS:
        expected = float(row["expected"])
        if not math.isnan(expected):
            assert allowed_error(row) <= 0.06 * abs(expected), row["id"]
