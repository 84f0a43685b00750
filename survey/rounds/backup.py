"""The whole store in one file, and back: the same on both databases."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from pathlib import Path

from sqlalchemy import Connection, Table, insert, select, update

from survey.errors import OutputError, RoundsError
from survey.paths import is_file
from survey.rounds import tables
from survey.rounds.database import Database
from survey.rounds.store import KeptRound, Store, open_store

BACKUP_SUFFIX = ".sqlite"
_ROWS_AT_ONCE = 500


def export_store(store: Store, path: str | Path) -> int:
    """Write everything that is kept into one file, atomically; return how many rounds.

    The file is itself a store: ``--store FILE`` opens it, `restore` puts it into an empty one.

    Raises
    ------
    OutputError
        The name does not end in .sqlite, is the store's own file, or cannot be written.
    RoundsError
        The store cannot be read.
    """
    path = Path(path)
    _refuse_own_file(store, path)
    if path.suffix.lower() != BACKUP_SUFFIX:
        raise OutputError(
            f"A backup ends in {BACKUP_SUFFIX}", found=path.name,
            do=f"give it a name with that ending, rounds{BACKUP_SUFFIX} say",
        )  # fmt: skip
    try:
        with tempfile.TemporaryDirectory(dir=path.parent, prefix=f".{path.stem[:40]}.") as folder:
            draft = Path(folder) / "rounds.sqlite"
            with open_store(draft) as copy:
                _fill(store.database, copy.database)
                count = len(copy.rounds())
            with draft.open("rb+") as stream:
                os.fsync(stream.fileno())
            draft.replace(path)
    except OSError as error:
        raise OutputError(
            "A file that can be written was expected", found=error.strerror or str(error),
            where=str(path), do="choose another folder, or free some space",
        ) from None  # fmt: skip
    return count


def export_round(store: Store, kept: KeptRound, path: str | Path) -> None:
    """Write the findings of one round, as `Findings.save` does; raises OutputError."""
    _refuse_own_file(store, Path(path))
    store.findings(kept.number).save(path)


def restore(store: Store, path: str | Path) -> int:
    """Put a backup into an empty store; return how many rounds it holds.

    Raises
    ------
    RoundsError
        There is no such backup, or the store is not empty.
    """
    path = Path(path)
    check_is_there(path)
    with open_store(path) as backup:
        _fill(backup.database, store.database)
        return len(backup.rounds())


def check_is_there(path: str | Path) -> None:
    """Raise RoundsError where there is no such backup."""
    if not is_file(path):
        raise RoundsError("A backup that 'survey rounds export' wrote was expected",
                          found="no such file", where=str(path))  # fmt: skip


def _refuse_own_file(store: Store, path: Path) -> None:
    if store.database.on_a_server:
        return
    own = Path(store.database.where)
    # Another name may lead to the same file: a link, or a case that the disk does not tell apart.
    linked = path.exists() and own.exists() and path.samefile(own)
    if linked or path.resolve() == own.resolve():
        raise OutputError(
            "Another file than the store's own was expected", found="the store itself",
            where=str(path), do="give the backup another name, or another folder",
        )  # fmt: skip


def _fill(source: Database, target: Database) -> None:
    with source.reading() as reading, target.writing() as writing:
        for table in (tables.ROUNDS, tables.UNITS):
            if writing.execute(select(table.c.number).limit(1)).first() is not None:
                raise RoundsError(
                    "An empty store was expected", found="one that keeps rounds already",
                    where=target.where, do="name a new one after --store",
                )  # fmt: skip
        _copy(reading, writing)


def _copy(reading: Connection, writing: Connection) -> None:
    for name, last in reading.execute(select(tables.COUNTERS)):
        counter = update(tables.COUNTERS).where(tables.COUNTERS.c.name == name)
        writing.execute(counter.values(last=last))
    for table in tables.IN_ORDER_OF_NEED[1:]:
        # A unit may be joined to one of a higher number: that comes when all are there.
        joins = []
        for rows in _in_parts(reading, table):
            if table is tables.UNITS:
                joins += [(row["number"], row["joined_to"]) for row in rows if row["joined_to"]]
                rows = [{**row, "joined_to": None} for row in rows]
            writing.execute(insert(table), rows)
        for number, joined_to in joins:
            unit = update(tables.UNITS).where(tables.UNITS.c.number == number)
            writing.execute(unit.values(joined_to=joined_to))


def _in_parts(reading: Connection, table: Table) -> Iterator[list[dict[str, object]]]:
    # Findings are large: a few at a time.
    size = 1 if table is tables.FINDINGS else _ROWS_AT_ONCE
    for part in reading.execute(select(table)).mappings().partitions(size):
        yield [dict(row) for row in part]
