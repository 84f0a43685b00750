"""A link's life: made, found, expired, revoked, and never alive again."""

from __future__ import annotations

import gzip
import os
import sqlite3
import stat
import threading
import time
from pathlib import Path

import pytest

from sharing.conftest import PAGE, POLICY, HandClock
from survey.errors import ShareError
from survey.sharing.links import TOKEN_SHAPE
from survey.sharing.store import LinkStore


def all_bytes(place: Path) -> bytes:
    return b"".join(path.read_bytes() for path in sorted(place.parent.iterdir()))


def test_a_token_opens_the_page_it_was_made_for(store: LinkStore) -> None:
    token, link = store.create(PAGE, policy=POLICY, label="for the owner", days=30)
    found = store.lookup(token)
    assert found is not None
    assert gzip.decompress(found.gzipped) == PAGE
    assert found.policy == POLICY
    assert (link.number, link.label, link.standing) == (1, "for the owner", "open")
    assert (link.expires_at - link.made_at).days == 30


def test_tokens_are_256_bits_and_differ(store: LinkStore) -> None:
    tokens = {store.create(b"x", policy="")[0] for _ in range(50)}
    assert len(tokens) == 50
    assert all(TOKEN_SHAPE.fullmatch(token) for token in tokens)  # 43 characters of 6 bits


def test_no_token_is_in_any_file(store: LinkStore, place: Path) -> None:
    token, _ = store.create(PAGE, policy=POLICY)
    kept = all_bytes(place)
    assert len(kept) > 1000
    assert token.encode() not in kept
    assert token[:12].encode() not in kept


def test_only_this_user_can_read_the_files(store: LinkStore, place: Path) -> None:
    store.create(PAGE, policy=POLICY)
    modes = {p.name: stat.S_IMODE(p.stat().st_mode) for p in place.parent.iterdir()}
    assert set(modes) == {"links.sqlite", "links.sqlite-wal", "links.sqlite-shm"}
    assert set(modes.values()) == {0o600}
    assert stat.S_IMODE(place.parent.stat().st_mode) == 0o700


def test_a_wrong_token_opens_nothing(store: LinkStore) -> None:
    token, _ = store.create(PAGE, policy=POLICY)
    wrong = token[:-1] + ("A" if token[-1] != "A" else "Q")
    for guess in ("", "x", wrong, token + "A", token[:-1], token.lower(), "\ud800", "é" * 900,
                  "A" * 43, "' OR 1=1 --", "\x00"):
        if guess != token:
            assert store.lookup(guess) is None


def test_it_ends_on_its_day_to_the_second(store: LinkStore, clock: HandClock) -> None:
    token, _ = store.create(PAGE, policy=POLICY, days=2)
    clock.go(days=2, seconds=-1)
    assert store.lookup(token) is not None
    clock.go(seconds=1)
    assert store.lookup(token) is None
    assert [link.standing for link in store.links()] == ["expired"]


@pytest.mark.parametrize("back_days", [1, 5, 400, 9000])
def test_a_clock_set_back_revives_nothing(
    store: LinkStore, clock: HandClock, back_days: int
) -> None:
    revoked, link = store.create(PAGE, policy=POLICY, days=30)
    expired, _ = store.create(PAGE, policy=POLICY, days=3)
    store.revoke(link.number)
    clock.go(days=4)
    assert store.lookup(expired) is None
    clock.go(days=-back_days)
    assert store.lookup(revoked) is None
    assert store.lookup(expired) is None
    assert {link.standing for link in store.links()} == {"revoked", "expired"}


def test_revoking_works_at_once_and_in_another_process_too(
    store: LinkStore, place: Path, clock: HandClock
) -> None:
    token, link = store.create(PAGE, policy=POLICY)
    with LinkStore(place, clock=clock) as other:
        assert other.lookup(token) is not None
        assert store.revoke(link.number).standing == "revoked"
        assert other.lookup(token) is None
        assert other.revoke(link.number).standing == "revoked"


def test_an_ended_page_is_erased_from_the_files(
    store: LinkStore, place: Path, clock: HandClock
) -> None:
    noise = os.urandom(3000)
    zipped = gzip.compress(noise, 6, mtime=0)
    marker = zipped[1000:1040]
    _, link = store.create(noise, policy=POLICY)
    assert marker in all_bytes(place)
    store.revoke(link.number)
    assert marker not in all_bytes(place)


def test_an_expired_link_stays_expired_when_it_is_revoked(
    store: LinkStore, clock: HandClock
) -> None:
    _, link = store.create(PAGE, policy=POLICY, days=1)
    clock.go(days=2)
    assert [one.standing for one in store.links()] == ["expired"]
    assert store.revoke(link.number).standing == "expired"


