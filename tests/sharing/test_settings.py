"""The settings that sharing rests on, each where it takes effect."""

from __future__ import annotations

import asyncio
import gzip
import hashlib
from pathlib import Path
from typing import Any

import pytest
import uvicorn
from platformdirs import user_data_path

from sharing.conftest import POLICY, Caller, HandClock
from survey.errors import ShareError
from survey.sharing import guesses, home
from survey.sharing import store as store_module
from survey.sharing.guesses import Guesses
from survey.sharing.links import token_hash
from survey.sharing.pages import HEADERS, NOTHING_HERE, NOTHING_POLICY, owner_app
from survey.sharing.server import log_config, serve_pages
from survey.sharing.store import LinkStore


def test_the_store_writes_through_and_overwrites_what_it_erases(store: LinkStore) -> None:
    def pragma(name: str) -> Any:
        return store._connection.execute(f"PRAGMA {name}").fetchone()[0]

    assert (pragma("journal_mode"), pragma("synchronous"), pragma("secure_delete")) == ("wal", 2, 1)
    assert pragma("busy_timeout") == 20_000


def test_a_page_may_be_large_and_no_larger(
    store: LinkStore, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert store_module.LARGEST_PAGE_BYTES == 20_000_000
    monkeypatch.setattr(store_module, "LARGEST_PAGE_BYTES", 1_000)
    token, _ = store.create(b"x" * 1_000, policy=POLICY)
    assert store.lookup(token) is not None
    with pytest.raises(ShareError, match=r"at most 1,000 bytes .* Found: 1,001 bytes.*fewer areas"):
        store.create(b"x" * 1_001, policy=POLICY)


def test_ten_years_is_the_longest_and_labels_are_cut(store: LinkStore, clock: HandClock) -> None:
    token, link = store.create(b"x", policy=POLICY, days=3650, label="y" * 300)
    assert link.label == "y" * 200 == store.links()[0].label
    clock.go(days=3650, seconds=-1)
    assert store.lookup(token) is not None
    assert store.create(b"x", policy=POLICY)[1].expires_at.timestamp() == int(
        clock.now.timestamp()) + 30 * 86_400


def test_times_are_kept_to_the_second_in_utc(store: LinkStore, clock: HandClock) -> None:
    _, link = store.create(b"x", policy=POLICY, days=1)
    assert [(one.made_at, one.expires_at) for one in store.links()] == [
        (link.made_at, link.expires_at)]
    assert link.made_at == clock.now
    assert link.made_at.utcoffset() is not None


def test_only_so_much_of_what_was_asked_for_is_hashed() -> None:
    assert token_hash("a" * 43) == hashlib.sha256(b"a" * 43).digest()
    assert token_hash("a" * 200) == token_hash("a" * 9_000) != token_hash("a" * 199)


def test_the_store_is_where_the_user_says(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("SURVEY_HOME", str(tmp_path))
    assert home.store_path() == tmp_path / "links.sqlite"
    monkeypatch.setenv("SURVEY_HOME", "~/kept")
    assert home.home() == Path.home() / "kept"
    monkeypatch.setenv("SURVEY_HOME", "  ")
    assert home.home() == user_data_path("survey", appauthor=False)


def test_a_busy_store_is_waited_for_and_closed_after_a_failure(tmp_path: Path) -> None:
    with LinkStore(tmp_path / "links.sqlite") as store:
        token, _ = store.create(b"x", policy=POLICY)
    with pytest.raises(ShareError, match=r"Where: .*links\.sqlite\. What to do: free the file"):
        store.lookup(token)


def test_the_brake_lets_twenty_a_minute_pass_and_then_holds_for_a_second() -> None:
    now, waits = [0.0], []

    async def noted(seconds: float) -> None:
        waits.append(seconds)

    async def play() -> None:
        brake = Guesses(sleep=noted, monotonic=lambda: now[0])
        for _ in range(20):
            await brake.miss("192.0.2.1")
        assert waits == []
        await brake.miss("192.0.2.1")
        await brake.miss("192.0.2.2")  # another one is counted apart
        assert waits == [1.0]
        now[0] = 60.0
        await brake.miss("192.0.2.1")
        assert waits == [1.0, 1.0]
        now[0] = 60.1
        await brake.miss("192.0.2.1")
        assert waits == [1.0, 1.0]
        for _ in range(21):
            await brake.miss("no address at all")
        assert len(waits) == 3
        assert brake._waiting == 0

    asyncio.run(play())
    assert (guesses.MOST_WAITING, guesses.MOST_CLIENTS) == (100, 10_000)


def test_households_are_told_apart_and_the_oldest_forgotten(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(guesses, "MOST_CLIENTS", 2)
    brake = Guesses(monotonic=lambda: 0.0)

    async def play() -> None:
        for client in ("2001:db8:0:1::1", "2001:db8:0:1::2", "2001:db8:0:2::1", "x" * 90):
            await brake.miss(client)

    asyncio.run(play())
    assert brake._clients == {"2001:db8:0:2::/64": (0.0, 1), "x" * 64: (0.0, 1)}


def test_the_server_is_started_with_nothing_that_tells(
    store: LinkStore, monkeypatch: pytest.MonkeyPatch
) -> None:
    given: dict[str, Any] = {}

    class Stopped:
        def __init__(self, config: object) -> None:
            given["config"] = config

        def run(self) -> None:
            raise KeyboardInterrupt  # how a person stops it: no error

    def config(app: object, **settings: Any) -> str:
        given.update(settings, app=app)
        return "the config"

    monkeypatch.setattr(uvicorn, "Config", config)
    monkeypatch.setattr(uvicorn, "Server", Stopped)
    serve_pages("127.0.0.5", 8123, base="https://x.example.com/steam", store=store)
    assert given["config"] == "the config"
    assert {k: v for k, v in given.items() if k not in ("app", "config", "log_config")} == {
        "host": "127.0.0.5", "port": 8123, "access_log": False, "server_header": False,
        "log_level": "warning", "lifespan": "off", "ws": "none", "timeout_keep_alive": 10,
        "http": "h11", "h11_max_incomplete_event_size": 16_384,
    }
    token, _ = store.create(b"page", policy=POLICY)
    assert Caller(given["app"])("GET", f"/steam/f/{token}").body == b"page"
    log = given["log_config"]
    assert log == log_config()
    assert set(log["loggers"]) == {"uvicorn", "asyncio", "starlette"}
    for logger in log["loggers"].values():
        assert logger == {"handlers": ["stderr"], "level": "WARNING", "propagate": False}
    assert (log["version"], log["disable_existing_loggers"]) == (1, False)


def test_the_headers_are_these_and_no_others(store: LinkStore) -> None:
    token, _ = store.create(b"page", policy=POLICY)
    ask = Caller(owner_app(store))
    found, missed = ask("GET", f"/f/{token}").headers, ask("GET", "/f/x").headers
    assert HEADERS["Cache-Control"] == "no-store"
    assert HEADERS["Cross-Origin-Opener-Policy"] == "same-origin"
    assert HEADERS["Cross-Origin-Resource-Policy"] == "same-origin"
    assert HEADERS["Referrer-Policy"] == "no-referrer"
    assert HEADERS["X-Content-Type-Options"] == "nosniff"
    assert HEADERS["X-Frame-Options"] == "DENY"
    assert HEADERS["X-Robots-Tag"] == "noindex, nofollow, noarchive"
    sent = {name.lower() for name in HEADERS} | {
        "content-type", "content-length", "content-security-policy"}
    assert set(found) == sent == set(missed)
    assert missed["content-security-policy"] == f"{NOTHING_POLICY}; img-src data:"
    assert NOTHING_POLICY == (
        "default-src 'none'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'")
    assert b"Nothing here" in NOTHING_HERE


def test_a_long_path_is_cut_before_it_is_looked_at(store: LinkStore) -> None:
    token, _ = store.create(b"page", policy=POLICY)
    ask = Caller(owner_app(store, prefix="/" + "p" * 1_900))
    assert ask("GET", f"/{'p' * 1_900}/f/{token}").status == 200
    longer = Caller(owner_app(store, prefix="/" + "p" * 1_990))
    assert longer("GET", f"/{'p' * 1_990}/f/{token}").status == 404


def test_the_page_is_packed_once_and_the_same_each_time(store: LinkStore) -> None:
    token, _ = store.create(b"page" * 99, policy=POLICY)
    page = store.lookup(token)
    assert page is not None
    assert page.gzipped == gzip.compress(b"page" * 99, 6, mtime=0)
