"""Owners open links, 200 a second for a minute, while links are revoked and rounds are judged.

Run: ``python benchmarks/load.py`` (three minutes; ``--seconds 5`` for a look). First owners alone,
then with two technicians who judge a round and share it over and over, then with two who upload it
to the screens in browsers of their own (`uploads.py`; left out where there is none). Requests
start when they are due, whether earlier ones have been answered or not, and a time is counted
from when one was due, so a server that falls behind shows it. Every answer is checked: an open
link gives its page, a revoked one nothing from the very next request on. With any error, the exit
code is 1.
"""

from __future__ import annotations

import argparse
import asyncio
import contextlib
import multiprocessing
import os
import random
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(ROOT), str(ROOT / "benchmarks")]

import uploads  # noqa: E402

from survey import Findings, Site, analyze  # noqa: E402
from survey.reports.page import page_policy, render_page  # noqa: E402
from survey.sharing import LinkStore, share  # noqa: E402

SAMPLE = ROOT / "sample_data"
LINKS = 60
REVOKE_EVERY_S = 2.0
PATIENCE_S = 30.0


@dataclass
class Tally:
    """What came back: seconds of each page, and every answer that was wrong."""

    seconds: list[float] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)
    revoked: int = 0
    reopened: int = 0

    def line(self, name: str) -> str:
        """Return the figures in words."""
        times = sorted(self.seconds)
        if not times:
            return f"{name}: no answer at all; {len(self.wrong)} errors"

        def at(share: float) -> str:
            return f"{1000 * times[min(len(times) - 1, int(share * len(times)))]:.0f} ms"

        return (f"{name}: {len(times):,} pages, half within {at(0.5)}, 99 % within {at(0.99)}, "
                f"all within {at(1.0)}; {self.revoked} links revoked; "
                f"{self.reopened} idle connections opened anew; {len(self.wrong)} errors")


class Wires:
    """Connections that are kept open and used again, as browsers and nginx do."""

    def __init__(self, port: int) -> None:
        self._port = port
        self._free: list[tuple[asyncio.StreamReader, asyncio.StreamWriter]] = []
        self.reopened = 0

    async def get(self, token: str) -> tuple[int, int]:
        """Ask for a link; return status and length of the body."""
        if self._free:
            # The server closes what is idle for long; whoever finds it closed, before a byte of an
            # answer, asks again on a new connection, as browsers and nginx do (RFC 9112, 9.3.1).
            try:
                return await self._ask(*self._free.pop(), token)
            except ConnectionError:
                self.reopened += 1
            except asyncio.IncompleteReadError as error:
                if error.partial:
                    raise
                self.reopened += 1
        return await self._ask(*await asyncio.open_connection("127.0.0.1", self._port), token)

    async def _ask(
        self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter, token: str
    ) -> tuple[int, int]:
        asked = f"GET /f/{token} HTTP/1.1\r\nHost: x\r\nAccept-Encoding: gzip\r\n\r\n"
        writer.write(asked.encode())
        head = (await reader.readuntil(b"\r\n\r\n")).decode("latin-1").lower()
        length = int(head.split("content-length: ")[1].split("\r\n")[0])
        await reader.readexactly(length)
        self._free.append((reader, writer))
        return int(head.split()[1]), length

    def close(self) -> None:
        """Close them all."""
        for _, writer in self._free:
            writer.close()


async def owners(port: int, store: LinkStore, page: bytes, rate: float, seconds: float) -> Tally:
    """Open links at this rate for so long, and revoke one now and then."""
    tally, wires, chance = Tally(), Wires(port), random.Random(1)
    made = [store.create(page, policy=page_policy()) for _ in range(LINKS)]
    numbers = {token: link.number for token, link in made}
    open_links = list(numbers)

    async def ask(token: str, due: float) -> None:
        try:
            status, length = await asyncio.wait_for(wires.get(token), PATIENCE_S)
        except (OSError, asyncio.IncompleteReadError, TimeoutError) as error:
            tally.wrong.append(f"{type(error).__name__}: {error}")
            return
        # A link revoked while its page was on the way may give either.
        if (status != 200 or length < 1000) and token in open_links:
            tally.wrong.append(f"an open link gave {status}, {length} bytes")
        tally.seconds.append(time.monotonic() - due)

    async def revoke() -> None:
        while len(open_links) > 1:
            await asyncio.sleep(REVOKE_EVERY_S)
            token = open_links.pop(chance.randrange(len(open_links)))
            await asyncio.to_thread(store.revoke, numbers[token])
            if (await wires.get(token))[0] != 404:
                tally.wrong.append("a revoked link was answered with its page")
            tally.revoked += 1

    revoking = asyncio.create_task(revoke())
    start, asked = time.monotonic(), []
    for number in range(int(rate * seconds)):
        due = start + number / rate
        await asyncio.sleep(max(0.0, due - time.monotonic()))
        asked.append(asyncio.create_task(ask(chance.choice(open_links), due)))
    await asyncio.gather(*asked)
    revoking.cancel()
    with contextlib.suppress(asyncio.CancelledError):
        await revoking
    wires.close()
    tally.reopened = wires.reopened
    return tally


