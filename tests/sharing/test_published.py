"""Pages published to a folder or an object store: whole, never over another, taken away again."""

from __future__ import annotations

import functools
import http.server
import os
import sqlite3
import threading
import time
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import fsspec
import pytest
from fsspec.implementations.memory import MemoryFileSystem
from reports.build import findings

from sharing.conftest import HandClock
from survey.errors import ShareError
from survey.sharing import folders, list_links, share, take_away_ended, unshare
from survey.sharing.folders import INDEX, Folder
from survey.sharing.links import TOKEN_SHAPE, new_token, token_hash
from survey.sharing.pages import NOTHING_HERE
from survey.sharing.share import NO_ADDRESS
from survey.sharing.store import LinkStore

BASE = "https://pages.example.com/steam"


class Shelf(MemoryFileSystem):  # type: ignore[misc]  # the library has no types
    """A store in memory under a name of its own: only here does it last long enough."""

    protocol = "shelf"

    @classmethod
    def _strip_protocol(cls, path: str) -> str:
        return str(super()._strip_protocol(path.replace("shelf://", "memory://")))


fsspec.register_implementation("shelf", Shelf, clobber=True)
MINE = 'files of mine, such as "notes.html"'

pytestmark = pytest.mark.thorough


@pytest.fixture(params=["folder", "memory", "local"])
def place(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """Give the address of an empty place of either kind, with one file that is not ours."""
    kept = tmp_path / "shown"
    kept.mkdir()
    # "local" is a folder too, but reached as every other kind of store is.
    said = {"folder": str(kept), "memory": f"shelf://bucket/{tmp_path.name}",
            "local": f"local://{kept}"}[str(request.param)]
    put(said, "notes.html", MINE)
    yield said
    MemoryFileSystem.store.clear()


@pytest.fixture
def store(tmp_path: Path, clock: HandClock) -> Iterator[LinkStore]:
    with LinkStore(tmp_path / "kept" / "links.sqlite", clock=clock) as made:
        yield made


def put(place: str, name: str, text: str) -> None:
    with fsspec.open(f"{place}/{name}", "w", encoding="utf-8") as stream:
        stream.write(text)


def names(place: str) -> set[str]:
    files, path = fsspec.core.url_to_fs(place)
    return {str(one).rpartition("/")[2] for one in files.ls(path, detail=False)}


def read(place: str, name: str) -> str:
    with fsspec.open(f"{place}/{name}", "r", encoding="utf-8") as stream:
        return str(stream.read())


def pages(place: str) -> set[str]:
    return {name for name in names(place) if TOKEN_SHAPE.fullmatch(name.removesuffix(".html"))}


def test_a_page_is_published_whole_under_a_name_nobody_guesses(
    place: str, store: LinkStore
) -> None:
    link = share(findings(), to=place, base_url=BASE, store=store)
    (name,) = pages(place)
    assert link.url == f"{BASE}/{name}"
    assert link.warning == ""
    page = read(place, name)
    assert page.startswith("<!doctype html>")
    assert page.rstrip().endswith("</html>")
    assert "T-1" in page
    assert names(place) == {name, INDEX, "notes.html"}
    assert read(place, "notes.html") == MINE


def test_only_what_was_chosen_is_published(place: str, store: LinkStore) -> None:
    share(findings(), to=place, areas=["Laundry"], show_money=False, store=store)
    (name,) = pages(place)
    assert "Glasshouse" not in read(place, name)
    assert "USD" not in read(place, name)


def test_the_token_is_in_no_file_of_the_store(place: str, store: LinkStore) -> None:
    link = share(findings(), to=place, store=store)
    token = link.url.rpartition("/")[2].removesuffix(".html")
    kept = b"".join(path.read_bytes() for path in store.path.parent.iterdir())
    assert token.encode() not in kept
    assert store.lookup(token) is None  # the pages' server does not show it as well


def test_unshare_takes_the_page_away_and_nothing_else(place: str, store: LinkStore) -> None:
    first = share(findings(), to=place, base_url=BASE, store=store)
    second = share(findings(), to=place, base_url=BASE, store=store)
    put(place, f"{new_token()}.html", MINE)  # named like a page, but none of ours
    before = names(place)
    ended = unshare(first.url, store=store)
    assert (ended.number, ended.standing, ended.still_there) == (first.number, "revoked", False)
    assert before - names(place) == {first.url.rpartition("/")[2]}
    unshare(second.number, store=store)
    assert len(pages(place)) == 1
    assert read(place, "notes.html") == MINE


def test_a_page_goes_at_the_next_command_after_its_day(
    place: str, store: LinkStore, clock: HandClock
) -> None:
    share(findings(), to=place, days=2, store=store)
    stays = share(findings(), to=place, days=20, base_url=BASE, store=store)
    clock.go(days=2, seconds=-1)
    assert take_away_ended(store=store) == ([], [])
    assert len(pages(place)) == 2
    clock.go(seconds=1)
    assert take_away_ended(store=store) == ([1], [])
    assert pages(place) == {stays.url.rpartition("/")[2]}
    assert take_away_ended(store=store) == ([], [])
    clock.go(days=-900)
    assert [link.standing for link in list_links(store=store)] == ["open", "expired"]


@pytest.mark.parametrize("by", ["share", "unshare"])
def test_making_or_ending_another_link_takes_ended_pages_away(
    place: str, store: LinkStore, clock: HandClock, by: str
) -> None:
    other = share(findings(), days=300, store=store)
    share(findings(), to=place, days=1, store=store)
    clock.go(days=1)
    if by == "share":
        share(findings(), store=store)
    else:
        unshare(other.number, store=store)
    assert pages(place) == set()


def test_nothing_is_ever_written_over(place: str) -> None:
    token = new_token()
    put(place, f"{token}.html", MINE)
    put(place, INDEX, MINE)
    with pytest.raises(ShareError, match="folder or store that pages can be written to"):
        Folder(place).publish(token, b"new")
    Folder(place).publish(new_token(), b"new")
    assert read(place, f"{token}.html") == MINE
    assert read(place, INDEX) == MINE


def test_a_page_that_cannot_be_published_leaves_no_open_link(
    place: str, store: LinkStore, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Folder, "_write", full)
    with pytest.raises(ShareError, match=r"No space left on device"):
        share(findings(), to=place, store=store)
    assert [link.standing for link in list_links(store=store)] == ["revoked"]
    assert names(place) == {"notes.html"}


def test_a_folder_that_is_away_keeps_being_tried(
    tmp_path: Path, store: LinkStore, clock: HandClock
) -> None:
    shown = tmp_path / "stick"
    shown.mkdir()
    link = share(findings(), to=str(shown), store=store)
    shown.rename(tmp_path / "pulled out")
    ended = unshare(link.number, store=store)
    assert (ended.standing, ended.still_there) == ("revoked", True)
    gone, problems = take_away_ended(store=store)
    assert gone == []
    assert "make the folder first" in str(problems[0])
    (tmp_path / "pulled out").rename(shown)
    assert take_away_ended(store=store) == ([link.number], [])
    assert [one.still_there for one in list_links(store=store)] == [False]


def test_a_server_that_lists_folders_shows_the_start_page(
    tmp_path: Path, store: LinkStore
) -> None:
    link = share(findings(), to=str(tmp_path), store=store)
    handler = functools.partial(_Quiet, directory=str(tmp_path))
    with http.server.ThreadingHTTPServer(("127.0.0.1", 0), handler) as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        base = f"http://127.0.0.1:{server.server_port}"
        with urllib.request.urlopen(f"{base}/") as start:
            listed = start.read()
        with urllib.request.urlopen(f"{base}/{link.url.rpartition('/')[2]}") as page:
            assert b"T-1" in page.read()
        server.shutdown()
    assert listed == NOTHING_HERE


class _Quiet(http.server.SimpleHTTPRequestHandler):
    def log_message(self, *_: object) -> None:
        return None


def test_without_an_address_the_link_is_the_file_and_says_so(
    tmp_path: Path, store: LinkStore
) -> None:
    link = share(findings(), to=str(tmp_path), store=store)
    assert link.url.startswith(f"{tmp_path.as_uri()}/")
    assert link.warning == NO_ADDRESS
    link = share(findings(), to="shelf://bucket/a", store=store)
    assert link.url.startswith("shelf://bucket/a/")
    inside = share(findings(), to=str(tmp_path), base_url="http://192.168.1.9", store=store)
    assert inside.warning.startswith("This link opens inside this network only")


def test_a_folder_is_known_again_from_another_one(
    tmp_path: Path, store: LinkStore, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "shown").mkdir()
    monkeypatch.chdir(tmp_path)
    link = share(findings(), to="shown", store=store)
    monkeypatch.chdir("/")
    assert not unshare(link.number, store=store).still_there
    assert pages(str(tmp_path / "shown")) == set()


@pytest.mark.parametrize(("said", "do"), [
    ("", "give a folder"), ("  ", "give a folder"), ("no such folder", "make the folder first"),
    ("https://pages.example.com", "as --base-url"), ("ftp://x.example", "as --base-url"),
    ("s3://me:pw@bucket/x", "no name, password"), ("s3://", "such as s3://bucket/pages"),
    ("memory://a/../../b", "no name, password, .."), ("memory://a/b?x=1", "no name, password"),
    ("memory://a/*", "no name, password"), ("simplecache::memory://a", "give a folder"),
    ("memory://a\n/b", "give a folder"), ("nonsense://a/b", "s3://, gs:// or another kind"),
    ("[::1", "give a folder"), ("memory://[a", "no name, password"),
    ("memory://bucket/a", "memory is gone when it ends"), ("memory://a", "outlasts this command"),
])
def test_what_is_no_folder_is_refused_in_words(store: LinkStore, said: str, do: str) -> None:
    with pytest.raises(ShareError, match="folder or an object store for the page") as error:
        share(findings(), to=said, store=store)
    assert do in str(error.value)
    assert "pw" not in str(error.value)
    assert list_links(store=store) == []


@pytest.mark.parametrize(("said", "package"), [
    ("s3://b/x", "s3fs"), ("s3a://b/x", "s3fs"), ("gs://b/x", "gcsfs"), ("gcs://b/x", "gcsfs"),
    ("az://b/x", "adlfs"), ("abfs://b/x", "adlfs"), ("sftp://b/x", "paramiko"),
    ("ssh://b/x", "paramiko"),
])
def test_a_store_whose_package_is_missing_names_it(
    store: LinkStore, said: str, package: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    def missing(*_: object, **__: object) -> None:
        raise ImportError("no such module")

    monkeypatch.setattr(fsspec.core, "url_to_fs", missing)
    with pytest.raises(ShareError, match=rf"What to do: run: pip install {package}\."):
        share(findings(), to=said, store=store)


def test_of_what_another_kind_of_store_says_it_lacks_a_line_or_two_are_shown(
    store: LinkStore, monkeypatch: pytest.MonkeyPatch
) -> None:
    def missing(*_: object, **__: object) -> None:
        raise ImportError("y" * 300)

    monkeypatch.setattr(fsspec.core, "url_to_fs", missing)
    with pytest.raises(ShareError, match="opens odd:// was expected") as error:
        share(findings(), to="odd://b/x", store=store)
    assert "y" * 200 in str(error.value)
    assert "y" * 201 not in str(error.value)


@pytest.mark.parametrize("token", ["../" + "a" * 40, "a/b", "", "a" * 43 + "/../x", "a" * 42 + "/"])
def test_a_name_is_never_a_path(place: str, token: str) -> None:
    before = names(place)
    with pytest.raises(AssertionError):
        Folder(place).publish(token, b"x")
    assert Folder(place).take_away(token_hash(token)) is False
    assert names(place) == before


def test_an_error_never_tells_the_token(store: LinkStore, tmp_path: Path) -> None:
    token = new_token()
    (tmp_path / f"{token}.html").mkdir()
    with pytest.raises(ShareError) as error:
        Folder(str(tmp_path)).publish(token, b"x")
    assert token not in str(error.value)
    with pytest.raises(ShareError) as error:
        Folder(str(tmp_path)).take_away(token_hash(token))
    assert token not in str(error.value)


def test_a_folder_that_knows_no_second_names_is_written_to_as_well(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def unknown(*_: object) -> None:
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr(os, "link", unknown)
    token = new_token()
    Folder(str(tmp_path)).publish(token, b"page")
    assert (tmp_path / f"{token}.html").read_bytes() == b"page"
    with pytest.raises(ShareError):
        Folder(str(tmp_path)).publish(token, b"other")
    assert (tmp_path / f"{token}.html").read_bytes() == b"page"
    assert {path.name for path in tmp_path.iterdir()} == {f"{token}.html", INDEX}


def test_others_may_read_the_page_and_only_this_user_write_it(tmp_path: Path) -> None:
    token = new_token()
    Folder(str(tmp_path)).publish(token, b"page")
    assert (tmp_path / f"{token}.html").stat().st_mode & 0o777 == 0o644


def test_what_a_killed_run_left_is_cleared_when_it_is_old(tmp_path: Path) -> None:
    old, new = tmp_path / ".survey-abcd1234.part", tmp_path / ".survey-efgh5678.part"
    mine = tmp_path / ".survey-notes of mine.part"
    for path in (old, new, mine):
        path.write_text("half")
    for path in (old, mine):
        os.utime(path, (time.time() - 4000,) * 2)
    Folder(str(tmp_path)).publish(new_token(), b"page")
    assert not old.exists()
    assert new.exists()
    assert mine.exists()


def test_a_store_made_before_folders_is_taken_over(tmp_path: Path, clock: HandClock) -> None:
    path = tmp_path / "links.sqlite"
    token = new_token()
    with sqlite3.connect(path) as old:
        old.execute(
            "CREATE TABLE links (number INTEGER PRIMARY KEY AUTOINCREMENT, token_hash BLOB NOT "
            "NULL UNIQUE, label TEXT NOT NULL, made_at INTEGER NOT NULL, expires_at INTEGER NOT "
            "NULL, ended TEXT, policy TEXT NOT NULL, page BLOB)"
        )
        old.execute(
            "INSERT INTO links VALUES (1, ?, 'old', 0, 4000000000, NULL, '', ?)",
            (token_hash(token), b"zipped"),
        )
    old.close()
    with LinkStore(path, clock=clock) as taken, LinkStore(path, clock=clock) as again:
        assert taken.lookup(token) is not None
        share(findings(), to="shelf://bucket/old", store=again)
        assert [link.folder for link in taken.links()] == ["shelf://bucket/old", ""]


def test_only_files_with_the_ending_of_pages_are_taken(place: str) -> None:
    token = new_token()
    put(place, token, MINE)
    put(place, f"{token}.html.bak", MINE)
    assert Folder(place).take_away(token_hash(token)) is False
    assert {token, f"{token}.html.bak"} <= names(place)


class Recorder(Shelf):
    """A store that notes what it was told beside each page."""

    told: list[dict[str, object]] = []  # noqa: RUF012  for all of them, as the library makes many

    def put_file(self, lpath: str, rpath: str, **told: object) -> None:
        self.told.append(told)
        super().put_file(lpath, rpath)


NO_STORE = {
    # As s3fs hands on to S3 itself, and as gcsfs names it.
    "s3": {"CacheControl": "no-store"}, "s3a": {"CacheControl": "no-store"},
    "gs": {"fixed_key_metadata": {"cache_control": "no-store"}},
    "gcs": {"fixed_key_metadata": {"cache_control": "no-store"}}, "abfs": {},
}  # fmt: skip


@pytest.mark.parametrize("kind", NO_STORE)
def test_each_store_is_told_in_its_own_way_that_nothing_is_to_be_kept(
    kind: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    Recorder.told.clear()
    monkeypatch.setattr(folders, "_files", lambda *_: Recorder())
    Folder(f"{kind}://bucket/pages").publish(new_token(), b"page")
    assert Recorder.told == [NO_STORE[kind]] * 2  # the page, and the start page beside it
