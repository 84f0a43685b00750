"""The real server, in a process of its own: what goes over the wire, and what is written down."""

from __future__ import annotations

import contextlib
import http.client
import logging
import os
import re
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from sharing.conftest import PAGE, POLICY
from survey.errors import ShareError
from survey.sharing.hiding import HIDDEN, hidden
from survey.sharing.links import new_token
from survey.sharing.pages import NOTHING_HERE
from survey.sharing.server import HideLinks, log_config, serve_pages
from survey.sharing.store import LinkStore

START = "import sys; from survey.sharing import serve_pages; serve_pages(port=int(sys.argv[1]))"


@dataclass
class Running:
    """A server on this machine, its store, and the file that takes all it says."""

    port: int
    store: LinkStore
    said: Path

    def ask(self, method: str, path: str) -> tuple[int, dict[str, str], bytes]:
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=10)
        with contextlib.closing(connection):
            connection.request(method, path)
            got = connection.getresponse()
            headers = {k.lower(): v for k, v in got.getheaders() if k.lower() != "date"}
            return got.status, headers, got.read()

    def raw(self, sent: bytes, *, hang_up: bool = True) -> bytes:
        with socket.create_connection(("127.0.0.1", self.port), timeout=10) as wire:
            wire.sendall(sent)
            if hang_up:  # whoever has, gets no answer that would have had to wait
                wire.shutdown(socket.SHUT_WR)
            return b"".join(iter(lambda: wire.recv(65536), b""))


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@pytest.fixture(scope="module")
def running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    folder, port = tmp_path_factory.mktemp("server"), free_port()
    said = folder / "said.txt"
    environment = os.environ | {"SURVEY_HOME": str(folder / "kept"), "PYTHONUNBUFFERED": "1",
                                "PYTHONASYNCIODEBUG": "1"}
    with said.open("wb") as log, LinkStore(folder / "kept" / "links.sqlite") as store:
        process = subprocess.Popen(
            [sys.executable, "-c", START, str(port)], env=environment, stdout=log, stderr=log
        )
        try:
            _await(port, process)
            yield Running(port, store, said)
        finally:
            process.terminate()
            process.wait(10)


def _await(port: int, process: subprocess.Popen[bytes]) -> None:
    for _ in range(300):
        assert process.poll() is None
        with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", port), 0.2):
            return
        time.sleep(0.1)
    raise AssertionError("the server did not answer")


def test_a_link_lives_and_ends_over_the_wire(running: Running) -> None:
    token, link = running.store.create(PAGE, policy=POLICY)
    status, headers, body = running.ask("GET", f"/f/{token}")
    assert (status, body) == (200, PAGE)
    assert "server" not in headers
    status, head, body = running.ask("HEAD", f"/f/{token}")
    assert (status, head, body) == (200, headers, b"")
    running.store.revoke(link.number)
    ended = running.ask("GET", f"/f/{token}")
    assert ended[0] == 404
    assert ended[2] == NOTHING_HERE
    for method, path in (("GET", f"/f/{new_token()}"), ("GET", "/"), ("GET", "/robots.txt"),
                         ("POST", f"/f/{token}"), ("DELETE", "/"), ("OPTIONS", "/f/x")):
        assert running.ask(method, path) == ended, (method, path)


def test_nothing_said_could_open_a_page(running: Running) -> None:
    """Provokes what makes servers talk: bad requests, upgrades, long lines, odd methods."""
    token, _ = running.store.create(PAGE, policy=POLICY)
    line = f"/f/{token}".encode()
    running.ask("GET", f"/f/{token}")
    answers = [
        running.raw(b"GET " + line + b" HTTP/9.9\r\n\r\n"),
        running.raw(b"GET " + line + b"\r\n\r\n"),
        running.raw(b"G\x00T " + line + b" HTTP/1.1\r\nHost: x\r\n\r\n"),
        running.raw(b"GET " + line + b" HTTP/1.1\r\nHost: x\r\nReferer: http://x" + line
                    + b"\r\nConnection: upgrade\r\nUpgrade: websocket\r\n\r\n"),
        running.raw(b"GET " + line + b" HTTP/1.1\r\nHost: x\r\nX: " + b"y" * 40_000 + b"\r\n\r\n"),
        running.raw(b"POST " + line + b" HTTP/1.1\r\nHost: x\r\nContent-Length: ten\r\n\r\n"),
        running.raw(line),
    ]
    assert any(b"404" in one[:20] or b"400" in one[:20] for one in answers)
    assert not [one for one in answers if token.encode() in one]
    time.sleep(0.3)
    said = running.said.read_text()
    assert token not in said
    assert token[:16] not in said


