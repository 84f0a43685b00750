"""Rounds one after the other, from findings files or from the store."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date

import pandas as pd

from survey.errors import UsageError
from survey.findings import Findings
from survey.rounds.content import day_read, fingerprint, rows_unjudged


@dataclass(frozen=True)
class Series:
    """Rounds with their days, oldest first.

    Parameters
    ----------
    rounds
        Day and findings table of each.
    repairs
        By unit (column ``unit`` of the tables, else tag): days on which it was mended.
    set_aside
        Devices that the latest round could not judge, as `content.rows_unjudged` has them.
    summary
        That of the latest round; empty where its file has none.
    """

    rounds: tuple[tuple[date, pd.DataFrame], ...]
    repairs: dict[str, list[date]] = field(default_factory=dict)
    set_aside: pd.DataFrame | None = None
    summary: dict[str, object] = field(default_factory=dict)

    @property
    def latest(self) -> tuple[date, pd.DataFrame]:
        """Return the latest round."""
        return self.rounds[-1]


def series_of(findings: Sequence[Findings]) -> Series:
    """Put findings in the order of their days.

    Raises
    ------
    UsageError
        There are none, or two hold the same readings.
    RoundsError
        One does not say when it was read.
    """
    if not findings:
        raise UsageError(
            "At least one round was expected",
            found="none",
            do="give a findings file, or add a round with 'survey rounds add'",
        )
    dated = sorted(((day_read(one), place) for place, one in enumerate(findings)))
    _refuse_twice([(day, findings[place]) for day, place in dated])
    last = findings[dated[-1][1]]
    rounds = tuple((day, findings[place].table) for day, place in dated)
    return Series(rounds, {}, rows_unjudged(last), dict(last.summary))


def _refuse_twice(dated: Sequence[tuple[date, Findings]]) -> None:
    # One round counted twice would show every trap as seen twice, and so as surer than it is.
    seen: set[str] = set()
    for day, one in dated if len(dated) > 1 else ():
        mark = fingerprint(one.table)
        if mark in seen:
            raise UsageError(
                "Each round once was expected",
                found=f"the same readings twice, read on {day.isoformat()}",
                do="name each round's findings once, whatever its files are called",
            )
        seen.add(mark)


def series_in_store(address: str | None = None) -> Series:
    """Take every round out of the store; None is this user's own.

    Raises
    ------
    UsageError, RoundsError
        There is no round in it, or it cannot be opened.
    """
    # SQLAlchemy comes with these: only who uses the store loads it.
    from survey.rounds.home import is_there, store_address
    from survey.rounds.repairs import repairs
    from survey.rounds.store import open_existing
    from survey.rounds.units import readings_of

    if not address and not is_there(store_address()):
        return series_of([])
    with open_existing(address) as store:
        kept = store.rounds()
        if not kept:
            return series_of([])
        last = store.findings(kept[-1].number)
        mended: dict[str, list[date]] = {}
        for repair in repairs(store):
            mended.setdefault(str(repair.unit), []).append(repair.done_on)
        rounds = tuple((one.read_on, readings_of(store, one)) for one in kept)
    return Series(rounds, mended, rows_unjudged(last), dict(last.summary))
