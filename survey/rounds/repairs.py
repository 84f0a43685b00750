"""Repairs and notes: what was done to a unit, and what someone wanted remembered."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Any

from sqlalchemy import Row, Table, delete, insert, select

from survey.errors import RoundsError
from survey.rounds import tables
from survey.rounds.database import next_number
from survey.rounds.joined import roots_of
from survey.rounds.store import Store

LONGEST_WORDS = 2000


@dataclass(frozen=True)
class Repair:
    """Something that was done to a unit.

    Parameters
    ----------
    unit
        The unit's number.
    cost
        Parts and labour, in the currency of the rounds; None where it was not given.
    """

    number: int
    unit: int
    done_on: date
    what: str
    cost: float | None


@dataclass(frozen=True)
class Note:
    """Words about a unit, a round, or the site where both are None."""

    number: int
    unit: int | None
    round_number: int | None
    words: str
    made_at: datetime


def add_repair(
    store: Store, unit: int, *, on: date, what: str = "", cost: float | None = None
) -> Repair:
    """Note that a unit was repaired.

    Raises
    ------
    RoundsError
        There is no such unit, or the cost is under zero.
    """
    if cost is not None and not 0 <= cost < 1e12:
        raise RoundsError("A cost of zero or more was expected", found=f"{cost:g}")
    said = " ".join(what.split())[:LONGEST_WORDS]
    with store.database.writing() as connection:
        _refuse_unknown(connection.execute(_known(tables.UNITS, unit)).first(), "unit", unit)
        number = next_number(connection, "repairs")
        row = {
            "number": number, "unit": unit, "done_on": on.isoformat(), "what": said, "cost": cost,
            "made_at": datetime.now(UTC).isoformat(timespec="seconds"),
        }  # fmt: skip
        connection.execute(insert(tables.REPAIRS).values(row))
    return Repair(number, unit, on, said, cost)


def repairs(store: Store, unit: int | None = None) -> list[Repair]:
    """Return the repairs of a unit, or all, by the day they were done."""
    order = select(tables.REPAIRS).order_by(tables.REPAIRS.c.done_on, tables.REPAIRS.c.number)
    with store.database.reading() as connection:
        roots = roots_of(connection)
        rows = connection.execute(order).all()
    found = [
        Repair(r.number, roots[r.unit], date.fromisoformat(r.done_on), r.what, r.cost)
        for r in rows
    ]
    return found if unit is None else [one for one in found if one.unit == unit]


def remove_repair(store: Store, number: int) -> None:
    """Take a repair out again; raises RoundsError where there is none of this number."""
    _remove(store, tables.REPAIRS, number, "repair")


def add_note(
    store: Store, words: str, *, unit: int | None = None, round_number: int | None = None
) -> Note:
    """Keep words about a unit, a round or the site.

    Raises
    ------
    RoundsError
        There is no such unit or round, or there are no words.
    """
    said = " ".join(words.split())[:LONGEST_WORDS]
    if not said:
        raise RoundsError("Some words were expected for the note", found="none")
    now = datetime.now(UTC).replace(microsecond=0)
    with store.database.writing() as connection:
        for table, kind, asked in ((tables.UNITS, "unit", unit),
                                   (tables.ROUNDS, "round", round_number)):  # fmt: skip
            if asked is not None:
                _refuse_unknown(connection.execute(_known(table, asked)).first(), kind, asked)
        number = next_number(connection, "notes")
        row = {
            "number": number, "unit": unit, "round_number": round_number, "words": said,
            "made_at": now.isoformat(),
        }  # fmt: skip
        connection.execute(insert(tables.NOTES).values(row))
    return Note(number, unit, round_number, said, now)


def notes(
    store: Store, unit: int | None = None, round_number: int | None = None
) -> list[Note]:
    """Return the notes of a unit or of a round, or all, the oldest first."""
    order = select(tables.NOTES).order_by(tables.NOTES.c.number)
    with store.database.reading() as connection:
        roots = roots_of(connection)
        found = [_note(row, roots) for row in connection.execute(order)]
    return [
        one for one in found
        if unit in (None, one.unit) and round_number in (None, one.round_number)
    ]  # fmt: skip


def remove_note(store: Store, number: int) -> None:
    """Take a note out again; raises RoundsError where there is none of this number."""
    _remove(store, tables.NOTES, number, "note")


def _note(row: Row[Any], roots: dict[int, int]) -> Note:
    unit = None if row.unit is None else roots[row.unit]
    return Note(row.number, unit, row.round_number, row.words, datetime.fromisoformat(row.made_at))


def _known(table: Table, number: int) -> Any:
    return select(table.c.number).where(table.c.number == number)


def _refuse_unknown(found: object, kind: str, number: int) -> None:
    if found is None:
        raise RoundsError(
            f"The number of a {kind} that is kept was expected", found=f"{number}",
            do="see what is kept with: survey rounds list",
        )  # fmt: skip


def _remove(store: Store, table: Table, number: int, kind: str) -> None:
    with store.database.writing() as connection:
        gone = connection.execute(delete(table).where(table.c.number == number)).rowcount
        _refuse_unknown(gone or None, kind, number)
