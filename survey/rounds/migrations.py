"""The steps that make the tables, in order, forward only; all that are due run in one transaction.

A step is frozen once it has been released: it says what the tables were then, in the words of that
time, whatever `tables` says now. A test holds the end of all steps against `tables`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import UTC, datetime

from sqlalchemy import Connection, text

from survey.errors import RoundsError

Step = Callable[[Connection], None]
_VERSION_TABLE = (
    "CREATE TABLE IF NOT EXISTS schema_version "
    "(version INTEGER NOT NULL PRIMARY KEY, applied_at VARCHAR(40) NOT NULL)"
)


def _rounds_and_units(connection: Connection) -> None:
    blob = "BYTEA" if connection.dialect.name == "postgresql" else "BLOB"
    for statement in (
        "CREATE TABLE counters (name VARCHAR(40) NOT NULL PRIMARY KEY, last INTEGER NOT NULL)",
        "INSERT INTO counters VALUES ('rounds', 0), ('units', 0)",
        "CREATE TABLE rounds (number INTEGER NOT NULL PRIMARY KEY, name TEXT NOT NULL, "
        "read_on VARCHAR(10) NOT NULL, added_at VARCHAR(40) NOT NULL, source TEXT NOT NULL, "
        "devices INTEGER NOT NULL, summary TEXT NOT NULL, content VARCHAR(64) NOT NULL, "
        "CONSTRAINT one_round_for_one_content UNIQUE (content))",
        "CREATE TABLE findings (round_number INTEGER NOT NULL PRIMARY KEY "
        f"REFERENCES rounds (number), parquet {blob} NOT NULL)",
        "CREATE TABLE units (number INTEGER NOT NULL PRIMARY KEY, device VARCHAR(40) NOT NULL, "
        "joined_to INTEGER REFERENCES units (number), "
        "CONSTRAINT not_joined_to_itself CHECK (joined_to <> number))",
        "CREATE TABLE readings (round_number INTEGER NOT NULL REFERENCES rounds (number), "
        "tag TEXT NOT NULL, unit INTEGER NOT NULL REFERENCES units (number), "
        "PRIMARY KEY (round_number, tag), "
        "CONSTRAINT one_reading_of_a_unit_in_a_round UNIQUE (round_number, unit))",
        "CREATE INDEX readings_of_a_unit ON readings (unit)",
    ):
        connection.execute(text(statement))


def _repairs_and_notes(connection: Connection) -> None:
    for statement in (
        "CREATE TABLE repairs (number INTEGER NOT NULL PRIMARY KEY, "
        "unit INTEGER NOT NULL REFERENCES units (number), done_on VARCHAR(10) NOT NULL, "
        "what TEXT NOT NULL, cost DOUBLE PRECISION, made_at VARCHAR(40) NOT NULL)",
        "CREATE TABLE notes (number INTEGER NOT NULL PRIMARY KEY, "
        "unit INTEGER REFERENCES units (number), "
        "round_number INTEGER REFERENCES rounds (number), words TEXT NOT NULL, "
        "made_at VARCHAR(40) NOT NULL)",
        "INSERT INTO counters VALUES ('repairs', 0), ('notes', 0)",
    ):
        connection.execute(text(statement))


def _answers(connection: Connection) -> None:
    connection.execute(text(
        "CREATE TABLE answers (earlier INTEGER NOT NULL REFERENCES units (number), "
        "later INTEGER NOT NULL REFERENCES units (number), moved_in INTEGER NOT NULL, "
        "accepted INTEGER NOT NULL, made_at VARCHAR(40) NOT NULL, "
        "PRIMARY KEY (earlier, later, moved_in))"
    ))  # fmt: skip


STEPS: tuple[Step, ...] = (_rounds_and_units, _repairs_and_notes, _answers)


def migrate(connection: Connection, *, where: str, steps: Sequence[Step] = STEPS) -> int:
    """Bring the tables up to date within the transaction that is open; return steps taken.

    Raises
    ------
    RoundsError
        The store was made by a newer version of survey: it is left as it is.
    """
    _refuse_the_file_of_another_program(connection, where)
    connection.execute(text(_VERSION_TABLE))
    version = version_of(connection)
    if version > len(steps):
        raise RoundsError(
            f"A store of version {len(steps)} or older was expected",
            found=f"version {version}, made by a newer survey",
            where=where,
            do="install the newer survey; the store was not touched",
        )
    for number, step in enumerate(steps[version:], start=version + 1):
        step(connection)
        connection.execute(
            text("INSERT INTO schema_version VALUES (:version, :now)"),
            {"version": number, "now": datetime.now(UTC).isoformat(timespec="seconds")},
        )
    return len(steps) - version


def _refuse_the_file_of_another_program(connection: Connection, where: str) -> None:
    if connection.dialect.name != "sqlite":
        return
    names = set(connection.execute(text("SELECT name FROM sqlite_master")).scalars())
    if names and "schema_version" not in names:
        raise RoundsError(
            "A store of rounds, or a new name for one, was expected",
            found="a database of another kind",
            where=where,
            do="name another file after --store; this one was not touched",
        )


def version_of(connection: Connection) -> int:
    """Return how many steps the tables have been through."""
    latest = text("SELECT coalesce(max(version), 0) FROM schema_version")
    return int(connection.execute(latest).scalar_one())
