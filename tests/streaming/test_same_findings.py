"""A round judged in batches has the findings of the round judged whole.

Floats may differ in their last digit: numpy works on several numbers at once, and which ones
share a register depends on where a batch begins. On any number of cores they are the same.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from survey.findings import Findings
from survey.pipeline import analyze
from survey.site import Site
from survey.streaming.analyzing import SHOWN, analyze_to_file

SAMPLE = Path(__file__).parents[2] / "sample_data" / "nursery_round.parquet"
SITE = Site(altitude_ft=600.0)
BATCH = 150


@pytest.fixture(scope="module")
def plain() -> pd.DataFrame:
    """Return four nurseries of different instruments, one after another."""
    sample = pd.read_parquet(SAMPLE)
    rng = np.random.default_rng(5)
    parts = []
    for plant in range(4):
        part = sample.copy()
        for name in ("tag", "equipment", "station"):
            part[name] = part[name].astype("str") + f"-{plant}"
        part["sound_db"] += rng.normal(0.0, 2.0, len(part))
        part["inlet_temp_f"] += rng.normal(-2.0 * plant, 2.0, len(part))
        parts.append(part)
    return pd.concat(parts, ignore_index=True)


def messy(plain: pd.DataFrame) -> pd.DataFrame:
    """Return the round with tags given twice, faults, gaps, and a heater far from its vent."""
    frame = plain.copy()
    frame.loc[700, "tag"] = frame.loc[3, "tag"]
    frame.loc[3, "inlet_temp_f"] = 9e9  # the first of a tag is at fault, so the second stays
    frame.loc[900, "tag"] = frame.loc[120, "tag"]
    frame.loc[901, "tag"] = frame.loc[120, "tag"]
    frame.loc[20, "tag"] = None
    frame.loc[30:34, "equipment"] = None
    frame.loc[40:44, "area"] = None
    frame.loc[50:60, "supply_psig"] = np.nan
    frame.loc[610, "equipment"] = frame.loc[100, "equipment"]
    frame.loc[610, "area"] = frame.loc[100, "area"]
    frame["painted"] = "green, \u00fcber"
    return frame


def both(frame: pd.DataFrame, folder: Path, *, workers: int) -> tuple[Findings, Findings, Findings]:
    """Judge a round both ways; return it whole, in batches, and what the batches gave back."""
    given, out = folder / "round.parquet", folder / f"batches-{workers}.parquet"
    frame.to_parquet(given)
    told = analyze_to_file([str(given)], out, site=SITE, workers=workers, batch_rows=BATCH)
    assert told is not None
    whole = folder / "whole.parquet"
    analyze(given, site=SITE).save(whole)
    return Findings.load(whole), Findings.load(out), told


@pytest.mark.parametrize("kind", ["plain", "messy", "shuffled"])
def test_batches_change_nothing(plain: pd.DataFrame, tmp_path: Path, kind: str) -> None:
    frame = plain if kind == "plain" else messy(plain)
    if kind == "shuffled":
        frame = frame.sample(frac=1.0, random_state=1, ignore_index=True)
    whole, batches, _ = both(frame, tmp_path, workers=2)
    pd.testing.assert_frame_equal(whole.table, batches.table, rtol=1e-12, atol=1e-12)
    pd.testing.assert_frame_equal(whole.rejects, batches.rejects)
    of_the_run = {"seconds", "made_at"}
    for name in whole.summary.keys() - of_the_run:
        assert batches.summary[name] == (
            pytest.approx(whole.summary[name], rel=1e-12)
            if isinstance(whole.summary[name], float)
            else whole.summary[name]
        ), name


def test_one_core_and_several_give_the_same_bytes(plain: pd.DataFrame, tmp_path: Path) -> None:
    _, one, _ = both(messy(plain), tmp_path, workers=1)
    _, several, _ = both(messy(plain), tmp_path, workers=3)
    pd.testing.assert_frame_equal(one.table, several.table, check_exact=True)


def test_no_row_is_lost(plain: pd.DataFrame, tmp_path: Path) -> None:
    frame = messy(plain)
    _, batches, told = both(frame, tmp_path, workers=2)
    assert len(batches.table) + len(batches.rejects) == len(frame)
    assert told.summary["rows_read"] == len(frame)
    assert told.summary["rows_set_aside"] == len(batches.rejects) == 4


def test_the_dearest_rows_are_given_back(plain: pd.DataFrame, tmp_path: Path) -> None:
    _, batches, told = both(plain, tmp_path, workers=2)
    dearest = batches.table[batches.table["rank"] <= SHOWN].reset_index(drop=True)
    assert len(dearest) == SHOWN
    pd.testing.assert_frame_equal(told.table, dearest)


@pytest.mark.parametrize("fault", ["words", "short", "nothing usable"])
def test_what_needs_a_whole_look_is_left_alone(
    plain: pd.DataFrame, tmp_path: Path, fault: str
) -> None:
    frame = plain.copy()
    if fault == "words":
        frame["trap_type"] = frame["trap_type"].astype(object)
        frame.loc[1000, "trap_type"] = "whatsit"
    if fault == "short":
        frame = frame.head(BATCH - 1)
    if fault == "nothing usable":
        frame["tag"] = None
    given, out = tmp_path / "round.parquet", tmp_path / "out.parquet"
    frame.to_parquet(given)
    assert analyze_to_file([str(given)], out, site=SITE, batch_rows=BATCH) is None
    assert sorted(path.name for path in tmp_path.iterdir()) == ["round.parquet"]
