"""A round judged in batches has the findings of the round judged whole.

Floats may differ in their last digit: numpy works on several numbers at once, and which ones
share a register depends on where a batch begins. On any number of cores they are the same.
"""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

from survey.columns import INPUT_NAMES
from survey.findings import Findings
from survey.pipeline import analyze
from survey.readings.gather import Part
from survey.readings.model import RawTable
from survey.streaming import here
from survey.streaming.analyzing import analyze_to_file
from survey.streaming.findings_file import SHOWN
from survey.streaming.source import Source
from tests.streaming.rounds import BATCH, SITE, messy, misspelt, plain_round, same


@pytest.fixture(scope="module")
def plain() -> pd.DataFrame:
    return plain_round()


def both(frame: pd.DataFrame, folder: Path, *, workers: int) -> tuple[Findings, Findings, Findings]:
    """Judge a round both ways; return it whole, in batches, and what the batches gave back."""
    given, out = folder / "round.parquet", folder / f"batches-{workers}.parquet"
    frame.to_parquet(given)
    told = analyze_to_file([str(given)], out, site=SITE, workers=workers, batch_rows=BATCH)
    assert told is not None
    whole = folder / "whole.parquet"
    analyze(given, site=SITE).save(whole)
    return Findings.load(whole), Findings.load(out), told


@pytest.mark.parametrize("kind", [
    pytest.param("plain", marks=pytest.mark.thorough), "messy", "misspelt",
    pytest.param("shuffled", marks=pytest.mark.thorough),
])  # fmt: skip
def test_batches_change_nothing(plain: pd.DataFrame, tmp_path: Path, kind: str) -> None:
    frame = plain if kind == "plain" else messy(plain)
    if kind == "misspelt":
        frame = misspelt(frame)
    if kind == "shuffled":
        frame = frame.sample(frac=1.0, random_state=1, ignore_index=True)
    whole, batches, _ = both(frame, tmp_path, workers=2)
    same(whole, batches)
    if kind == "misspelt":
        assert len([note for note in whole.summary["notes"] if "taken as one" in note]) == 2
        assert {"input_station", "input_area", "input_sound_pattern", "input_trap_type"} <= set(
            batches.table.columns
        )
        assert set(batches.table["station"].dropna()) == {
            "North-0", "South-0", "North-1", "South-1", "SOUTH-2", "North-2", "North-3", "South-3",
            "Nroth-0",
        }  # fmt: skip


@pytest.mark.parametrize(("bytes_a_row", "also_given"), [
    (0, False), (150, False), (150, True), (1_000, False),
])  # fmt: skip
def test_rows_kept_from_pass_one_change_nothing(
    plain: pd.DataFrame, tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
    bytes_a_row: int, also_given: bool,
) -> None:  # fmt: skip
    frame = messy(plain)
    if not also_given:
        frame = frame[[name for name in frame.columns if name in INPUT_NAMES]]
    monkeypatch.setattr(here, "MOST_BYTES", bytes_a_row * len(frame))
    tidied = 0

    def counted(self: Source, table: RawTable) -> Part:
        nonlocal tidied
        tidied += len(table.cells)
        return part_of_source(self, table)

    part_of_source = Source.part
    monkeypatch.setattr(Source, "part", counted)
    whole, batches, _ = both(frame, tmp_path, workers=2)
    same(whole, batches)
    again = tidied / len(frame) - 1  # besides those near a tag given twice
    least, most = {0: (1.0, 1.2), 150: (0.4, 0.7), 1_000: (0.0, 0.2)}[bytes_a_row]
    assert least <= again <= most


def test_one_core_and_several_give_the_same_bytes(plain: pd.DataFrame, tmp_path: Path) -> None:
    _, one, _ = both(messy(plain), tmp_path, workers=1)
    _, several, _ = both(messy(plain), tmp_path, workers=3)
    pd.testing.assert_frame_equal(one.table, several.table, check_exact=True)


@pytest.mark.thorough
def test_no_row_is_lost(plain: pd.DataFrame, tmp_path: Path) -> None:
    frame = messy(plain)
    _, batches, told = both(frame, tmp_path, workers=2)
    assert len(batches.table) + len(batches.rejects) == len(frame)
    assert told.summary["rows_read"] == len(frame)
    assert told.summary["rows_set_aside"] == len(batches.rejects) == 4


@pytest.mark.thorough
def test_the_dearest_rows_are_given_back(plain: pd.DataFrame, tmp_path: Path) -> None:
    _, batches, told = both(plain, tmp_path, workers=2)
    dearest = batches.table[batches.table["rank"] <= SHOWN].reset_index(drop=True)
    assert len(dearest) == SHOWN
    pd.testing.assert_frame_equal(told.table, dearest)


@pytest.mark.parametrize("fault", ["dates", "short", "nothing usable"])
def test_what_needs_a_whole_look_is_left_alone(
    plain: pd.DataFrame, tmp_path: Path, fault: str
) -> None:
    frame = plain.copy()
    if fault == "dates":
        frame["read_at"] = frame["read_at"].astype(object)
        frame.loc[1000, "read_at"] = "03/04/2026 10:00"
    if fault == "short":
        frame = frame.head(BATCH - 1)
    if fault == "nothing usable":
        frame["tag"] = None
    given, out = tmp_path / "round.parquet", tmp_path / "out.parquet"
    frame.to_parquet(given)
    assert analyze_to_file([str(given)], out, site=SITE, batch_rows=BATCH) is None
    assert sorted(path.name for path in tmp_path.iterdir()) == ["round.parquet"]
