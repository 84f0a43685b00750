"""What a store of rounds knows of two rounds of findings that are held against each other."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date

from survey.errors import RoundsError
from survey.findings import Findings
from survey.rounds.content import tags_of
from survey.rounds.fitting import texts
from survey.rounds.home import is_there, store_address
from survey.rounds.repairs import Repair, repairs
from survey.rounds.store import KeptRound, Store, open_existing
from survey.rounds.telling import Key
from survey.rounds.units import units


@dataclass(frozen=True)
class Known:
    """What is known of an earlier and a later round besides their findings.

    Parameters
    ----------
    titles
        The names they are kept under; '' where a round is not kept or has none.
    files
        What to call a round that has no such name, where it does not say when it was read.
    days
        The day each was kept as read on; None where it is not kept.
    units
        The number of the unit that each tag and kind of device stands for, in either round.
    repairs
        Every repair that is noted of their plant; None where no store of it is at hand.
    """

    titles: tuple[str, str] = ("", "")
    files: tuple[str, str] = ("", "")
    days: tuple[date | None, date | None] = (None, None)
    units: tuple[dict[Key, int], dict[Key, int]] = field(default_factory=lambda: ({}, {}))
    repairs: tuple[Repair, ...] | None = None


NOTHING_KNOWN = Known()


def known_here(before: Findings, after: Findings, *, names: tuple[str, str]) -> Known:
    """Return what this user's own store knows of two rounds, as `known_of` does.

    Where there is no store, or it cannot be opened, nothing is known; no store is made.
    """
    try:
        if not is_there(store_address()):
            return Known(files=names)
        with open_existing() as store:
            return known_of(store, before, after, names=names)
    except RoundsError:
        return Known(files=names)


def known_of(
    store: Store, before: Findings, after: Findings, *, names: tuple[str, str] = ("", "")
) -> Known:
    """Return what a store knows of two rounds.

    It knows nothing where neither is kept in it: another plant may well have the same tags.

    Parameters
    ----------
    names
        See `Known.files`.
    """
    sides = (before, after)
    kept = [store.kept_as(findings) for findings in sides]
    if not any(kept):
        return Known(files=names)
    named = {(unit.tag, unit.device): unit.number for unit in units(store) if unit.tags}
    said = [_units(store, one, its, named) for one, its in zip(kept, sides, strict=True)]
    titles = ["" if one is None else one.name for one in kept]
    days = [None if one is None else one.read_on for one in kept]
    return Known(
        (titles[0], titles[1]), names, (days[0], days[1]), (said[0], said[1]),
        tuple(repairs(store)),
    )  # fmt: skip


def _units(
    store: Store, kept: KeptRound | None, findings: Findings, named: dict[Key, int]
) -> dict[Key, int]:
    keys = list(zip(tags_of(findings), texts(findings.table, "device", "trap"), strict=True))
    if kept is None:
        return {key: named[key] for key in keys if key in named}
    unit_of = store.tags(kept.number)
    return {key: unit_of[key[0]] for key in keys if key[0] in unit_of}
