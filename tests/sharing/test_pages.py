"""The owner's pages: a valid link gets its page, everything else one and the same answer."""

from __future__ import annotations

import asyncio
import gzip
import statistics
import time

import pytest

from sharing.conftest import PAGE, POLICY, Answer, Caller, HandClock
from survey.sharing import guesses as guesses_module
from survey.sharing.guesses import Guesses
from survey.sharing.pages import HEADERS, NOTHING_HERE, owner_app
from survey.sharing.store import LinkStore

GUESS = "A" * 43
METHODS = ("POST", "PUT", "PATCH", "DELETE", "OPTIONS", "TRACE", "CONNECT", "PROPFIND", "get")


async def no_wait(_: float) -> None:
    return None


@pytest.fixture
def ask(store: LinkStore) -> Caller:
    return Caller(owner_app(store, prefix="/steam", guesses=Guesses(sleep=no_wait)))


def test_a_valid_link_gets_its_page(ask: Caller, store: LinkStore) -> None:
    token, _ = store.create(PAGE, policy=POLICY)
    got = ask("GET", f"/f/{token}")
    assert (got.status, got.body) == (200, PAGE)
    assert got.headers["content-type"] == "text/html; charset=utf-8"
    assert ask("GET", f"/f/{token}?from=mail").body == PAGE


def test_everything_else_is_answered_alike(
    ask: Caller, store: LinkStore, clock: HandClock
) -> None:
    valid, _ = store.create(PAGE, policy=POLICY, days=300)
    revoked, link = store.create(PAGE, policy=POLICY)
    expired, _ = store.create(PAGE, policy=POLICY, days=1)
    store.revoke(link.number)
    clock.go(days=2)
    paths = [
        "/", "/f", "/f/", f"/f/{GUESS}", f"/f/{revoked}", f"/f/{expired}", f"/f/{expired}",
        f"/f/{valid}/", f"/f/{valid}x", f"/f/{valid[:-1]}", f"/f/{valid.upper()}", f"//f/{valid}",
        f"/F/{valid}", f"/{valid}", f"/f/f/{valid}", f"/f/../f/x{valid}", f"/f/%00{valid}",
        f"/f/{valid}%00", "/robots.txt", "/favicon.ico", "/.git/config", "/admin", "/docs",
        "/openapi.json", "/f/%2e%2e%2fetc", "/f/<script>", "/f/" + "A" * 5000, "/steam", "/steam/",
        f"/steam/f/{GUESS}", f"/other/f/{valid}", "/f/%ff%fe", "/f/é",
        f"/f/{valid}%0a", "/f/x%0d%0aSet-Cookie:%20a=b", "%0a", f"/f/%E2%80%AE{valid}",
        f"http://elsewhere.example/f/{valid}", "*",
    ]
    answers = [(path, ask("GET", path)) for path in paths]
    answers += [(method, ask(method, f"/f/{valid}")) for method in METHODS]
    answers += [(method, ask(method, f"/f/{GUESS}")) for method in METHODS]
    first: Answer = answers[0][1]
    assert (first.status, first.body) == (404, NOTHING_HERE)
    assert [a for a in answers if a[1] != first] == []
    assert ask("GET", f"/f/{valid}").status == 200  # it was valid all the while


def test_head_is_get_without_its_body(ask: Caller, store: LinkStore) -> None:
    token, _ = store.create(PAGE, policy=POLICY)
    for path, length in ((f"/f/{token}", None), (f"/f/{GUESS}", len(NOTHING_HERE))):
        whole, head = ask("GET", path), ask("HEAD", path)
        assert (head.status, head.headers) == (whole.status, whole.headers)
        assert head.body == b""
        assert length is None or int(head.headers["content-length"]) == length


@pytest.mark.parametrize("valid", [True, False])
def test_headers_keep_the_page_to_itself(
    ask: Caller, store: LinkStore, valid: bool
) -> None:
    token, _ = store.create(PAGE, policy=POLICY)
    headers = ask("GET", f"/f/{token if valid else GUESS}").headers
    assert headers["cache-control"] == "no-store"
    assert "noindex" in headers["x-robots-tag"]
    assert headers["referrer-policy"] == "no-referrer"
    assert headers["x-content-type-options"] == "nosniff"
    assert "geolocation=()" in headers["permissions-policy"]
    policy = headers["content-security-policy"]
    assert policy.startswith("default-src 'none'")
    assert "frame-ancestors 'none'" in policy
    assert "unsafe" not in policy
    if valid:
        assert policy.startswith(POLICY)
    assert not {"server", "set-cookie", "etag", "last-modified", "location", "allow"} & set(headers)
    assert {name.lower() for name in HEADERS} <= set(headers)


def test_no_answer_repeats_the_token(
    ask: Caller, store: LinkStore, clock: HandClock
) -> None:
    token, link = store.create(PAGE, policy=POLICY)
    seen = [ask("GET", f"/f/{token}"), ask("POST", f"/f/{token}"), ask("GET", f"/f/{token}/")]
    store.revoke(link.number)
    seen.append(ask("GET", f"/f/{token}"))
    assert [got.status for got in seen] == [200, 404, 404, 404]
    for got in seen:
        assert token.encode() not in got.body
        assert token not in str(got.headers)


def test_the_page_goes_compressed_where_that_is_understood(
    ask: Caller, store: LinkStore
) -> None:
    token, _ = store.create(PAGE, policy=POLICY)
    for accepted, zipped in (
        ("gzip, br", True), ("br;q=1.0, gzip;q=0.8", True), ("identity", False), ("", False),
        ("gzip;q=0", False), ("gzip; q=0.0, br", False),
    ):
        got = ask("GET", f"/f/{token}", accept_encoding=accepted)
        assert (got.headers.get("content-encoding") == "gzip") is zipped
        assert got.headers["vary"] == "Accept-Encoding"
        assert int(got.headers["content-length"]) == len(got.body)
        assert (gzip.decompress(got.body) if zipped else got.body) == PAGE


