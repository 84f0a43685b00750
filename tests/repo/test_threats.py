"""DEVELOPERS.md: every threat names tests, and every one named is there."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
TABLE = (
    (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    .split("<!-- threats: a test reads this table -->")[1].split("<!-- end of threats -->")[0]
)
ROWS = [line for line in TABLE.strip().splitlines()[2:] if line.startswith("|")]


@pytest.mark.parametrize("row", ROWS, ids=[row.split("|")[1].strip()[:50] for row in ROWS])
def test_every_threat_names_a_test_that_is_there(row: str) -> None:
    who, stands_in_the_way, tests = (cell.strip() for cell in row.strip("|").split("|"))
    assert len(who) > 20
    assert len(stands_in_the_way) > 20
    named = re.findall(r"`(\S+\.py)::(\w+)`", tests)
    assert named
    for file, function in named:
        tree = ast.parse((ROOT / "tests" / file).read_text(encoding="utf-8"))
        assert function in {n.name for n in ast.walk(tree) if isinstance(n, ast.FunctionDef)}


def test_the_threats_were_read() -> None:
    assert len(ROWS) >= 15
