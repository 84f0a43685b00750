"""Who can reach a Dask cluster, and so run programs on it: for pickles go to and fro."""

from __future__ import annotations

import logging
import os
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from survey.errors import UsageError
from survey.findings import Findings
from survey.streaming.analyzing import analyze_to_file
from tests.streaming.rounds import SITE, plain_round

dask = pytest.importorskip("dask", reason="needs Dask: pip install '.[scale]'")
distributed = pytest.importorskip("distributed")
psutil = pytest.importorskip("psutil")
module = pytest.importorskip("survey.streaming.cluster")
pytestmark = pytest.mark.thorough


@pytest.fixture(scope="module")
def round_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("reach") / "round.parquet"
    plain_round().head(60).to_parquet(path, index=False)
    return path


def listened_on() -> set[str]:
    """Return the addresses that this process and those it started listen on."""
    mine = psutil.Process(os.getpid())
    return {
        connection.laddr.ip
        for process in (mine, *mine.children(recursive=True))
        for connection in process.net_connections(kind="inet")
        if connection.status == psutil.CONN_LISTEN
    }


def test_a_cluster_of_our_own_is_reached_from_this_machine_alone() -> None:
    before = listened_on()
    with module._local(1) as ours:
        assert ours.scheduler_address.startswith("tcp://127.0.0.1:")
        ours.wait_for_workers(1)
        assert listened_on() - before <= {"127.0.0.1"}
        assert "127.0.0.1" in listened_on()


@pytest.fixture(scope="module")
def secured() -> Iterator[tuple[str, Any]]:
    """Give the address of a cluster that asks for a certificate, and the certificates."""
    keys = distributed.Security.temporary()
    with distributed.LocalCluster(
        n_workers=1, threads_per_worker=1, dashboard_address="127.0.0.1:0", security=keys,
        silence_logs=logging.CRITICAL,
    ) as found:  # fmt: skip
        yield found.scheduler_address, keys


def test_a_cluster_behind_certificates_is_reached_with_them(
    secured: tuple[str, Any], round_file: Path, tmp_path: Path
) -> None:
    # As a person sets them: in Dask's own configuration, nothing of survey.
    address, keys = secured
    given = {"ca-file": keys.tls_ca_file, "client.key": keys.tls_client_key,
             "client.cert": keys.tls_client_cert}
    assert address.startswith("tls://")
    with dask.config.set({f"distributed.comm.tls.{name}": pem for name, pem in given.items()}):
        analyze_to_file([round_file], tmp_path / "out.parquet", site=SITE, cluster=address,
                        batch_rows=20)
    assert len(Findings.load(tmp_path / "out.parquet").table) == 60


def test_a_cluster_behind_certificates_lets_in_nobody_without(
    secured: tuple[str, Any], round_file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "WAIT_SECONDS", 3)
    address, _ = secured
    for tried in (address, address.replace("tls://", "tcp://")):
        with pytest.raises(UsageError, match="running Dask scheduler"):
            analyze_to_file([round_file], tmp_path / "out.parquet", site=SITE, cluster=tried,
                            batch_rows=20)
    assert list(tmp_path.iterdir()) == []


ODD = {
    "tls://127.0.0.1:1": "no certificates", "ucx://127.0.0.1:1": "neither tcp:// nor tls://",
    "inproc://1/2/3": "neither", "nowhere": "missing port", "tcp://[": "brackets", "": "missing",
    "tcp://127.0.0.1:22/..": "literal",
}


@pytest.mark.parametrize("address", ODD)
def test_an_address_that_cannot_be_meant_is_refused_before_dask_sees_it(
    address: str, round_file: Path, tmp_path: Path
) -> None:
    # What Dask begins with it would not end: it holds up the program's exit for a minute.
    before = set(threading.enumerate())
    with pytest.raises(UsageError, match=f"running Dask scheduler.*{ODD[address]}"):
        analyze_to_file([round_file], tmp_path / "out.parquet", site=SITE, cluster=address,
                        batch_rows=20)
    assert set(threading.enumerate()) <= before


def test_no_certificates_are_no_way_round_an_order_to_encrypt(
    round_file: Path, tmp_path: Path
) -> None:
    with dask.config.set({"distributed.comm.require-encryption": True}), \
            pytest.raises(UsageError, match="asks for tls://"):
        analyze_to_file([round_file], tmp_path / "out.parquet", site=SITE,
                        cluster="tcp://127.0.0.1:1", batch_rows=20)
