"""A round judged in batches has the findings of the round judged whole.

Floats may differ in their last digit: numpy works on several numbers at once, and which ones
share a register depends on where a batch begins. On any number of cores they are the same.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import pandas as pd
import pyarrow as pa
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


Both = tuple[Findings, Findings, Findings]


def in_batches(frame: pd.DataFrame, folder: Path, *, workers: int) -> tuple[Findings, Findings]:
    """Judge a round in batches; return the findings of its file, and what was given back."""
    given, out = folder / "round.parquet", folder / "batches.parquet"
    frame.to_parquet(given)
    told = analyze_to_file([str(given)], out, site=SITE, workers=workers, batch_rows=BATCH)
    assert told is not None
    return Findings.load(out), told


def as_a_whole(frame: pd.DataFrame, folder: Path) -> Findings:
    given, out = folder / "round.parquet", folder / "whole.parquet"
    frame.to_parquet(given)
    analyze(given, site=SITE).save(out)
    return Findings.load(out)


@pytest.fixture(scope="module")
def rounds(plain: pd.DataFrame) -> dict[str, pd.DataFrame]:
    """Return rounds by their kind."""
    kinds = {"plain": plain, "messy": messy(plain)}
    kinds["misspelt"] = misspelt(kinds["messy"])
    kinds["shuffled"] = kinds["messy"].sample(frac=1.0, random_state=1, ignore_index=True)
    kinds["messy, columns of ours"] = kinds["messy"][
        [name for name in kinds["messy"].columns if name in INPUT_NAMES]
    ]
    return kinds


@pytest.fixture(scope="module")
def whole_of(
    rounds: dict[str, pd.DataFrame], tmp_path_factory: pytest.TempPathFactory
) -> Callable[[str], Findings]:
    """Judge a kind of round as a whole, once for all tests: none of them may change what it has."""
    return cache(lambda kind: as_a_whole(rounds[kind], tmp_path_factory.mktemp("whole")))


@pytest.fixture(scope="module")
def both(
    rounds: dict[str, pd.DataFrame], whole_of: Callable[[str], Findings],
    tmp_path_factory: pytest.TempPathFactory,
) -> Callable[[str], Both]:  # fmt: skip
    """Judge a kind of round both ways, once: whole, in batches, and what the batches gave back."""

    def judged(kind: str) -> Both:
        return whole_of(kind), *in_batches(
            rounds[kind], tmp_path_factory.mktemp("batches"), workers=2
        )

    return cache(judged)


@pytest.mark.parametrize("kind", [
    pytest.param("plain", marks=pytest.mark.thorough), "messy", "misspelt",
    pytest.param("shuffled", marks=pytest.mark.thorough),
])  # fmt: skip
def test_batches_change_nothing(both: Callable[[str], Both], kind: str) -> None:
    whole, batches, _ = both(kind)
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
    rounds: dict[str, pd.DataFrame], whole_of: Callable[[str], Findings], tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch, bytes_a_row: int, also_given: bool,
) -> None:  # fmt: skip
    kind = "messy" if also_given else "messy, columns of ours"
    frame, whole = rounds[kind], whole_of(kind)
    monkeypatch.setattr(here, "MOST_BYTES", bytes_a_row * len(frame))
    tidied = 0

    def counted(self: Source, table: RawTable) -> Part:
        nonlocal tidied
        tidied += len(table.cells)
        return part_of_source(self, table)

    part_of_source = Source.part
    monkeypatch.setattr(Source, "part", counted)
    batches, _ = in_batches(frame, tmp_path, workers=2)
    same(whole, batches)
    again = tidied / len(frame) - 1  # besides those near a tag given twice
    least, most = {0: (1.0, 1.2), 150: (1.0, 1.2), 1_000: (0.0, 0.2)}[bytes_a_row]
    assert least <= again <= most


def test_one_core_and_several_give_the_same_bytes(
    rounds: dict[str, pd.DataFrame], tmp_path: Path
) -> None:
    one, _ = in_batches(rounds["messy"], tmp_path, workers=1)
    several, _ = in_batches(rounds["messy"], tmp_path, workers=3)
    pd.testing.assert_frame_equal(one.table, several.table, check_exact=True)


@pytest.mark.thorough
def test_no_row_is_lost(both: Callable[[str], Both], rounds: dict[str, pd.DataFrame]) -> None:
    _, batches, told = both("messy")
    assert len(batches.table) + len(batches.rejects) == len(rounds["messy"])
    assert told.summary["rows_read"] == len(rounds["messy"])
    assert told.summary["rows_set_aside"] == len(batches.rejects) == 4


@pytest.mark.thorough
def test_the_dearest_rows_are_given_back(both: Callable[[str], Both]) -> None:
    _, batches, told = both("plain")
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


def test_arrows_memory_is_given_back_to_who_had_it(
    rounds: dict[str, pd.DataFrame], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("ARROW_DEFAULT_MEMORY_POOL", raising=False)
    before = pa.default_memory_pool().backend_name
    used: set[str] = set()
    judge = here.judge_batch

    def listening(*given: Any) -> Any:
        used.add(pa.default_memory_pool().backend_name)
        return judge(*given)

    monkeypatch.setattr(here, "judge_batch", listening)
    in_batches(rounds["messy"], tmp_path, workers=2)
    assert used == {"system"}
    assert pa.default_memory_pool().backend_name == before