def test_a_prefix_left_on_by_a_server_in_front_is_taken_off(
    ask: Caller, store: LinkStore
) -> None:
    token, _ = store.create(PAGE, policy=POLICY)
    assert ask("GET", f"/steam/f/{token}").body == PAGE
    assert ask("GET", f"/f/{token}").body == PAGE
    rooted = Caller(owner_app(store), root_path="/under/it")
    assert rooted("GET", f"/under/it/f/{token}").body == PAGE
    assert rooted("GET", f"/steam/f/{token}").status == 404


def test_a_store_that_fails_shows_nothing(ask: Caller, store: LinkStore) -> None:
    token, _ = store.create(PAGE, policy=POLICY)
    wanted = ask("GET", f"/f/{GUESS}")
    store.close()
    assert ask("GET", f"/f/{token}") == wanted


def test_a_websocket_is_turned_away(ask: Caller, store: LinkStore) -> None:
    token, _ = store.create(PAGE, policy=POLICY)
    sent = []

    async def receive() -> dict[str, str]:
        return {"type": "websocket.connect"}

    async def send(message: dict[str, object]) -> None:
        sent.append((message["type"], message["code"]))

    scope = {"type": "websocket", "path": f"/f/{token}", "root_path": "", "headers": []}
    asyncio.run(ask.app(scope, receive, send))
    assert sent == [("websocket.close", 1008)]


def test_guessing_is_slowed_and_never_shuts_a_valid_link_out(store: LinkStore) -> None:
    waits: list[float] = []

    async def noted(seconds: float) -> None:
        waits.append(seconds)

    token, _ = store.create(PAGE, policy=POLICY)
    brake = Guesses(free=5, wait_seconds=1.0, sleep=noted, monotonic=lambda: 0.0)
    one = Caller(owner_app(store, guesses=brake))
    for _ in range(5):
        assert one("GET", f"/f/{GUESS}").status == 404
    assert waits == []
    for _ in range(40):
        assert one("GET", f"/f/{GUESS}").status == 404
        assert one("GET", f"/f/{token}").body == PAGE
    assert waits == [1.0] * 40  # only the misses waited


def test_one_who_guesses_slows_nobody_else(store: LinkStore) -> None:
    waits: list[float] = []

    async def noted(seconds: float) -> None:
        waits.append(seconds)

    app = owner_app(store, guesses=Guesses(free=2, sleep=noted, monotonic=lambda: 0.0))
    guesser, other = Caller(app), Caller(app, client=("198.51.100.4", 5678))
    for _ in range(3):
        guesser("GET", f"/f/{GUESS}")
    assert len(waits) == 1
    other("GET", f"/f/{GUESS}")
    assert len(waits) == 1
    # A server in front that asks by a file has no address, and is answered all the same.
    assert Caller(app, client=None)("GET", f"/f/{GUESS}").status == 404


def test_the_brake_forgets_and_stays_small(monkeypatch: pytest.MonkeyPatch) -> None:
    now, waits = [0.0], []

    async def noted(seconds: float) -> None:
        waits.append(seconds)

    brake = Guesses(free=1, sleep=noted, monotonic=lambda: now[0])
    monkeypatch.setattr(guesses_module, "MOST_CLIENTS", 50)

    async def play() -> None:
        await brake.miss("192.0.2.1")
        await brake.miss("192.0.2.1")
        assert len(waits) == 1
        now[0] = 61.0
        await brake.miss("192.0.2.1")
        assert len(waits) == 1
        await brake.miss("2001:db8:0:1::1")
        await brake.miss("2001:db8:0:1:ffff::2")  # the same household
        assert len(waits) == 2
        for at in range(300):
            await brake.miss(f"198.51.{at % 256}.{at // 256}")

    asyncio.run(play())
    assert len(brake._clients) == 50


def test_waiting_cannot_fill_the_server(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(guesses_module, "MOST_WAITING", 3)
    waiting = 0
    most = 0

    async def slow(_: float) -> None:
        nonlocal waiting, most
        waiting += 1
        most = max(most, waiting)
        await asyncio.sleep(0.01)
        waiting -= 1

    async def play() -> None:
        brake = Guesses(free=0, sleep=slow)
        await asyncio.gather(*(brake.miss("192.0.2.1") for _ in range(50)))

    asyncio.run(play())
    assert most == 3


def test_misses_take_the_same_time(store: LinkStore, clock: HandClock) -> None:
    """Medians of looking up a guess, a revoked, an expired and a malformed token.

    The bound is wide, for a busy machine; what it must catch is work done for one kind only,
    such as unpacking a page (some 500 microseconds) or a write to the disk.
    """
    revoked, link = store.create(PAGE * 300, policy=POLICY)
    expired, _ = store.create(PAGE * 300, policy=POLICY, days=1)
    store.revoke(link.number)
    clock.go(days=2)
    store.lookup(expired)
    tokens = {"guess": GUESS, "revoked": revoked, "expired": expired, "malformed": "x" * 5000}
    times: dict[str, list[float]] = {name: [] for name in tokens}
    for _ in range(300):
        for name, token in tokens.items():
            start = time.perf_counter()
            store.lookup(token)
            times[name].append(time.perf_counter() - start)
    medians = {name: statistics.median(seen) for name, seen in times.items()}
    assert max(medians.values()) - min(medians.values()) < 100e-6, medians