def test_the_log_itself_hides_links(capsys: pytest.CaptureFixture[str]) -> None:
    token = new_token()
    record = logging.LogRecord(
        "uvicorn.error", logging.ERROR, "x", 1, '%s asked for "%s"', ("1.2.3.4", f"/f/{token}?a"),
        None)
    HideLinks().filter(record)
    assert record.getMessage() == f'1.2.3.4 asked for "/f/{HIDDEN}?a"'
    try:
        raise ValueError(f"no page at /steam/f/{token}")
    except ValueError:
        record = logging.LogRecord(
            "uvicorn.error", logging.ERROR, "x", 1, "failed", (), sys.exc_info())
    HideLinks().filter(record)
    text = logging.Formatter().format(record)
    assert "ValueError: no page at" in text
    assert token not in text
    assert token not in hidden(f"token {token} alone; {token[:31]}; %2Ff%2F{token}")


def test_every_handler_of_the_server_hides_links() -> None:
    config = log_config()
    assert all("hide" in handler["filters"] for handler in config["handlers"].values())
    assert "access" not in str(config)


def test_a_log_line_that_does_not_fit_its_values_is_still_hidden() -> None:
    token = new_token()
    record = logging.LogRecord("x", logging.ERROR, "x", 1, "%d", (token,), None)
    HideLinks().filter(record)
    assert token not in record.getMessage()


def test_a_taken_port_is_an_error_in_words(tmp_path: Path) -> None:
    with socket.socket() as taken, LinkStore(tmp_path / "links.sqlite") as store:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        with pytest.raises(ShareError, match=rf"port that is free .*127\.0\.0\.1:{port}"):
            serve_pages(port=port, store=store)


def test_what_is_hidden_leaves_ordinary_lines_alone() -> None:
    line = "Uvicorn running on http://127.0.0.1:8700 (Press CTRL+C to quit)"
    assert hidden(line) == line
    assert re.fullmatch(r"GET /f/\[link\] 404", hidden("GET /f/abc 404"))


def test_a_request_of_any_make_gets_the_page_or_the_one_answer(running: Running) -> None:
    token, _ = running.store.create(PAGE, policy=POLICY)
    host = b"Host: x\r\nConnection: close\r\n\r\n"
    link = f"/f/{token}".encode()
    alike = [
        b"GET /f/x%0d%0aSet-Cookie:%20a=b HTTP/1.1\r\n", b"GET http://x" + link + b" HTTP/1.1\r\n",
        b"OPTIONS * HTTP/1.1\r\n", b"GET " + link + b"%0a HTTP/1.1\r\n",
        b"GET /f/" + b"a" * 15_000 + b" HTTP/1.1\r\n", b"BREW " + link + b" HTTP/1.1\r\n",
        b"GET /../../etc/passwd HTTP/1.1\r\n",
    ]  # fmt: skip
    answers = [running.raw(asked + host, hang_up=False) for asked in alike]
    assert {answer.split(b"\r\n\r\n")[1] for answer in answers} == {NOTHING_HERE}
    # What is no request at all is refused before any link is looked at.
    for asked in (b"\x16\x03\x01\x02\x00\x01\r\n\r\n", b"GET /\r\n\r\n",
                  b"GET " + link + b"\r\n\r\n"):
        assert b" 400 " in running.raw(asked).split(b"\r\n")[0]
    for more in (b"Upgrade: websocket\r\nConnection: Upgrade\r\n", b"Range: bytes=0-3\r\n"):
        asked = b"GET " + link + b" HTTP/1.1\r\n" + more + host
        assert PAGE in running.raw(asked, hang_up=False)
    assert token not in running.said.read_text(encoding="utf-8")
