"""A server as a process of its own: started, waited for, watched, stopped."""

from __future__ import annotations

import contextlib
import subprocess  # the servers are our own; nothing in their arguments comes from a file
import tempfile
import time
import urllib.error
import urllib.request
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import IO

from survey.dashboard.wording import opening_words
from survey.errors import SurveyError

START_TIMEOUT_S = 60.0
_STOP_TIMEOUT_S = 8.0


@dataclass
class Server:
    """One running server and where it answers."""

    name: str
    process: subprocess.Popen[bytes]
    log: IO[bytes]
    answers_at: str

    def last_words(self) -> str:
        """Return the last line the server said, for an error."""
        self.log.seek(0)
        lines = self.log.read().decode("utf-8", "replace").split("\n")
        said = (line.strip()[:300] for line in reversed(lines) if line.strip())
        return next(said, opening_words.NO_WORD)


@contextlib.contextmanager
def running(
    name: str, command: Sequence[str], *, environment: Mapping[str, str], answers_at: str
) -> Iterator[Server]:
    """Run a server for as long as the block lasts; what it says goes to a file for errors."""
    with tempfile.TemporaryFile() as log:
        # A session of its own: Ctrl-C reaches us alone, and we stop both in order.
        process = subprocess.Popen(  # noqa: S603
            command,
            env=environment,
            stdin=subprocess.DEVNULL,
            stdout=log,
            stderr=log,
            start_new_session=True,
        )
        try:
            yield Server(name, process, log, answers_at)
        finally:
            process.terminate()
            try:
                process.wait(_STOP_TIMEOUT_S)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()


def await_all(servers: Sequence[Server]) -> None:
    """Return when all answer; raises SurveyError where one does not."""
    give_up = time.monotonic() + START_TIMEOUT_S
    waiting = list(servers)
    while waiting:
        _check_alive(servers)
        waiting = [server for server in waiting if not _answers(server.answers_at)]
        if waiting and time.monotonic() > give_up:
            raise SurveyError(
                opening_words.LATE.format(server=waiting[0].name, seconds=f"{START_TIMEOUT_S:.0f}"),
                found=waiting[0].last_words(),
                do=opening_words.LATE_DO,
            )
        time.sleep(0.1)


def _answers(url: str) -> bool:
    try:
        with urllib.request.urlopen(url, timeout=2):  # noqa: S310  always http, to ourselves
            return True
    except urllib.error.HTTPError:
        return True  # an owner's page without its link is not found, but it was answered
    except OSError:
        return False


def watch(servers: Sequence[Server]) -> None:
    """Stay while all run; raises SurveyError where one stops by itself."""
    while True:
        _check_alive(servers)
        time.sleep(0.5)


def _check_alive(servers: Sequence[Server]) -> None:
    for server in servers:
        if server.process.poll() is not None:
            raise SurveyError(
                opening_words.STOPPED.format(server=server.name),
                found=server.last_words(),
                do=opening_words.STOPPED_DO,
            )
