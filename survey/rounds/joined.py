"""Units that the user has said are one: each stands for the earliest it was joined to."""

from __future__ import annotations

from sqlalchemy import Connection, select

from survey.rounds.tables import UNITS


def roots_of(connection: Connection) -> dict[int, int]:
    """Return, for the number of every unit, the number of the unit that it is part of."""
    rows = connection.execute(select(UNITS.c.number, UNITS.c.joined_to))
    joined: dict[int, int | None] = {number: onward for number, onward in rows}  # noqa: C416
    return {number: root(number, joined) for number in joined}


def root(number: int, joined: dict[int, int | None]) -> int:
    """Follow a unit to the one that it is part of."""
    seen = {number}
    while (onward := joined.get(number)) is not None and onward not in seen:
        number = onward
        seen.add(number)
    return number
