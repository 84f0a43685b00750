"""Technicians at real browsers, who upload a round and have it judged, over and over.

For `load.py`: each has a browser of their own (Chromium, through Playwright) and a process for
it; `browser.py` takes the dashboard and the browser from here.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import shutil
import socket
import subprocess
import sys
import time
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
ROUND = ROOT / "sample_data" / "nursery_round.csv"
FLAGS = ["--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
         "--disable-background-networking", "--disable-component-update", "--disable-sync"]


def missing() -> str:
    """Return what a browser lacks here; '' if nothing."""
    try:
        import playwright  # noqa: F401
    except ImportError:
        return "Playwright is not installed"
    return "" if _chromium_path() else "there is no Chromium on the path"


def _chromium_path() -> str | None:
    return shutil.which("chromium") or shutil.which("chromium-browser")


def free_ports() -> tuple[int, int]:
    """Return two ports that nobody listens on."""
    with socket.socket() as one, socket.socket() as other:
        one.bind(("127.0.0.1", 0))
        other.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1]), int(other.getsockname()[1])


@contextlib.contextmanager
def dashboard(home: Path) -> Iterator[tuple[str, int]]:
    """Run `survey dashboard`; gives the address of the screens and the port of the pages."""
    port, pages_port = free_ports()
    command = ("survey.cli", "dashboard", "--port", str(port), "--pages-port", str(pages_port))
    with serving(*command, ports=(port, pages_port), environment={"SURVEY_HOME": str(home)}):
        yield f"http://127.0.0.1:{port}/", pages_port


@contextlib.contextmanager
def serving(
    module: str, *arguments: str, ports: Sequence[int], environment: Mapping[str, str]
) -> Iterator[None]:
    """Run a module that serves on some ports, and see that it does so to the end."""
    process = subprocess.Popen(
        [sys.executable, "-m", module, *arguments],
        cwd=ROOT, env={**os.environ, **environment}, stdout=subprocess.DEVNULL,
    )  # fmt: skip
    try:
        for port in ports:
            _await(port)
        yield
        assert process.poll() is None, f"{module} has stopped"
    finally:
        process.terminate()
        process.wait()


def _await(port: int) -> None:
    ends = time.monotonic() + 60
    while time.monotonic() < ends:
        with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", port), 0.2):
            return
        time.sleep(0.1)
    raise SystemExit(f"nothing answers on port {port}")


def chromium(playwright: Any) -> Any:
    """Start a browser; it closes at the end of its own ``with``."""
    return playwright.chromium.launch(executable_path=_chromium_path(), args=FLAGS)


def judged(page: Any, screens: str, given: Path) -> None:
    """Upload a round, have it judged, wait for the overview."""
    page.goto(screens)
    page.get_by_role("heading", level=1).first.wait_for()
    page.get_by_test_id("stFileUploaderDropzoneInput").first.set_input_files(given)
    judge = page.get_by_role("button", name="Judge the round", exact=True)
    overview = page.get_by_role("heading", name="Overview")
    judge.or_(overview).first.wait_for()  # nothing is asked where all is understood
    if judge.count():
        judge.first.click()
    overview.first.wait_for()


def technician(screens: str, done: Any) -> None:
    """Have the sample round judged, over and over; until ended."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = chromium(playwright)
        while True:
            with browser.new_context() as context:
                judged(context.new_page(), screens, ROUND)
            with done.get_lock():
                done.value += 1


@contextlib.contextmanager
def technicians(number: int, screens: str) -> Iterator[Any]:
    """Keep so many at work; gives how many rounds they have uploaded and seen judged."""
    spawn = multiprocessing.get_context("spawn")
    done = spawn.Value("i", 0)
    people = [spawn.Process(target=technician, args=(screens, done)) for _ in range(number)]
    with at_work(people):
        ends = time.monotonic() + 180
        while done.value < number and time.monotonic() < ends:  # browsers take a while to start
            time.sleep(0.1)
        done.value = 0
        yield done


@contextlib.contextmanager
def at_work(people: Sequence[Any]) -> Iterator[None]:
    """Keep processes going, and see that none has ended by itself."""
    for person in people:
        person.start()
    try:
        yield
    finally:
        alive = sum(person.is_alive() for person in people)
        for person in people:
            person.terminate()
            person.join()
        assert alive == len(people), "a technician met an error"
