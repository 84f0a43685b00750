"""Both passes on a Dask cluster: runs of batches judged by its workers, put together here.

Only this module loads Dask, and it is loaded only where a cluster was asked for.
"""

from __future__ import annotations

import logging
import tempfile
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import CancelledError, ThreadPoolExecutor
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, replace
from importlib import import_module
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa

from survey.diagnosis.cuts import even_ends, runs_of
from survey.errors import UsageError
from survey.site import Site
from survey.streaming.findings_file import FindingsFile
from survey.streaming.gathering import Gathered, Seen, look_at
from survey.streaming.here import Progress, Put
from survey.streaming.judging import Judged, judge_batch
from survey.streaming.source import Source
from survey.streaming.whole import WholeColumns
from survey.streaming.workers import check_workers
from survey.writing import replacing

try:
    distributed: Any = import_module("distributed")
except ImportError:
    raise UsageError(
        "Dask was expected, to judge a round on a cluster",
        found="an installation of survey without it",
        do="pip install 'survey[scale]', or leave the cluster out",
    ) from None

LOCAL = "local"
BATCHES_AT_ONCE = 4
"""Batches of one task: more cost less to hand out, fewer share the work out more evenly."""
WAIT_SECONDS = 30
_ENVIRONMENT = {"OMP_NUM_THREADS": 1, "OPENBLAS_NUM_THREADS": 1}


@dataclass(frozen=True)
class Cluster:
    """The two passes, on the workers of a cluster; a task whose worker is lost is done again.

    Parameters
    ----------
    client
        Of Dask.
    folder
        Where workers put findings by: they need to see it.
    """

    client: Any
    folder: Path

    def look(self, source: Source, tell: Progress) -> Iterator[Seen]:
        """Carry out pass one; give what each run of batches leaves, in order."""
        runs = runs_of(even_ends(source.rows, source.batch_rows), BATCHES_AT_ONCE)
        early: dict[int, Seen] = {}
        due = 0
        for run, seen in self._done(look_at, [(source, ends, start) for start, ends in runs]):
            early[run] = seen
            while due in early:
                yield early.pop(due)
                due += 1
            tell(0, 1)

    def judge(
        self, source: Source, gathered: Gathered, site: Site, *, file: FindingsFile, tell: Progress
    ) -> Put:
        """Carry out pass two, as `Here.judge` does."""
        with tempfile.TemporaryDirectory(
            dir=self.folder, prefix=".survey.", suffix=".pieces", ignore_cleanup_errors=True
        ) as shared:
            runs = runs_of(gathered.ends, BATCHES_AT_ONCE)
            pieces = [Path(shared) / f"{run:06}.arrow" for run in range(len(runs))]
            asked = [
                (source, gathered.of_rows(start, int(ends[-1])), start, site, piece)
                for (start, ends), piece in zip(runs, pieces, strict=True)
            ]
            judged: dict[int, list[Judged]] = {}
            for run, batches in self._done(judge_run, asked):
                judged[run] = batches
                tell(len(judged), len(runs) + 1)
            for findings in _findings(pieces):
                file.add(findings)
        counted, due_tags = WholeColumns(int(gathered.usable.sum())), []
        for run in sorted(judged):
            for batch in judged.pop(run):
                counted.add(batch.counted)
                due_tags.append(batch.due_tags)
        return Put(counted, due_tags, batch.like)

    def _done(
        self, work: Callable[..., Any], asked: Sequence[tuple[Any, ...]]
    ) -> Iterator[tuple[int, Any]]:
        """Have the workers do something many times; give each result as it comes, and its place."""
        futures = [self.client.submit(work, *arguments, pure=False) for arguments in asked]
        place = {future.key: at for at, future in enumerate(futures)}
        lost = (distributed.KilledWorker, distributed.comm.CommClosedError, CancelledError)
        try:
            done = distributed.as_completed(futures, loop=self.client.loop, with_results=True)
            for future, result in done:
                future.release()
                yield place[future.key], result
        except lost as error:
            raise UsageError(
                "A cluster was expected that stays until the round is judged",
                found=f"one whose workers or scheduler were lost ({type(error).__name__})",
                do="see its logs; workers that run out of memory need more, or fewer threads",
            ) from None


