"""The sample files are what their script makes, and their README tells what is planted."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pandas as pd
import pytest

ROOT = Path(__file__).resolve().parents[2]
SAMPLE = ROOT / "sample_data"
MADE = sorted(path.name for path in SAMPLE.glob("nursery_*.*"))


@pytest.fixture(scope="module")
def fresh(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with the sample files as the script makes them now."""
    folder = tmp_path_factory.mktemp("sample")
    subprocess.run(
        [sys.executable, str(SAMPLE / "make.py"), str(folder)], check=True,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
    )
    return folder


def test_every_file_is_made_by_the_script(fresh: Path) -> None:
    assert sorted(path.name for path in fresh.iterdir()) == MADE


@pytest.mark.parametrize("name", [name for name in MADE if not name.endswith(".parquet")])
def test_a_file_is_what_the_script_makes(fresh: Path, name: str) -> None:
    assert (fresh / name).read_bytes() == (SAMPLE / name).read_bytes()


@pytest.mark.parametrize("name", [name for name in MADE if name.endswith(".parquet")])
def test_a_parquet_file_holds_what_the_script_makes(fresh: Path, name: str) -> None:
    # Its bytes differ from one version of pyarrow to the next; what it holds does not.
    pd.testing.assert_frame_equal(pd.read_parquet(fresh / name), pd.read_parquet(SAMPLE / name))


@pytest.mark.parametrize("name", ["nursery_round", "nursery_after_repair"])
def test_csv_and_parquet_hold_the_same(name: str) -> None:
    from_csv = pd.read_csv(SAMPLE / f"{name}.csv")
    from_parquet = pd.read_parquet(SAMPLE / f"{name}.parquet")
    pd.testing.assert_frame_equal(from_csv, from_parquet, check_dtype=False)


def _planted() -> pd.DataFrame:
    truth = pd.read_csv(SAMPLE / "nursery_truth.csv").set_index("tag")
    return truth[truth["state"] != "working"]


def test_readme_lists_every_planted_fault_and_no_other() -> None:
    text = (SAMPLE / "README.md").read_text(encoding="utf-8")
    table = text.split("## The planted faults")[1].split("Everything else works")[0]
    assert set(re.findall(r"\b[TVBC]-\d{3}\b", table)) == set(_planted().index)


def test_readme_lists_what_was_not_mended() -> None:
    text = (SAMPLE / "README.md").read_text(encoding="utf-8")
    section = text.split("## After the repair")[1].split("\n## ")[0]
    truth = pd.read_csv(SAMPLE / "nursery_truth.csv").set_index("tag")
    still = truth.index[truth["state_after_repair"] != "working"]
    assert set(re.findall(r"\b[TVBC]-\d{3}\b", section)) == set(still)


def test_both_rounds_have_the_same_devices() -> None:
    before, after = (
        pd.read_csv(SAMPLE / f"{name}.csv") for name in ("nursery_round", "nursery_after_repair")
    )
    names = ["tag", "device", "equipment", "area", "station", "trap_type"]
    pd.testing.assert_frame_equal(before[names], after[names])
    assert before["tag"].is_unique
    assert (before["device"] == "trap").sum() == 150
    assert len(before) == 318