def technician(home: str, rounds_done: object) -> None:
    """Judge the sample round and share it, over and over, until ended."""
    os.environ["SURVEY_HOME"] = home
    while True:
        findings = analyze(SAMPLE / "nursery_round.csv", site=Site())
        share(findings, label="load")
        with rounds_done.get_lock():  # type: ignore[attr-defined]
            rounds_done.value += 1  # type: ignore[attr-defined]


@contextlib.contextmanager
def technicians(number: int, home: Path) -> Iterator[object]:
    """Keep so many technicians at work; gives how many rounds they have judged and shared."""
    rounds_done = multiprocessing.Value("i", 0)
    people = [multiprocessing.Process(target=technician, args=(str(home), rounds_done), daemon=True)
              for _ in range(number)]
    with uploads.at_work(people):
        yield rounds_done


@contextlib.contextmanager
def pages_server(home: Path) -> Iterator[int]:
    """Run `survey pages` as a process of its own; gives its port."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = int(probe.getsockname()[1])
    process = subprocess.Popen(
        [sys.executable, "-m", "survey.cli", "pages", "--port", str(port)], cwd=ROOT,
        env=os.environ | {"SURVEY_HOME": str(home)},
    )
    try:
        for _ in range(600):
            with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", port), 0.2):
                break
            time.sleep(0.1)
        yield port
        assert process.poll() is None, "the pages' server has stopped"
    finally:
        process.terminate()
        process.wait()


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rate", type=float, default=200.0)
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--technicians", type=int, default=2)
    asked = parser.parse_args()
    findings: Findings = analyze(SAMPLE / "nursery_round.csv", site=Site())
    page = render_page(findings).encode()
    with tempfile.TemporaryDirectory() as folder, \
            LinkStore(Path(folder) / "links.sqlite") as store, \
            pages_server(Path(folder)) as port:
        print(f"{asked.rate:g} requests a second for {asked.seconds:g} s, a page of "
              f"{len(page):,} bytes, {os.cpu_count()} cores")
        alone = asyncio.run(owners(port, store, page, asked.rate, asked.seconds))
        print(alone.line("owners alone"), flush=True)
        with technicians(asked.technicians, Path(folder)) as rounds_done:
            both = asyncio.run(owners(port, store, page, asked.rate, asked.seconds))
            print(both.line(f"with {asked.technicians} technicians, who judged and shared "
                            f"{rounds_done.value} rounds"))  # type: ignore[attr-defined]
        wrong = alone.wrong + both.wrong + with_uploads(store, Path(folder), page, asked)
    for said in wrong[:5]:
        print(f"  {said}")
    raise SystemExit(1 if wrong else 0)


def with_uploads(
    store: LinkStore, home: Path, page: bytes, asked: argparse.Namespace
) -> list[str]:
    """Serve owners from a dashboard that technicians upload rounds to; return what was wrong."""
    if lacking := uploads.missing():
        print(f"nobody uploaded: {lacking}")
        return []
    with uploads.dashboard(home) as (screens, port), \
            uploads.technicians(asked.technicians, screens) as done:
        tally = asyncio.run(owners(port, store, page, asked.rate, asked.seconds))
        print(tally.line(f"with {asked.technicians} technicians, who uploaded {done.value} rounds "
                         "to the screens and saw them judged"))
    if not done.value:
        tally.wrong.append("no upload was judged")
    return tally.wrong


if __name__ == "__main__":
    main()
