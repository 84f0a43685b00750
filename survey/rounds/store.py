"""The store of rounds: add one, list them, take one out again, each whole or not at all."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Row, delete, insert, select

from survey.errors import RoundsError
from survey.findings import Findings
from survey.rounds import tables
from survey.rounds.content import day_read, fingerprint, tags_of
from survey.rounds.database import Database, next_number
from survey.rounds.home import is_there, store_address
from survey.rounds.joined import roots_of
from survey.rounds.telling import add_readings, drop_units_of_nothing

LONGEST_NAME = 200
LATEST = "latest"


@dataclass(frozen=True)
class KeptRound:
    """One round in the store.

    Parameters
    ----------
    read_on
        The day it was read.
    devices
        How many were judged.
    summary
        As `Findings.summary`; empty where the findings came from a CSV.
    source
        The name of the file it came from, for people.
    """

    number: int
    name: str
    read_on: date
    added_at: datetime
    devices: int
    summary: dict[str, Any]
    source: str

    @property
    def title(self) -> str:
        """What to call it: its name, else its number."""
        return self.name or f"round {self.number}"


class Store:
    """Rounds, units, repairs and notes. Safe to use from many processes at once.

    Use it in a ``with`` block, or `close` it. Repairs, notes, units and matches have modules of
    their own, which take the store.
    """

    def __init__(self, database: Database) -> None:
        self.database = database

    def __enter__(self) -> Store:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the database; the store cannot be used afterwards."""
        self.database.close()

    def add(
        self, findings: Findings, *, name: str = "", on: date | None = None, source: str = ""
    ) -> KeptRound:
        """Keep a judged round, and tell its devices by their tags from those of earlier ones.

        Parameters
        ----------
        name
            What to call it; not the name of another round.
        on
            The day it was read; by default what the readings say.

        Raises
        ------
        RoundsError
            The same readings are kept already, whatever their file was called; or the name is
            taken; or a tag is missing or not the only one of its kind.
        """
        tags = tags_of(findings)
        name = " ".join(name.split())[:LONGEST_NAME]
        day = (on or day_read(findings)).isoformat()
        row: dict[str, Any] = {
            "name": name,
            "read_on": day,
            "added_at": datetime.now(UTC).isoformat(timespec="seconds"),
            "source": Path(source).name[:LONGEST_NAME],
            "devices": len(tags),
            "summary": json.dumps(findings.summary),
            "content": fingerprint(findings.table),
        }
        parquet = findings.to_bytes()
        with self.database.writing() as connection:
            _refuse_what_is_kept(connection, row)
            row["number"] = number = next_number(connection, "rounds")
            connection.execute(insert(tables.ROUNDS).values(row))
            connection.execute(
                insert(tables.FINDINGS).values(round_number=number, parquet=parquet)
            )
            keys = list(zip(tags, _devices(findings), strict=True))
            add_readings(connection, number, day, keys)
        return self.round(number)

    def rounds(self) -> list[KeptRound]:
        """Return all rounds, by the day they were read, the oldest first."""
        order = select(tables.ROUNDS).order_by(tables.ROUNDS.c.read_on, tables.ROUNDS.c.number)
        with self.database.reading() as connection:
            return [_kept(row) for row in connection.execute(order)]

    def round(self, words: int | str) -> KeptRound:
        """Return the round of this number or name; ``latest`` is the one read last.

        Raises
        ------
        RoundsError
            There is none.
        """
        kept = self.rounds()
        said = str(words).strip()
        if said.casefold() == LATEST and kept:
            return kept[-1]
        named = [one for one in kept if one.name and one.name.casefold() == said.casefold()]
        numbered = [one for one in kept if str(one.number) == said.removeprefix("#")]
        for one in (*named, *numbered):
            return one
        raise RoundsError(
            "The name or number of a round that is kept was expected",
            found=said[:80] or "nothing",
            where=self.database.where,
            do="see them with: survey rounds list",
        )

    def kept_as(self, findings: Findings) -> KeptRound | None:
        """Return the round that holds these readings, whatever their file was called, or None."""
        alike = select(tables.ROUNDS).where(tables.ROUNDS.c.devices == len(findings.table))
        with self.database.reading() as connection:
            rows = connection.execute(alike).all()
        content = fingerprint(findings.table) if rows else ""  # it takes a while, if large
        return next((_kept(row) for row in rows if row.content == content), None)

    def findings(self, number: int) -> Findings:
        """Return the findings of a round as they were when it was added.

        Raises
        ------
        RoundsError
            There is no round with this number.
        """
        query = select(tables.FINDINGS.c.parquet).where(tables.FINDINGS.c.round_number == number)
        with self.database.reading() as connection:
            content = connection.execute(query).scalar_one_or_none()
        if content is None:
            self.round(number)  # says what is wrong with the number
            raise RoundsError("Findings were expected with the round", found=f"none for {number}")
        return Findings.from_bytes(bytes(content))

    def tags(self, number: int) -> dict[str, int]:
        """Return the number of the unit that each tag of a round belongs to."""
        query = select(tables.READINGS.c.tag, tables.READINGS.c.unit).where(
            tables.READINGS.c.round_number == number
        )
        with self.database.reading() as connection:
            roots = roots_of(connection)
            return {tag: roots[unit] for tag, unit in connection.execute(query)}

    def remove(self, number: int) -> KeptRound:
        """Take a round out, with the notes of it, and the units that only it knew.

        Raises
        ------
        RoundsError
            There is no such round.
        """
        gone = self.round(number)
        with self.database.writing() as connection:
            for table in (tables.NOTES, tables.READINGS, tables.FINDINGS):
                connection.execute(delete(table).where(table.c.round_number == number))
            connection.execute(delete(tables.ROUNDS).where(tables.ROUNDS.c.number == number))
            drop_units_of_nothing(connection)
        return gone


