"""'nan' passes click's bounds; no plan is made from it."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from survey.cli import main

SAMPLE = Path(__file__).resolve().parents[2] / "sample_data" / "nursery_round.csv"


@pytest.mark.parametrize("option", ["--to", "--spare", "--wait"])
def test_nan_is_refused(option: str) -> None:
    arguments = ["pressure", str(SAMPLE), "--to", "20"]
    done = CliRunner().invoke(main, [*arguments, option, "nan"])
    assert done.exit_code == 2
    assert "'nan' is not a number" in done.output
