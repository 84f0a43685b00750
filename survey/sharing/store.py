"""The store of links: one SQLite file, hashes only, each page frozen and compressed in it.

A link that has ended never lives again, whatever the clock does later: that it ended is written
down, and its page is erased in the same step.
"""

from __future__ import annotations

import contextlib
import gzip
import hmac
import os
import sqlite3
import threading
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from survey.errors import ShareError
from survey.sharing.home import store_path
from survey.sharing.links import (
    Clock,
    FrozenPage,
    Link,
    Standing,
    new_token,
    token_hash,
    utc_now,
)

LONGEST_DAYS = 3650
LARGEST_PAGE_BYTES = 20_000_000
_LONGEST_LABEL = 200
_BUSY_SECONDS = 20.0
_NOTHING = (bytes(32), 0, "revoked", "", None, 0)
_TABLE = """
CREATE TABLE IF NOT EXISTS links (
    number INTEGER PRIMARY KEY AUTOINCREMENT,
    token_hash BLOB NOT NULL UNIQUE CHECK (length(token_hash) = 32),
    label TEXT NOT NULL,
    made_at INTEGER NOT NULL,     -- seconds since 1970, UTC
    expires_at INTEGER NOT NULL,  -- seconds since 1970, UTC
    ended TEXT CHECK (ended IN ('expired', 'revoked')),
    policy TEXT NOT NULL,
    page BLOB,                    -- NULL where it has ended, or was published to a folder
    folder TEXT NOT NULL DEFAULT '',
    taken_away INTEGER NOT NULL DEFAULT 0
)
"""
# What stores made before pages could be published lack.
_ADDED = {
    "folder": "ALTER TABLE links ADD COLUMN folder TEXT NOT NULL DEFAULT ''",
    "taken_away": "ALTER TABLE links ADD COLUMN taken_away INTEGER NOT NULL DEFAULT 0",
}
_END = "UPDATE links SET ended = ?, page = NULL WHERE ended IS NULL AND "


