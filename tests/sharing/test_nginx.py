"""The owner's pages behind nginx: the file that we give away, TLS, and the real pages' server.

Skipped where nginx or openssl is not installed; SURVEY_REQUIRE_NGINX=1 makes that a failure.
"""

from __future__ import annotations

import contextlib
import http.client
import os
import re
import shutil
import socket
import ssl
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import urlsplit

import pytest

from sharing.conftest import PAGE, POLICY
from sharing.test_server import free_port
from survey.sharing.addresses import page_url
from survey.sharing.links import new_token
from survey.sharing.pages import HEADERS, NOTHING_HERE
from survey.sharing.store import LinkStore

DEPLOY = Path(__file__).resolve().parents[2] / "deploy"
NAME = "findings.example.com"
BASE = f"https://{NAME}/steam"
NGINX = shutil.which("nginx") or shutil.which("nginx", path="/usr/sbin:/sbin")
OPENSSL = shutil.which("openssl")
# What stands round a server block in any nginx. Its own logs are on: they must stay empty of links.
AROUND = """
daemon off;
master_process off;
pid {folder}/nginx.pid;
error_log {folder}/error.log info;
events {{ worker_connections 64; }}
http {{
    access_log {folder}/access.log;
    client_body_temp_path {folder}/body;
    proxy_temp_path {folder}/proxy;
    fastcgi_temp_path {folder}/fastcgi;
    uwsgi_temp_path {folder}/uwsgi;
    scgi_temp_path {folder}/scgi;
    include {folder}/server.conf;
}}
"""
pytestmark = pytest.mark.nginx


@dataclass
class Front:
    """nginx and the pages' server behind it, and what both write down."""

    port: int
    folder: Path
    store: LinkStore
    pages: subprocess.Popen[bytes]

    def ask(self, method: str, path: str, **headers: str) -> tuple[int, dict[str, str], bytes]:
        trusted = ssl.create_default_context(cafile=str(self.folder / "own.pem"))
        with contextlib.closing(_Named("127.0.0.1", self.port, context=trusted)) as connection:
            connection.request(method, path, headers={"Host": NAME} | headers)
            got = connection.getresponse()
            kept = {k.lower(): v for k, v in got.getheaders() if k.lower() != "date"}
            return got.status, kept, got.read()

    def open(self, url: str) -> tuple[int, dict[str, str], bytes]:
        return self.ask("GET", urlsplit(url).path)

    def written_down(self) -> str:
        time.sleep(0.2)
        files = [path for path in self.folder.rglob("*") if path.is_file()]
        assert {"access.log", "error.log"} <= {path.name for path in files}
        return "".join(
            path.read_text(errors="replace") for path in files if "kept" not in path.parts
        )


class _Named(http.client.HTTPSConnection):
    """A connection to this machine that asks for the certificate of the server's own name."""

    def connect(self) -> None:
        http.client.HTTPConnection.connect(self)
        self.sock = self._context.wrap_socket(self.sock, server_hostname=NAME)


@pytest.fixture(scope="module")
def front(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Front]:
    if NGINX is None or OPENSSL is None:
        words = "nginx and openssl are not both installed"
        (pytest.fail if os.environ.get("SURVEY_REQUIRE_NGINX") == "1" else pytest.skip)(words)
    folder, port, behind = tmp_path_factory.mktemp("front"), free_port(), free_port()
    certificate(folder)
    (folder / "server.conf").write_text(as_given(folder, port, behind))
    (folder / "nginx.conf").write_text(AROUND.format(folder=folder))
    environment = os.environ | {"SURVEY_HOME": str(folder / "kept"), "SURVEY_BASE_URL": BASE}
    pages_command = [sys.executable, "-m", "survey.cli", "pages", "--port", str(behind)]
    front_command = [NGINX, "-p", str(folder), "-c", str(folder / "nginx.conf")]
    with contextlib.ExitStack() as stack:
        said = stack.enter_context((folder / "said.txt").open("wb"))
        store = stack.enter_context(LinkStore(folder / "kept" / "links.sqlite"))
        pages = stack.enter_context(_running(pages_command, said, environment))
        nginx = stack.enter_context(_running(front_command, said, environment))
        _await(behind, pages, folder)
        _await(port, nginx, folder)
        yield Front(port, folder, store, pages)


@contextlib.contextmanager
def _running(
    command: list[str], said: object, environment: dict[str, str]
) -> Iterator[subprocess.Popen[bytes]]:
    process = subprocess.Popen(command, env=environment, stdout=said, stderr=said)  # type: ignore[call-overload]
    try:
        yield process
    finally:
        process.terminate()
        process.wait(20)


def _await(port: int, process: subprocess.Popen[bytes], folder: Path) -> None:
    for _ in range(600):
        assert process.poll() is None, (folder / "said.txt").read_text()
        with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", port), 0.2):
            return
        time.sleep(0.1)
    raise AssertionError("the server did not answer")


def certificate(folder: Path) -> None:
    subprocess.run(
        [str(OPENSSL), "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1",
         "-nodes", "-days", "2", "-subj", f"/CN={NAME}", "-addext", f"subjectAltName=DNS:{NAME}",
         "-keyout", str(folder / "own.key"), "-out", str(folder / "own.pem")],
        check=True, capture_output=True,
    )


def as_given(folder: Path, port: int, behind: int) -> str:
    """Return our nginx.conf with nothing changed but what any user has to change."""
    text = (DEPLOY / "nginx.conf").read_text(encoding="utf-8")
    for old, new in (
        ("listen 443 ssl;", f"listen 127.0.0.1:{port} ssl;"),
        (f"/etc/letsencrypt/live/{NAME}/fullchain.pem", f"{folder}/own.pem"),
        (f"/etc/letsencrypt/live/{NAME}/privkey.pem", f"{folder}/own.key"),
        ("http://127.0.0.1:8700/;", f"http://127.0.0.1:{behind}/;"),
    ):
        assert text.count(old) == 1
        text = text.replace(old, new)
    return text