def test_making_a_link_ends_those_whose_day_has_come(
    store: LinkStore, place: Path, clock: HandClock
) -> None:
    expired, _ = store.create(PAGE, policy=POLICY, days=1)
    clock.go(days=1)
    token, _ = store.create(PAGE, policy=POLICY)
    clock.go(days=-1)  # it was ended then, not only now that it is looked at
    assert [link.standing for link in store.links()] == ["open", "expired"]
    assert store.lookup(expired) is None
    assert store.lookup(token) is not None
    with sqlite3.connect(place) as raw:
        assert raw.execute("SELECT page IS NULL FROM links ORDER BY number").fetchall() == [
            (1,), (0,)]
    raw.close()


def test_an_unknown_number_is_an_error_in_words(store: LinkStore) -> None:
    with pytest.raises(ShareError, match=r"number of a link was expected. Found: 7\. .*shares"):
        store.revoke(7)


@pytest.mark.parametrize("days", [0, -1, 3651])
def test_days_out_of_range_make_no_link(store: LinkStore, days: int) -> None:
    with pytest.raises(ShareError, match=r"lasts 1 to 3,650 days"):
        store.create(PAGE, policy=POLICY, days=days)
    assert store.links() == []


def test_numbers_are_never_used_again(store: LinkStore) -> None:
    numbers = [store.create(b"x", policy="")[1].number for _ in range(3)]
    store.revoke(3)
    numbers.append(store.create(b"x", policy="")[1].number)
    assert numbers == [1, 2, 3, 4]
    assert [link.number for link in store.links()] == [4, 3, 2, 1]


def test_a_file_that_is_no_store_is_an_error_in_words(tmp_path: Path) -> None:
    bad = tmp_path / "links.sqlite"
    bad.write_bytes(b"no database at all" * 200)
    with pytest.raises(ShareError, match=r"store of links .* expected.*SURVEY_HOME"):
        LinkStore(bad)


def test_a_folder_that_cannot_be_made_is_an_error_in_words(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(ShareError, match=r"store of links"):
        LinkStore(tmp_path / "file" / "links.sqlite")


def test_a_half_done_write_leaves_the_old_state(store: LinkStore, place: Path) -> None:
    token, _ = store.create(PAGE, policy=POLICY)
    raw = sqlite3.connect(place, isolation_level=None)
    raw.execute("BEGIN IMMEDIATE")
    raw.execute("UPDATE links SET ended = 'revoked', page = NULL")
    raw.close()  # as a killed process would: nothing was committed
    assert store.lookup(token) is not None


def test_many_hands_at_once_lose_nothing(place: Path) -> None:
    """Threads with stores of their own and one shared, making and revoking at the same time."""
    errors: list[BaseException] = []
    kept: list[str] = []
    gone: list[str] = []

    def work(own: LinkStore) -> None:
        try:
            for at in range(12):
                token, link = own.create(PAGE, policy=POLICY, label=str(at))
                assert own.lookup(token) is not None
                if at % 2:
                    own.revoke(link.number)
                    assert own.lookup(token) is None
                (gone if at % 2 else kept).append(token)
        except BaseException as error:
            errors.append(error)

    shared = LinkStore(place)
    stores = [shared, shared, LinkStore(place), LinkStore(place)]
    threads = [threading.Thread(target=work, args=(own,)) for own in stores]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert errors == []
    with LinkStore(place) as after:
        assert sorted(link.number for link in after.links()) == list(range(1, 49))
        assert all(after.lookup(token) for token in kept)
        assert not any(after.lookup(token) for token in gone)
    for own in set(stores):
        own.close()


def test_a_store_left_open_to_others_is_closed_to_them(place: Path) -> None:
    LinkStore(place).close()
    place.chmod(0o644)
    LinkStore(place).close()
    assert stat.S_IMODE(place.stat().st_mode) == 0o600


def test_folders_above_the_store_are_made_and_it_opens_again(tmp_path: Path) -> None:
    path = tmp_path / "not" / "there" / "links.sqlite"
    for _ in range(2):
        with LinkStore(path) as made:
            made.create(PAGE, policy=POLICY)
    assert stat.S_IMODE((tmp_path / "not" / "there").stat().st_mode) == 0o700
    with LinkStore(path) as made:
        assert len(made.links()) == 2


def test_a_store_opens_while_another_program_writes_to_it(store: LinkStore, place: Path) -> None:
    # Whoever starts the pages must not wait for a technician who is sharing, nor the other way.
    token, _ = store.create(PAGE, policy=POLICY)
    writer = sqlite3.connect(place, isolation_level=None)
    try:
        writer.execute("BEGIN IMMEDIATE")
        start = time.monotonic()
        with LinkStore(place) as other:
            assert other.lookup(token) is not None
        assert time.monotonic() - start < 5.0
    finally:
        writer.close()


@pytest.mark.skipif(not Path("/proc/self/fd").exists(), reason="open files are told by Linux only")
def test_a_file_that_is_no_store_is_let_go_of(tmp_path: Path) -> None:
    path = tmp_path / "links.sqlite"
    path.write_bytes(b"not a database at all, and longer than its header would be" * 40)
    with pytest.raises(ShareError) as told:
        LinkStore(path)
    still_open = {os.path.realpath(one) for one in Path("/proc/self/fd").iterdir()}
    assert str(path.resolve()) not in still_open, told  # the error is still held here
