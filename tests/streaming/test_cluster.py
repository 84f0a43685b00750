"""A round judged on a Dask cluster: the findings of one process, whatever becomes of a worker."""

from __future__ import annotations

import logging
import os
import signal
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pandas as pd
import pyarrow.parquet as pq
import pytest

from survey import analyze
from survey.errors import UnreadableFile, UsageError
from survey.findings import Findings
from survey.streaming import workers
from survey.streaming.analyzing import analyze_to_file
from survey.streaming.source import source_of
from tests.streaming.rounds import OF_THE_RUN, SITE, messy, misspelt, plain_round, same

dask = pytest.importorskip("dask", reason="needs Dask: pip install '.[scale]'")
distributed = pytest.importorskip("distributed", reason="needs Dask: pip install '.[scale]'")
module = pytest.importorskip("survey.streaming.cluster")
pytestmark = pytest.mark.thorough
ROWS_AT_ONCE = 40
"""So few that every pass has several tasks for each of two workers."""
COMING_SECONDS = 180
"""A worker is a process that imports Dask: on a busy machine that takes its time."""


@pytest.fixture(scope="module")
def cluster() -> Iterator[Any]:
    # A LocalCluster gives up for good on a worker that is away 15 s after one of its name was
    # lost, whether slow to come back or killed once more: no waiting brings that one back.
    patience = {"distributed.deploy.lost-worker-timeout": "1h"}
    with dask.config.set(patience), distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, dashboard_address="127.0.0.1:0",
        silence_logs=logging.CRITICAL,
    ) as found:  # fmt: skip
        yield found


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with a messy round in three files."""
    place = tmp_path_factory.mktemp("scale") / "round"
    place.mkdir()
    frame = messy(plain_round())
    for number in range(3):
        part = frame.iloc[430 * number : 430 * (number + 1)]
        part.to_parquet(place / f"area-{number}.parquet", index=False, row_group_size=100)
    return place


@pytest.fixture(scope="module")
def alone(folder: Path) -> Path:
    """Return the findings of one process."""
    out = folder.with_name("alone.parquet")
    assert analyze_to_file([folder], out, site=SITE, batch_rows=ROWS_AT_ONCE) is not None
    return out


def judged_on(address: str, folder: Path, out: Path, **more: Any) -> Findings:
    told = analyze_to_file(
        [folder], out, site=SITE, batch_rows=ROWS_AT_ONCE, cluster=address, **more
    )
    assert told is not None
    return told


def same_to_the_bit(alone: Path, out: Path) -> None:
    one, other = pq.read_table(alone), pq.read_table(out)
    assert one.schema.equals(other.schema)
    assert one.equals(other)
    assert pq.read_metadata(alone).num_row_groups == pq.read_metadata(out).num_row_groups
    one, other = Findings.load(alone), Findings.load(out)
    pd.testing.assert_frame_equal(one.rejects, other.rejects)
    assert len(one.rejects) == 4
    kept = one.summary.keys() - OF_THE_RUN
    assert {name: one.summary[name] for name in kept} == {
        name: other.summary[name] for name in kept
    }


def test_a_cluster_gives_the_same_bits(
    cluster: Any, folder: Path, alone: Path, tmp_path: Path
) -> None:
    out = tmp_path / "out.parquet"
    told = judged_on(cluster.scheduler_address, folder, out)
    same_to_the_bit(alone, out)
    assert len(told.table) == 100
    assert [path.name for path in tmp_path.iterdir()] == ["out.parquet"]


@pytest.mark.parametrize("lost_in", ["pass one", "pass two"])
def test_a_worker_that_is_killed_costs_no_finding(
    cluster: Any, folder: Path, alone: Path, tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch, lost_in: str,
) -> None:  # fmt: skip
    monkeypatch.setattr(module, "BATCHES_AT_ONCE", 1)  # so many tasks that some are left to lose
    killed: list[int] = []
    with distributed.Client(cluster.scheduler_address, set_as_default=False) as client:
        client.wait_for_workers(2, timeout=COMING_SECONDS)
        pids = client.run(os.getpid)

        def kill_one_at_work(done: int, total: int) -> None:
            if killed or (done > 0) != (lost_in == "pass two"):
                return
            busy = [name for name, tasks in client.processing().items() if tasks]
            killed.append(pids[busy[0]])
            os.kill(killed[0], signal.SIGKILL)

        out = tmp_path / "out.parquet"
        judged_on(cluster.scheduler_address, folder, out, progress=kill_one_at_work)
        same_to_the_bit(alone, out)
        client.wait_for_workers(2, timeout=COMING_SECONDS)
        assert killed[0] not in client.run(os.getpid).values()


def test_damage_is_told_as_one_process_tells_it(
    cluster: Any, folder: Path, tmp_path: Path
) -> None:
    content = bytearray((folder / "area-0.parquet").read_bytes())
    tags = pq.read_metadata(folder / "area-0.parquet").row_group(2).column(0)
    end = tags.dictionary_page_offset + tags.total_compressed_size
    content[end - 300 : end - 200] = b"\xff" * 100
    damaged = tmp_path / "damaged.parquet"
    damaged.write_bytes(bytes(content))
    top = source_of([damaged], header_map=None, altitude_ft=0.0, batch_rows=ROWS_AT_ONCE)
    assert top is not None, "the damage was to be met by a worker, not before"
    said = []
    for address in (None, cluster.scheduler_address):
        with pytest.raises(UnreadableFile, match="damaged") as caught:
            analyze_to_file(
                [damaged], tmp_path / "out.parquet",
                site=SITE, batch_rows=ROWS_AT_ONCE, cluster=address,
            )  # fmt: skip
        said.append(caught.value.paragraph())
    assert said[0] == said[1]
    assert [path.name for path in tmp_path.iterdir()] == ["damaged.parquet"]


def test_dates_that_can_be_read_in_two_ways_are_named_as_the_reason(
    cluster: Any, tmp_path: Path
) -> None:
    frame = plain_round()
    frame["read_at"] = frame["read_at"].astype(object)
    frame.loc[1000, "read_at"] = "03/04/2026 10:00"
    frame.to_parquet(tmp_path / "round.parquet")
    with pytest.raises(UsageError, match="dates that can be read in two ways"):
        judged_on(cluster.scheduler_address, tmp_path / "round.parquet", tmp_path / "out.parquet")


def test_words_and_names_in_several_spellings_are_read_as_in_the_whole(
    cluster: Any, tmp_path: Path
) -> None:
    given, out, whole = (tmp_path / f"{name}.parquet" for name in ("round", "out", "whole"))
    misspelt(plain_round()).to_parquet(given)
    judged_on(cluster.scheduler_address, given, out)
    analyze(given, site=SITE).save(whole)
    same(Findings.load(whole), Findings.load(out))


def test_an_address_that_nobody_answers_at_is_said(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "WAIT_SECONDS", 1)
    for address in ("tcp://127.0.0.1:1", "nonsense"):
        with pytest.raises(UsageError, match="running Dask scheduler"):
            judged_on(address, folder, tmp_path / "out.parquet")


def test_a_worker_with_other_versions_is_refused(
    cluster: Any, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with distributed.Client(cluster.scheduler_address, set_as_default=False) as client:
        workers.check_workers(client, [folder])
        monkeypatch.setattr(workers.metadata, "version", lambda name: "0.0")
        with pytest.raises(UsageError, match="same versions"):
            workers.check_workers(client, [folder])


def test_a_worker_that_does_not_see_the_round_is_refused(cluster: Any, folder: Path) -> None:
    with distributed.Client(cluster.scheduler_address, set_as_default=False) as client:
        missing = folder / "not-here"
        with pytest.raises(UsageError, match="not-here"):
            workers.check_workers(client, [folder, missing])