class LinkStore:
    """Links and their pages. Safe to use from many threads and many processes at once.

    Parameters
    ----------
    path
        The SQLite file; None is the one in the user's own data folder. It is made, readable by
        this user only, if it is not there.
    clock
        Gives the time now, with its time zone.

    Raises
    ------
    ShareError
        The file cannot be made or opened, or is not a store of links.
    """

    def __init__(self, path: Path | None = None, *, clock: Clock = utc_now) -> None:
        self.path = store_path() if path is None else path
        self._clock = clock
        self._lock = threading.Lock()
        with self._told():
            _make_private(self.path)
            self._connection = _connected(self.path)

    def __enter__(self) -> LinkStore:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Close the file; the store cannot be used afterwards."""
        with self._lock:
            self._connection.close()

    def create(
        self, page: bytes, *, policy: str, label: str = "", days: int = 30, folder: str = ""
    ) -> tuple[str, Link]:
        """Freeze a page and return the token that opens it, which is told this once only.

        Parameters
        ----------
        page
            The page, HTML in UTF-8.
        policy
            The content policy that the page is sent with.
        label
            What the technician calls it; never shown to the owner.
        days
            How long the link lasts, 1 to 3650.
        folder
            Where the page is to be published. It is then not kept here, and no token opens it.

        Raises
        ------
        ShareError
            The days are out of range, the page is too large, or the store cannot be written.
        """
        _check(page, days)
        made = self._clock()
        expires = made + timedelta(days=days)
        token, label = new_token(), label[:_LONGEST_LABEL]
        row = (
            token_hash(token), label, int(made.timestamp()), int(expires.timestamp()), policy,
            None if folder else gzip.compress(page, 6, mtime=0), folder,
        )
        with self._writing() as connection:
            connection.execute(f"{_END} expires_at <= ?", ("expired", row[2]))
            number = connection.execute(
                "INSERT INTO links (token_hash, label, made_at, expires_at, policy, page, folder) "
                "VALUES (?, ?, ?, ?, ?, ?, ?)", row,
            ).lastrowid
        assert number is not None
        return token, Link(number, label, _moment(row[2]), _moment(row[3]), "open", folder)

    def lookup(self, token: str) -> FrozenPage | None:
        """Return the page that a token opens, None if it opens none, for whatever reason.

        Every token goes the same way, however it looks: it is hashed, looked for by its hash,
        and the hash found is compared in constant time.
        """
        sought = token_hash(token)
        found = self._row(
            "SELECT token_hash, expires_at, ended, policy, page, number FROM links "
            "WHERE token_hash = ?", sought,
        )
        kept, expires, ended, policy, page, number = found or _NOTHING
        if not hmac.compare_digest(kept, sought) or ended or page is None:
            return None
        if self._clock().timestamp() >= expires:
            self._end(number, "expired")
            return None
        return FrozenPage(page, policy)

    def links(self) -> list[Link]:
        """Return every link ever made, the newest first, without tokens or pages."""
        with self._writing() as connection:
            now = int(self._clock().timestamp())
            connection.execute(f"{_END} expires_at <= ?", ("expired", now))
            rows = connection.execute(
                "SELECT number, label, made_at, expires_at, coalesce(ended, 'open'), folder, "
                "folder != '' AND ended IS NOT NULL AND NOT taken_away "
                "FROM links ORDER BY number DESC"
            ).fetchall()
        return [
            Link(number, label, _moment(made), _moment(expires), standing, folder, bool(there))
            for number, label, made, expires, standing, folder, there in rows
        ]

    def to_take_away(self) -> list[tuple[int, str, bytes]]:
        """Return number, folder and token hash of each ended page that may be in a folder still."""
        with self._writing() as connection:
            now = int(self._clock().timestamp())
            connection.execute(f"{_END} expires_at <= ?", ("expired", now))
            return connection.execute(
                "SELECT number, folder, token_hash FROM links WHERE "
                "folder != '' AND ended IS NOT NULL AND NOT taken_away ORDER BY number"
            ).fetchall()

    def took_away(self, number: int) -> None:
        """Write down that an ended page is no longer in its folder."""
        with self._writing() as connection:
            connection.execute("UPDATE links SET taken_away = 1 WHERE number = ?", (number,))

    def revoke(self, number: int) -> Link:
        """End a link now and erase its page; the next request with its token finds nothing.

        Revoking a link that has ended already changes nothing.

        Raises
        ------
        ShareError
            There is no link with this number.
        """
        self._end(number, "revoked")
        for link in self.links():
            if link.number == number:
                return link
        raise ShareError(
            "The number of a link was expected", found=str(number)[:40],
            do="see the numbers with: survey shares",
        )

    def number_of(self, token: str) -> int | None:
        """Return the number of the link that a token belongs to, ended or not; None if none."""
        found = self._row("SELECT number FROM links WHERE token_hash = ?", token_hash(token))
        return int(found[0]) if found else None

    def _row(self, query: str, value: bytes) -> tuple[Any, ...] | None:
        with self._told(), self._lock:
            row: tuple[Any, ...] | None = self._connection.execute(query, (value,)).fetchone()
        return row

    def _end(self, number: int, how: Standing) -> None:
        with self._writing() as connection:
            connection.execute(f"{_END} number = ?", (how, number))
        with self._lock, contextlib.suppress(sqlite3.Error):
            # The erased page must not live on in the write-ahead file; a reader may delay this.
            self._connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")

    @contextlib.contextmanager
    def _writing(self) -> Iterator[sqlite3.Connection]:
        with self._told(), self._lock:
            self._connection.execute("BEGIN IMMEDIATE")
            try:
                yield self._connection
                self._connection.execute("COMMIT")
            except BaseException:
                with contextlib.suppress(sqlite3.Error):
                    self._connection.execute("ROLLBACK")
                raise

    @contextlib.contextmanager
    def _told(self) -> Iterator[None]:
        try:
            yield
        except (sqlite3.Error, OSError) as error:
            raise ShareError(
                "A store of links that can be opened and written was expected",
                found=str(error)[:200], where=str(self.path),
                do="free the file or its folder, or set SURVEY_HOME to another folder",
            ) from None


def _check(page: bytes, days: int) -> None:
    if not 1 <= days <= LONGEST_DAYS:
        raise ShareError(
            f"A link lasts 1 to {LONGEST_DAYS:,} days", found=f"{days:,}",
            do="give another number of --days",
        )
    if len(page) > LARGEST_PAGE_BYTES:
        raise ShareError(
            f"A page of at most {LARGEST_PAGE_BYTES:,} bytes was expected",
            found=f"{len(page):,} bytes", do="share fewer areas",
        )


def _connected(path: Path) -> sqlite3.Connection:
    connection = sqlite3.connect(
        path, timeout=_BUSY_SECONDS, isolation_level=None, check_same_thread=False
    )
    try:
        # Erased pages are overwritten, and what is acknowledged is on the disk.
        for setting in ("journal_mode=WAL", "synchronous=FULL", "secure_delete=ON"):
            connection.execute(f"PRAGMA {setting}")
        connection.execute(_TABLE)
        _add_columns(connection)
    except BaseException:
        connection.close()
        raise
    return connection


def _add_columns(connection: sqlite3.Connection) -> None:
    known = {row[1] for row in connection.execute("PRAGMA table_info(links)")}
    if _ADDED.keys() <= known:
        return
    connection.execute("BEGIN IMMEDIATE")  # two processes may find an old store at one time
    known = {row[1] for row in connection.execute("PRAGMA table_info(links)")}
    for name, statement in _ADDED.items():
        if name not in known:
            connection.execute(statement)
    connection.execute("COMMIT")


def _make_private(path: Path) -> None:
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    # SQLite gives its side files the mode of the file itself, so this one call covers them.
    os.close(os.open(path, os.O_CREAT | os.O_RDWR, 0o600))
    path.chmod(0o600)


def _moment(seconds: int) -> datetime:
    return datetime.fromtimestamp(seconds, UTC)