def open_store(address: str | Path | None = None) -> Store:
    """Open the store at a path or a postgresql:// address; None is this user's own.

    Raises
    ------
    RoundsError
        It cannot be opened, is not a store of rounds, or is of a newer survey.
    """
    return Store(Database(store_address(address)))


def open_existing(address: str | Path | None = None) -> Store:
    """Open the rounds as `open_store` does, but make no store.

    Raises
    ------
    RoundsError
        As `open_store`; or no store is there.
    """
    found = store_address(address)
    if not is_there(found):
        raise RoundsError(
            "A store of rounds was expected", found="no such file", where=found,
            do="check the name after --store, or keep a first round with: survey rounds add",
        )  # fmt: skip
    return Store(Database(found))


def _kept(row: Row[Any]) -> KeptRound:
    return KeptRound(
        number=row.number,
        name=row.name,
        read_on=date.fromisoformat(row.read_on),
        added_at=datetime.fromisoformat(row.added_at),
        devices=row.devices,
        summary=json.loads(row.summary),
        source=row.source,
    )


def _devices(findings: Findings) -> list[str]:
    if "device" not in findings.table:
        return ["trap"] * len(findings.table)
    return findings.table["device"].astype(object).fillna("trap").astype(str).tolist()


def _refuse_what_is_kept(connection: Connection, row: dict[str, Any]) -> None:
    rounds = tables.ROUNDS.c
    same = connection.execute(
        select(rounds.number, rounds.name, rounds.read_on).where(rounds.content == row["content"])
    ).one_or_none()
    if same is not None:
        called = f" ({same.name})" if same.name else ""
        raise RoundsError(
            "A round that is not kept yet was expected",
            found=f"the same readings as round {same.number}{called}, read on {same.read_on}",
            do="nothing, it is kept already; to judge it anew, remove that round first",
        )
    names = connection.execute(select(rounds.name).where(rounds.name != "")).scalars()
    taken = {name.casefold() for name in names}
    if row["name"].casefold() in {*taken, LATEST} or row["name"].removeprefix("#").isdigit():
        raise RoundsError(
            "A name that no other round has, and that is not a number, was expected",
            found=row["name"],
            do="give another after --name",
        )