def test_a_link_opens_under_its_path_and_ends_at_once(front: Front) -> None:
    token, link = front.store.create(PAGE, policy=POLICY)
    url = page_url(BASE, token)
    status, _, body = front.open(url)
    assert (status, body) == (200, PAGE)
    assert front.ask("HEAD", f"/steam/f/{token}")[0] == 200
    front.store.revoke(link.number)
    assert front.open(url)[0] == 404


def test_every_header_of_the_page_comes_through(front: Front) -> None:
    token, _ = front.store.create(PAGE, policy=POLICY)
    for path in (f"/steam/f/{token}", f"/steam/f/{new_token()}"):
        _, headers, _ = front.ask("GET", path)
        for name, value in HEADERS.items():
            assert headers[name.lower()] == value
        assert "frame-ancestors 'none'" in headers["content-security-policy"]
        assert headers["strict-transport-security"] == "max-age=31536000"
        assert headers["server"] == "nginx"  # and no version
    _, headers, zipped = front.ask("GET", f"/steam/f/{token}", **{"Accept-Encoding": "gzip"})
    assert headers["content-encoding"] == "gzip"
    assert len(zipped) < len(PAGE)


def test_what_finds_nothing_is_answered_alike(front: Front) -> None:
    valid, _ = front.store.create(PAGE, policy=POLICY)
    revoked, link = front.store.create(PAGE, policy=POLICY)
    front.store.revoke(link.number)
    first = front.ask("GET", f"/steam/f/{new_token()}")
    assert (first[0], first[2]) == (404, NOTHING_HERE)
    for method, path in (
        ("GET", f"/steam/f/{revoked}"), ("GET", "/steam/f/x"), ("GET", "/steam/"),
        ("GET", "/steam/f/../.git/config"), ("GET", f"/steam/f/{valid}/x"), ("GET", "/steam/f/%2e"),
        ("POST", f"/steam/f/{valid}"), ("OPTIONS", "/steam/f/x"), ("GET", "/steam/robots.txt"),
    ):
        assert front.ask(method, path) == first, (method, path)
    # Without its path a link finds nothing either, and nothing else is to be found there.
    for path in ("/", f"/f/{valid}", "/steam", "/_stcore/health", "/etc/passwd"):
        assert front.ask("GET", path)[0] in (301, 404)
        assert front.ask("GET", path)[2].count(b"T-") == 0


def test_without_tls_nothing_is_shown(front: Front) -> None:
    token, _ = front.store.create(PAGE, policy=POLICY)
    with socket.create_connection(("127.0.0.1", front.port), 10) as wire:
        wire.sendall(f"GET /steam/f/{token} HTTP/1.1\r\nHost: {NAME}\r\n\r\n".encode())
        wire.shutdown(socket.SHUT_WR)
        answer = b"".join(iter(lambda: wire.recv(65536), b""))
    assert b" 400 " in answer[:20]
    assert token.encode() not in answer


def test_guesses_are_counted_by_who_makes_them(front: Front) -> None:
    """More misses than are answered at once: they wait, a valid link among them does not."""
    token, _ = front.store.create(PAGE, policy=POLICY)
    slowest = 0.0
    for _ in range(24):
        start = time.monotonic()
        assert front.ask("GET", f"/steam/f/{new_token()}")[0] == 404
        slowest = max(slowest, time.monotonic() - start)
    assert slowest > 0.9
    start = time.monotonic()
    assert front.ask("GET", f"/steam/f/{token}")[0] == 200
    assert time.monotonic() - start < slowest


def test_no_log_holds_a_link_even_when_the_pages_are_down(front: Front) -> None:
    """The last test here: it ends the pages' server, which is when nginx says most."""
    tokens = [front.store.create(PAGE, policy=POLICY)[0], new_token()]
    paths = [f"/steam/f/{token}" for token in tokens]
    for path in paths:
        for method in ("GET", "POST"):
            front.ask(method, path, Referer=f"{BASE}{path}")
    front.ask("GET", f"/f/{tokens[0]}")
    front.pages.terminate()
    front.pages.wait(20)
    assert {front.ask("GET", path)[0] for path in paths} == {502}
    written = front.written_down()
    for token in tokens:
        assert token not in written
        assert token[:16] not in written


def test_the_units_are_ones_that_systemd_takes(tmp_path: Path) -> None:
    checker = shutil.which("systemd-analyze")
    if checker is None:
        pytest.skip("systemd is not installed")
    units = []
    for path in sorted(DEPLOY.glob("survey-*")):
        text = path.read_text(encoding="utf-8")
        units.append(tmp_path / path.name)
        units[-1].write_text(re.sub(r"/srv/survey/bin/survey\b", "/bin/true", text))
    assert len(units) == 3
    done = subprocess.run([checker, "verify", *map(str, units)], capture_output=True, text=True)
    assert (done.returncode, done.stderr) == (0, "")


def test_the_commands_in_the_units_are_commands(tmp_path: Path) -> None:
    for path in DEPLOY.glob("*.service"):
        started = re.search(r"^ExecStart=\S+ (.*)$", path.read_text(), re.MULTILINE)
        assert started is not None
        done = subprocess.run([sys.executable, "-m", "survey.cli", *started[1].split(), "--help"],
                              capture_output=True, text=True)
        assert done.returncode == 0, done.stderr
