"""One command starts both servers, says where they are, and leaves nothing running."""

from __future__ import annotations

import json
import os
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from survey.dashboard.addresses import check_free, is_local, url
from survey.dashboard.launch import launch
from survey.errors import UsageError

from .conftest import ROOT

START = """
import sys
from survey.dashboard.launch import launch
from survey.errors import SurveyError
try:
    launch(port=int(sys.argv[1]), pages_port=int(sys.argv[2]),
           say=lambda line: print(line, flush=True), **eval(sys.argv[3]))
except SurveyError as error:
    sys.exit(f"survey: {error}")
"""


def free_ports(count: int) -> list[int]:
    sockets = [socket.socket() for _ in range(count)]
    for each in sockets:
        each.bind(("127.0.0.1", 0))
    ports = [each.getsockname()[1] for each in sockets]
    for each in sockets:
        each.close()
    return ports


@contextmanager
def launched(home: Path, more: str = "{}", **environment: str) -> Iterator[tuple]:
    """Run the command until both addresses are printed; give the process and the ports."""
    port, pages_port = free_ports(2)
    process = subprocess.Popen(
        [sys.executable, "-c", START, str(port), str(pages_port), more],
        cwd=ROOT,
        env={**os.environ, "SURVEY_HOME": str(home), **environment},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    try:
        lines = [process.stdout.readline().strip() for _ in range(3)]
        assert lines[-1], process.stderr.read()
        yield process, port, pages_port, lines
    finally:
        if process.poll() is None:
            process.send_signal(signal.SIGTERM)
        process.wait(30)
        process.stdout.close()
        process.stderr.close()


def answer(port: int, path: str = "/") -> tuple[int, dict[str, str]]:
    try:
        with urllib.request.urlopen(f"http://127.0.0.1:{port}{path}", timeout=10) as got:
            return got.status, {k.lower(): v for k, v in got.headers.items()}
    except urllib.error.HTTPError as error:
        with error:
            return error.code, {k.lower(): v for k, v in error.headers.items()}


def answers_no_more(port: int) -> bool:
    for _ in range(50):
        try:
            socket.create_connection(("127.0.0.1", port), timeout=1).close()
        except OSError:
            return True
        time.sleep(0.1)
    return False


@pytest.mark.thorough
def test_both_answer_and_a_stop_signal_ends_both(tmp_path: Path) -> None:
    with launched(tmp_path) as (process, port, pages_port, lines):
        assert lines[:2] == [
            f"Your screens: http://127.0.0.1:{port}/",
            f"The owner's pages: http://127.0.0.1:{pages_port}/",
        ]
        status, headers = answer(port)
        assert status == 200
        assert "default-src 'none'" in headers["content-security-policy"]
        assert answer(pages_port)[0] == 404
        # The two share no route: neither shows what the other has.
        assert answer(pages_port, "/_stcore/health")[0] == 404
        told = json.loads((tmp_path / "pages.json").read_text())
        assert told == {"address": f"http://127.0.0.1:{pages_port}", "process": process.pid}
        taken = second(port, free_ports(1)[0])
        process.send_signal(signal.SIGTERM)
        assert process.wait(20) == 0
        assert process.stderr.read() == ""
        assert answers_no_more(port)
        assert answers_no_more(pages_port)
    assert not (tmp_path / "pages.json").exists()
    assert taken.returncode == 1
    assert f"port {port}" in taken.stderr
    assert "What to do: stop what is using it, or give --port another number." in taken.stderr
    assert "Traceback" not in taken.stderr


def second(port: int, pages_port: int) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-c", START, str(port), str(pages_port), "{}"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )


@pytest.mark.thorough
def test_screens_with_a_password_ask_for_it(tmp_path: Path) -> None:
    with launched(tmp_path, SURVEY_PASSWORD="four unrelated words") as (process, port, *_):
        assert answer(port)[0] == 401
        process.send_signal(signal.SIGINT)  # as Ctrl-C does
        assert process.wait(20) == 0
        assert answers_no_more(port)


def test_screens_open_to_others_need_a_password(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("SURVEY_PASSWORD", raising=False)
    for host in ("0.0.0.0", "::", "192.0.2.1", "laptop.example"):
        with pytest.raises(UsageError, match=r"A password was expected.*SURVEY_PASSWORD"):
            launch(screens_host=host)


def test_a_short_password_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(UsageError, match="at least 10 characters"):
        launch(password="short")


def test_two_servers_need_two_ports() -> None:
    [port] = free_ports(1)
    with pytest.raises(UsageError, match=f"Two ports were expected.*{port} for both"):
        launch(port=port, pages_port=port)


def test_a_taken_port_is_named_with_its_option() -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        with pytest.raises(UsageError, match=f"127.0.0.1, port {port}.*--pages-port"):
            check_free("127.0.0.1", port, "pages-port")


def test_an_address_that_is_not_this_machines_is_refused() -> None:
    with pytest.raises(UsageError, match="A free port on this machine was expected"):
        check_free("192.0.2.1", 8501, "port")


@pytest.mark.parametrize("host", ["127.0.0.1", "127.1.2.3", "::1", "localhost"])
def test_addresses_of_this_machine_only(host: str) -> None:
    assert is_local(host)


@pytest.mark.parametrize("host", ["0.0.0.0", "::", "10.0.0.5", "localhost.example.com", ""])
def test_addresses_that_others_reach(host: str) -> None:
    assert not is_local(host)


def test_addresses_are_written_so_that_they_open() -> None:
    assert url("0.0.0.0", 81) == "http://127.0.0.1:81/"
    assert url("::1", 81) == "http://[::1]:81/"


def test_the_screens_open_to_others_without_a_password_do_not_start(tmp_path: Path) -> None:
    """Started by hand, past the command: the application itself refuses."""
    [port] = free_ports(1)
    started = subprocess.run(
        [
            sys.executable,
            "-m",
            "streamlit",
            "run",
            "app.py",
            "--server.address=0.0.0.0",
            f"--server.port={port}",
        ],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert started.returncode != 0
    assert "A password was expected" in started.stderr
