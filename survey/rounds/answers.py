"""What the user says to the proposals of `matching`: asked, remembered, carried out, undone."""

from __future__ import annotations

from datetime import UTC, datetime

import pandas as pd
from sqlalchemy import Connection, delete, insert, select, update

from survey.errors import RoundsError
from survey.rounds import tables
from survey.rounds.database import next_number
from survey.rounds.joined import roots_of
from survey.rounds.matching import Proposal, Seen, moved, renamed
from survey.rounds.store import Store
from survey.rounds.units import readings_of, units

Key = tuple[int, int, int]
"""The unit earlier, the unit later, and the round of a move or 0: as `Proposal.key`."""


def proposals(store: Store) -> list[Proposal]:
    """Return the questions that are open, the likeliest first; nothing is changed."""
    answered = _answered(store)
    refused = {(earlier, later) for earlier, later, moved_in in answered if not moved_in}
    first, last, moves = _sightings(store)
    rounds_of = {unit.number: set(unit.rounds) for unit in units(store)}
    order = [one.number for one in store.rounds()]
    found = [one for one in moves if one.key not in answered]
    for place, number in enumerate(order[1:], start=1):
        before, since = set(order[:place]), set(order[place:])
        come = [first[u] for u in first if number in rounds_of[u] and not rounds_of[u] & before]
        gone = [last[u] for u in last if rounds_of[u] & before and not rounds_of[u] & since]
        found += renamed(gone, come, refused=refused)
    # The likelier of two that ask about one unit comes first; the other is asked if it is refused.
    taken: set[tuple[str, str, int]] = set()
    kept: list[Proposal] = []
    for one in sorted(found, key=lambda p: (-p.likeness, p.key)):
        ends = {(one.kind, "earlier", one.earlier), (one.kind, "later", one.later)}
        if not ends & taken:
            taken |= ends
            kept.append(one)
    return kept


def answer(
    store: Store, earlier: int, later: int, *, accepted: bool, moved_in: int = 0
) -> None:
    """Carry out one answer; see `answer_all`."""
    answer_all(store, {(earlier, later, moved_in): accepted})


def answer_all(store: Store, answers: dict[Key, bool]) -> None:
    """Remember answers and carry them out, all or none.

    Yes to 'renamed' joins the later unit to the earlier: its history goes on. No leaves them apart,
    and takes a join back that was made. Yes to 'moved' leaves the unit as it is; no makes it
    another unit from that round on.

    Raises
    ------
    RoundsError
        There is no such unit, or both units were read in one round and so cannot be one.
    """
    with store.database.writing() as connection:
        for key, accepted in answers.items():
            _carry_out(connection, key, accepted=accepted)
            _remember(connection, key, accepted=accepted)


def _sightings(store: Store) -> tuple[dict[int, Seen], dict[int, Seen], list[Proposal]]:
    """Return each unit as it was first and last seen, and each change of place between."""
    first: dict[int, Seen] = {}
    last: dict[int, Seen] = {}
    moves: list[Proposal] = []
    for one in store.rounds():
        for seen in _seen(readings_of(store, one)):
            first.setdefault(seen.unit, seen)
            was = last.get(seen.unit)
            asked = moved(was, seen, one.number) if was and was.tag == seen.tag else None
            if asked is not None:
                moves.append(asked)
            last[seen.unit] = seen
    return first, last, moves


def _seen(rows: pd.DataFrame) -> list[Seen]:
    texts = {
        name: rows[name].astype(object).where(rows[name].notna(), "").astype(str).tolist()
        if name in rows
        else [""] * len(rows)
        for name in ("tag", "device", "equipment", "area", "trap_type")
    }
    bores = rows["orifice_in"].tolist() if "orifice_in" in rows else [None] * len(rows)
    cells = [dict(zip(texts, one, strict=True)) for one in zip(*texts.values(), strict=True)]
    return [
        Seen(unit=int(unit), bore_in=None if pd.isna(bore) else float(bore), **words)
        for unit, bore, words in zip(rows["unit"], bores, cells, strict=True)
    ]


def _answered(store: Store) -> set[Key]:
    table = tables.ANSWERS.c
    with store.database.reading() as connection:
        rows = connection.execute(select(table.earlier, table.later, table.moved_in))
        return {(earlier, later, moved_in) for earlier, later, moved_in in rows}


def _carry_out(connection: Connection, key: Key, *, accepted: bool) -> None:
    earlier, later, moved_in = key
    roots = roots_of(connection)
    for unit in (earlier, later):
        if unit not in roots:
            raise RoundsError(
                "The number of a unit that is kept was expected", found=f"{unit}",
                do="see the open questions with: survey rounds match",
            )  # fmt: skip
    if earlier == later:
        if not accepted:
            _split(connection, earlier, moved_in, roots)
    elif accepted:
        _join(connection, roots[earlier], roots[later], roots)
    else:
        units = tables.UNITS
        joined = (units.c.number == later) & (units.c.joined_to == roots[earlier])
        connection.execute(update(units).where(joined).values(joined_to=None))


def _join(connection: Connection, earlier: int, later: int, roots: dict[int, int]) -> None:
    if earlier == later:
        return
    readings = tables.READINGS.c
    rounds: dict[int, set[int]] = {earlier: set(), later: set()}
    for unit, number in connection.execute(select(readings.unit, readings.round_number)):
        if (one := roots[unit]) in rounds:
            rounds[one].add(number)
    both = sorted(rounds[earlier] & rounds[later])
    if both:
        raise RoundsError(
            "Two units that were never read in one round were expected",
            found=f"units {earlier} and {later}, both read in round {both[0]}",
            do="answer no: they are two",
        )
    units = tables.UNITS
    connection.execute(update(units).where(units.c.number == later).values(joined_to=earlier))


def _split(connection: Connection, unit: int, moved_in: int, roots: dict[int, int]) -> None:
    """Make it another unit from a round on, with the repairs done since."""
    rounds, readings, repairs = tables.ROUNDS.c, tables.READINGS.c, tables.REPAIRS.c
    order = select(rounds.number, rounds.read_on).order_by(rounds.read_on, rounds.number)
    days: dict[int, str] = {number: day for number, day in connection.execute(order)}  # noqa: C416
    numbers = list(days)
    if moved_in not in numbers:
        raise RoundsError("The number of a round that is kept was expected", found=f"{moved_in}")
    since = numbers[numbers.index(moved_in) :]
    group = [one for one in roots if roots[one] == roots[unit]]
    device = connection.execute(
        select(tables.UNITS.c.device).where(tables.UNITS.c.number == unit)
    ).scalar_one()
    new = next_number(connection, "units")
    connection.execute(insert(tables.UNITS).values(number=new, device=device))
    mine = readings.unit.in_(group) & readings.round_number.in_(since)
    connection.execute(update(tables.READINGS).where(mine).values(unit=new))
    # The two bear one tag: that they are two is settled.
    _remember(connection, (unit, new, 0), accepted=False)
    done = repairs.unit.in_(group) & (repairs.done_on >= days[moved_in])
    connection.execute(update(tables.REPAIRS).where(done).values(unit=new))


def _remember(connection: Connection, key: Key, *, accepted: bool) -> None:
    table = tables.ANSWERS
    same = (
        (table.c.earlier == key[0]) & (table.c.later == key[1]) & (table.c.moved_in == key[2])
    )
    connection.execute(delete(table).where(same))
    now = datetime.now(UTC).isoformat(timespec="seconds")
    connection.execute(
        insert(table).values(
            earlier=key[0], later=key[1], moved_in=key[2], accepted=int(accepted), made_at=now
        )
    )
