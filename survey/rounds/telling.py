"""Which unit a row of a new round is: the one that its tag last stood for, else a new one."""

from __future__ import annotations

from sqlalchemy import Connection, delete, insert, select, update

from survey.rounds import tables
from survey.rounds.database import next_numbers
from survey.rounds.joined import roots_of

Key = tuple[str, str]
"""A tag and its kind of device: a trap and a vent of one tag are two units."""


def add_readings(connection: Connection, round_number: int, read_on: str, keys: list[Key]) -> None:
    """Write down which unit each row of a round is; call it while writing.

    Only a tag that is the same to the letter is taken for the same unit here. What looks like
    another is for `matching` to propose and for the user to say.
    """
    known = _claimed(_last_use(connection, read_on), keys, roots_of(connection))
    new = [key for key in keys if key not in known]
    known |= dict(zip(new, next_numbers(connection, "units", len(new)), strict=True))
    if new:
        units = [{"number": known[key], "device": key[1]} for key in new]
        connection.execute(insert(tables.UNITS), units)
    rows = [{"round_number": round_number, "tag": key[0], "unit": known[key]} for key in keys]
    connection.execute(insert(tables.READINGS), rows)


def _last_use(connection: Connection, read_on: str) -> dict[Key, tuple[str, int]]:
    """Return the unit that each tag last stood for up to a day, else first after it, and when."""
    rounds, readings, units = tables.ROUNDS.c, tables.READINGS.c, tables.UNITS.c
    query = (
        select(readings.tag, units.device, readings.unit, rounds.read_on)
        .join_from(tables.READINGS, tables.ROUNDS, readings.round_number == rounds.number)
        .join(tables.UNITS, readings.unit == units.number)
        .order_by(rounds.read_on, rounds.number)
    )
    found: dict[Key, tuple[str, int]] = {}
    for tag, device, unit, day in connection.execute(query):
        if day <= read_on or (tag, device) not in found:
            found[tag, device] = (day, unit)
    return found


def _claimed(
    used: dict[Key, tuple[str, int]], keys: list[Key], roots: dict[int, int]
) -> dict[Key, int]:
    """Give each unit to one row: of two tags that were once said to be one, to the later used."""
    claimed: dict[Key, int] = {}
    taken: set[int] = set()
    for key in sorted((k for k in keys if k in used), key=lambda k: used[k], reverse=True):
        unit = used[key][1]
        if roots[unit] not in taken:
            taken.add(roots[unit])
            claimed[key] = unit
    return claimed


def drop_units_of_nothing(connection: Connection) -> None:
    """Delete units without a reading, a repair, a note, or another unit joined to them."""
    units = tables.UNITS.c
    used: set[int] = set()
    for column in (tables.READINGS.c.unit, tables.REPAIRS.c.unit, tables.NOTES.c.unit):
        found = connection.execute(select(column).where(column.is_not(None)).distinct())
        used.update(found.scalars())
    rows = connection.execute(select(units.number, units.joined_to))
    every: dict[int, int | None] = {number: onward for number, onward in rows}  # noqa: C416
    kept, more = set(used), set(used)
    while more:
        onward = (every[one] for one in more)
        more = {one for one in onward if one is not None} - kept
        kept |= more
    gone = sorted(set(every) - kept)
    for start in range(0, len(gone), 500):
        some = gone[start : start + 500]
        for column in (tables.ANSWERS.c.earlier, tables.ANSWERS.c.later):
            connection.execute(delete(tables.ANSWERS).where(column.in_(some)))
        connection.execute(update(tables.UNITS).where(units.number.in_(some)).values(joined_to=None))
        connection.execute(delete(tables.UNITS).where(units.number.in_(some)))
