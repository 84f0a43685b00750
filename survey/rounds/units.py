"""Units over time: one device each, whatever it was called in this round or that."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import pandas as pd
from sqlalchemy import select

from survey.errors import RoundsError
from survey.findings import Findings
from survey.rounds import tables
from survey.rounds.joined import roots_of
from survey.rounds.repairs import Note, Repair, notes, repairs
from survey.rounds.store import KeptRound, Store

ADDED_COLUMNS = ("unit", "round", "round_name", "read_on")


@dataclass(frozen=True)
class Unit:
    """One device over time.

    Parameters
    ----------
    tags
        What it was called, each once, the latest last.
    rounds
        Numbers of the rounds it was read in, the oldest first.
    """

    number: int
    device: str
    tags: tuple[str, ...]
    rounds: tuple[int, ...]

    @property
    def tag(self) -> str:
        """What it is called now."""
        return self.tags[-1] if self.tags else f"#{self.number}"


@dataclass(frozen=True)
class UnitHistory:
    """All that is kept of one unit.

    Parameters
    ----------
    rows
        Its row in each round it was read in, the oldest first: the columns of findings, then
        unit, round, round_name and read_on (a date).
    """

    unit: Unit
    rows: pd.DataFrame
    repairs: tuple[Repair, ...]
    notes: tuple[Note, ...]


def units(store: Store) -> list[Unit]:
    """Return every unit, by number."""
    rounds, readings = tables.ROUNDS.c, tables.READINGS.c
    query = (
        select(readings.unit, readings.tag, readings.round_number)
        .join_from(tables.READINGS, tables.ROUNDS, readings.round_number == rounds.number)
        .order_by(rounds.read_on, rounds.number)
    )
    with store.database.reading() as connection:
        roots = roots_of(connection)
        devices = select(tables.UNITS.c.number, tables.UNITS.c.device)
        kinds = {number: device for number, device in connection.execute(devices)}  # noqa: C416
        rows = connection.execute(query).all()
    tags: dict[int, list[str]] = {number: [] for number in sorted(set(roots.values()))}
    read: dict[int, list[int]] = {number: [] for number in tags}
    for unit, tag, round_number in rows:
        one = roots[unit]
        tags[one] = [*(t for t in tags[one] if t != tag), tag]
        read[one].append(round_number)
    return [Unit(n, kinds[n], tuple(tags[n]), tuple(read[n])) for n in tags]


def find_unit(store: Store, words: str) -> Unit:
    """Return the unit of this tag, or of this number written as ``#12``.

    Raises
    ------
    RoundsError
        There is none, or more than one has borne the tag.
    """
    said = " ".join(words.split())
    every = units(store)
    if said.startswith("#"):
        found = [unit for unit in every if f"#{unit.number}" == said]
    else:
        found = [unit for unit in every if unit.tags and unit.tag == said]
        found = found or [unit for unit in every if said in unit.tags]
    if len(found) == 1:
        return found[0]
    several = ", ".join(f"#{unit.number} ({unit.device.replace('_', ' ')})" for unit in found[:8])
    raise RoundsError(
        "The tag of one unit that is kept was expected",
        found=f"{said[:60]!r}, which is {f'that of {several}' if found else 'that of none'}",
        where=store.database.where,
        do="give its number, #12 say" if found else "see the tags with: survey rounds show ROUND",
    )


def unit_history(store: Store, number: int) -> UnitHistory:
    """Return all that is kept of a unit; raises RoundsError where there is no such unit."""
    unit = find_unit(store, f"#{number}")
    kept = [one for one in store.rounds() if one.number in unit.rounds]
    rows = _rows(store, kept)
    mine = rows[rows["unit"] == unit.number] if len(rows) else rows
    return UnitHistory(
        unit,
        mine.reset_index(drop=True),
        tuple(repairs(store, unit=unit.number)),
        tuple(notes(store, unit=unit.number)),
    )


def _rows(store: Store, kept: Iterable[KeptRound]) -> pd.DataFrame:
    parts = [readings_of(store, one) for one in kept]
    if not parts:
        return pd.DataFrame({name: [] for name in ADDED_COLUMNS})
    return pd.concat(parts, ignore_index=True)


def readings_of(
    store: Store, kept: KeptRound, findings: Findings | None = None
) -> pd.DataFrame:
    """Return the rows of one round, with the columns `ADDED_COLUMNS`.

    ``findings`` are the round's own, where they were read from the store already.
    """
    table = (findings or store.findings(kept.number)).table.copy()
    unit_of = store.tags(kept.number)
    # Words of a choice come as categories, which differ from round to round.
    for name in table.columns[table.dtypes == "category"]:
        table[name] = table[name].astype(object)
    tags = table["tag"].astype(object).map(lambda tag: " ".join(str(tag).split()))
    table["unit"] = tags.map(unit_of).astype("int64")
    table["round"] = kept.number
    table["round_name"] = kept.title
    table["read_on"] = kept.read_on
    return table