def _findings(pieces: Sequence[Path]) -> Iterator[pa.Table]:
    """Give the findings that were put by, a batch at a time and each read ahead."""
    with ThreadPoolExecutor(1) as reading:
        for piece in pieces:
            with pa.ipc.open_stream(str(piece)) as stream:
                batches = iter(stream)
                ahead = reading.submit(next, batches, None)
                while (batch := ahead.result()) is not None:
                    ahead = reading.submit(next, batches, None)
                    yield pa.Table.from_batches([batch])


def judge_run(
    source: Source, gathered: Gathered, start: int, site: Site, piece: Path
) -> list[Judged]:
    """Judge a run of batches and write their findings; return what the totals need.

    Parameters
    ----------
    gathered
        Of the rows of this run alone.
    start
        Rows of the source before them.
    piece
        Where to write. Two workers may do so at once: the same bytes, each whole.
    """
    result: list[Judged] = []
    writer: Any = None
    starts = np.append(0, gathered.ends)
    with replacing(piece) as temporary:
        for at, raw in enumerate(source.cut_at(gathered.ends + start, start)):
            mine = gathered.of_rows(int(starts[at]), int(starts[at + 1]))
            judged = judge_batch(source, raw, mine, site)
            writer = writer or pa.ipc.new_stream(str(temporary), judged.findings.schema)
            writer.write_table(judged.findings)
            result.append(replace(judged, findings=judged.findings.schema.empty_table()))
        writer.close()
    return result


@contextmanager
def connected(
    address: str, *, workers: int, source: Source, folder: Path
) -> Iterator[Cluster]:
    """Reach a cluster, or start one on this machine, and check that its workers will do.

    Parameters
    ----------
    address
        Of the scheduler, as 'tcp://HOST:PORT'; `LOCAL` starts processes here for a while.
    workers
        How many to start.
    folder
        Where findings will be put by: workers need to see it, and the round, by the same path.

    Raises
    ------
    UsageError
        There is no cluster, or one of its workers cannot do the work.
    """
    with ExitStack() as stack:
        if address == LOCAL:
            address = stack.enter_context(_local(workers)).scheduler_address
        client = stack.enter_context(_client(address))
        check_workers(client, [*source.paths, folder])
        yield Cluster(client, folder)


def _local(workers: int) -> Any:
    # Dask tells its workers to hand memory back at once, and each batch would fetch it again.
    with import_module("dask").config.set({"distributed.nanny.pre-spawn-environ": _ENVIRONMENT}):
        return distributed.LocalCluster(
            n_workers=workers, threads_per_worker=1, dashboard_address="127.0.0.1:0",
            silence_logs=logging.CRITICAL,
        )  # fmt: skip


def _client(address: str) -> Any:
    try:
        _check_address(address)
        client = distributed.Client(address, timeout=WAIT_SECONDS, set_as_default=False)
        client.wait_for_workers(1, timeout=WAIT_SECONDS)
    except (OSError, ValueError, TimeoutError) as error:
        raise UsageError(
            "The address of a running Dask scheduler with workers was expected, or 'local'",
            found=f"{address}: {error}"[:200],
            do="start one with: dask scheduler, and on each machine: dask worker ADDRESS",
        ) from None
    return client


def _check_address(address: str) -> None:
    # A client that Dask cannot even begin to connect is left half made, and holds up the exit.
    scheme, _ = distributed.comm.parse_address(address)
    if scheme not in ("tcp", "tls"):
        raise ValueError("begins with neither tcp:// nor tls://")
    distributed.comm.get_address_host_port(address)
    keys = distributed.Security()
    if scheme == "tls" and not keys.get_connection_args("client")["ssl_context"]:
        raise ValueError("no certificates for tls:// in Dask's own configuration")
    if scheme == "tcp" and keys.require_encryption:
        raise ValueError("Dask's own configuration asks for tls://")
