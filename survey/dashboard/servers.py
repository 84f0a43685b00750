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
        return next((line.strip()[:300] for line in reversed(lines) if line.strip()), "no word")


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
                f"The {waiting[0].name} were expected to answer within {START_TIMEOUT_S:.0f} s",
                found=waiting[0].last_words(),
                do="try again; a busy machine may need longer",
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
                f"The {server.name} were expected to keep running",
                found=server.last_words(),
                do="start the dashboard again",
            )
