"""One way in for both databases: SQLite in a file, PostgreSQL by its address.

Writers take turns: on SQLite by its own lock, taken as the transaction begins; on PostgreSQL by a
lock on one row of `counters`. What is written is there whole or not at all, whatever stops the
program: SQLite undoes a half-written transaction when the file is next opened.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Connection, Engine, create_engine, event, select, text, update
from sqlalchemy.exc import SQLAlchemyError
from sqlalchemy.pool import NullPool

from survey.errors import RoundsError
from survey.rounds.home import on_a_server, shown
from survey.rounds.migrations import STEPS, migrate, version_of
from survey.rounds.tables import COUNTERS

BUSY_SECONDS = 30.0
_MIGRATION_LOCK = 7_203_651
"""Any number will do, as long as every survey takes the same."""


class Database:
    """The store's database, its tables up to date.

    Parameters
    ----------
    address
        As `home.store_address` gives it. A file is made, readable by this user only, if it is not
        there; a server's database must be there.

    Raises
    ------
    RoundsError
        It cannot be opened, is not a store of rounds, or is of a newer survey.
    """

    def __init__(self, address: str) -> None:
        self.where = shown(address)
        self.on_a_server = on_a_server(address)
        with self._told():
            self._engine = _server(address) if self.on_a_server else _file(Path(address))
            self._bring_up_to_date()

    def close(self) -> None:
        """Let go of the database."""
        self._engine.dispose()

    @contextlib.contextmanager
    def reading(self) -> Iterator[Connection]:
        """Give a connection that sees the store as it is at one moment."""
        with self._told(), self._engine.connect() as connection:
            if self.on_a_server:
                connection = connection.execution_options(isolation_level="REPEATABLE READ")
            yield connection

    @contextlib.contextmanager
    def writing(self) -> Iterator[Connection]:
        """Give a connection that alone writes; all is kept at the end, or nothing."""
        with self._told(), self._engine.connect() as connection:
            connection = connection.execution_options(writes=True)
            with connection.begin():
                rows = select(COUNTERS.c.last).where(COUNTERS.c.name == "rounds")
                connection.execute(rows.with_for_update())
                yield connection

    def _bring_up_to_date(self) -> None:
        with contextlib.suppress(SQLAlchemyError), self._engine.connect() as connection:
            # Most often there is nothing to do, and then nobody has to wait for a turn.
            if version_of(connection) == len(STEPS):
                return
        with self._engine.connect() as connection:
            connection = connection.execution_options(writes=True)
            with connection.begin():
                if self.on_a_server:
                    lock = text("SELECT pg_advisory_xact_lock(:number)")
                    connection.execute(lock, {"number": _MIGRATION_LOCK})
                migrate(connection, where=self.where)

    @contextlib.contextmanager
    def _told(self) -> Iterator[None]:
        try:
            yield
        except (SQLAlchemyError, OSError) as error:
            raise RoundsError(
                "A store of rounds that can be opened and written was expected",
                found=_reason(error),
                where=self.where,
                do="start its server or check its address"
                if self.on_a_server
                else "free the file or its folder, or name another after --store",
            ) from None


def next_number(connection: Connection, kind: str) -> int:
    """Return a number that nothing of this kind has had; call it while writing."""
    last = COUNTERS.c.last
    connection.execute(update(COUNTERS).where(COUNTERS.c.name == kind).values(last=last + 1))
    return int(connection.execute(select(last).where(COUNTERS.c.name == kind)).scalar_one())


def next_numbers(connection: Connection, kind: str, count: int) -> range:
    """Return as many such numbers, one after the other."""
    last = COUNTERS.c.last
    connection.execute(update(COUNTERS).where(COUNTERS.c.name == kind).values(last=last + count))
    end = int(connection.execute(select(last).where(COUNTERS.c.name == kind)).scalar_one())
    return range(end - count + 1, end + 1)


def _server(address: str) -> Engine:
    try:
        return create_engine(address, poolclass=NullPool)
    except ValueError:
        raise RoundsError(
            "An address as postgresql://USER@HOST:PORT/DATABASE was expected for the store",
            found="one whose port is no number", where=shown(address),
            do="check it; a password's own signs are written as %40 and the like",
        ) from None  # fmt: skip
    except ModuleNotFoundError:
        raise RoundsError(
            "The driver for PostgreSQL was expected",
            found="none installed",
            do="install it with: pip install 'survey[postgresql]'",
        ) from None


def _file(path: Path) -> Engine:
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    os.close(os.open(path, os.O_CREAT | os.O_RDWR, 0o600))
    engine = create_engine(
        URL.create("sqlite", database=str(path)),
        poolclass=NullPool,
        connect_args={"timeout": BUSY_SECONDS},
    )
    event.listen(engine, "connect", _prepare_file)
    event.listen(engine, "begin", _begin_in_file)
    return engine


def _prepare_file(connection: Any, _record: Any) -> None:
    # The driver's own transactions begin too late to keep writers apart; `_begin_in_file` begins.
    connection.isolation_level = None
    for setting in ("foreign_keys=ON", "synchronous=EXTRA", "secure_delete=ON"):
        connection.execute(f"PRAGMA {setting}")


def _begin_in_file(connection: Connection) -> None:
    writes = connection.get_execution_options().get("writes", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


def _reason(error: Exception) -> str:
    said = str(getattr(error, "orig", None) or error).strip()
    return said.splitlines()[0][:200] if said else type(error).__name__
