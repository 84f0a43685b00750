"""Pages published to an object store by its own protocol, S3, answered by a server of ours."""

from __future__ import annotations

import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.error import HTTPError

import pytest
from moto.server import ThreadedMotoServer
from reports.build import findings

from sharing.conftest import HandClock
from survey.errors import ShareError
from survey.sharing import share, take_away_ended, unshare
from survey.sharing.pages import NOTHING_HERE
from survey.sharing.store import LinkStore

pytestmark = pytest.mark.thorough
TO = "s3://bucket/pages"
ALL_MAY_READ = """{"Version": "2012-10-17", "Statement": [{"Effect": "Allow", "Principal": "*",
"Action": "s3:GetObject", "Resource": "arn:aws:s3:::bucket/*"}]}"""


@pytest.fixture
def bucket(monkeypatch: pytest.MonkeyPatch) -> Iterator[str]:
    """Give the address by which a browser reaches a bucket that holds one other file."""
    server = ThreadedMotoServer(ip_address="127.0.0.1", port=0, verbose=False)
    server.start()
    host, port = server.get_host_and_port()
    for name, value in {"AWS_ACCESS_KEY_ID": "x", "AWS_SECRET_ACCESS_KEY": "y",
                        "AWS_DEFAULT_REGION": "us-east-1", "AWS_EC2_METADATA_DISABLED": "true",
                        "AWS_ENDPOINT_URL": f"http://{host}:{port}"}.items():
        monkeypatch.setenv(name, value)
    address = f"http://{host}:{port}/bucket"
    for path, body in {"": "", "/pages/notes.txt": "mine", "?policy": ALL_MAY_READ}.items():
        # By default a body is sent as a form, which would be taken apart.
        kind = {"Content-Type": "text/plain"}
        ask = urllib.request.Request(f"{address}{path}", body.encode(), kind, method="PUT")
        urllib.request.urlopen(ask, timeout=20).close()
    yield address
    ask = urllib.request.Request(f"http://{host}:{port}/moto-api/reset", b"", method="POST")
    urllib.request.urlopen(ask, timeout=20).close()
    server.stop()


@pytest.fixture
def store(tmp_path: Path, clock: HandClock) -> Iterator[LinkStore]:
    with LinkStore(tmp_path / "links.sqlite", clock=clock) as made:
        yield made


def opened(url: str) -> Any:
    return urllib.request.urlopen(url, timeout=20)


def test_a_page_opens_in_a_browser_until_it_is_taken_away(bucket: str, store: LinkStore) -> None:
    link = share(findings(), to=TO, base_url=f"{bucket}/pages", store=store)
    with opened(link.url) as answer:
        page = answer.read().decode()
        assert answer.headers["Content-Type"].startswith("text/html")
        assert answer.headers["Cache-Control"] == "no-store"
    assert page.startswith("<!doctype html>")
    assert page.rstrip().endswith("</html>")
    assert "T-1" in page
    ended = unshare(link.url, store=store)
    assert (ended.standing, ended.still_there) == ("revoked", False)
    with pytest.raises(HTTPError, match="404"):
        opened(link.url)
    with opened(f"{bucket}/pages/notes.txt") as answer, \
            opened(f"{bucket}/pages/index.html") as start:
        assert answer.read() == b"mine"
        assert start.read() == NOTHING_HERE


def test_a_page_goes_at_the_next_command_after_its_day(
    bucket: str, store: LinkStore, clock: HandClock
) -> None:
    link = share(findings(), to=TO, base_url=f"{bucket}/pages", days=2, store=store)
    clock.go(days=2)
    assert take_away_ended(store=store) == ([link.number], [])
    with pytest.raises(HTTPError, match="404"):
        opened(link.url)


def test_a_bucket_that_is_not_there_is_said_and_leaves_no_open_link(
    bucket: str, store: LinkStore
) -> None:
    with pytest.raises(ShareError, match="bucket does not exist"):
        share(findings(), to="s3://another/pages", store=store)
    assert [link.standing for link in store.links()] == ["revoked"]


def test_a_store_that_is_away_keeps_being_tried(
    bucket: str, store: LinkStore, monkeypatch: pytest.MonkeyPatch
) -> None:
    link = share(findings(), to=TO, base_url=f"{bucket}/pages", store=store)
    with monkeypatch.context() as away:
        away.setenv("AWS_ENDPOINT_URL", "http://127.0.0.1:9")
        away.setenv("AWS_MAX_ATTEMPTS", "1")
        assert unshare(link.number, store=store).still_there
    assert take_away_ended(store=store) == ([link.number], [])
