"""Rounds as lives of traps: when each was last seen working and first seen failed, with chances.

A trap's life runs from when it was fitted or mended to when it fails. Rounds only bracket that
moment: it failed before the first round, between two rounds, or not yet. A verdict is no
certainty, so every bracket keeps its chance, and an undecided trap counts by its chances.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np
import pandas as pd

from survey.plant.units import numbers_of, text_of
from survey.rounds.pressure_classes import pressure_class

Row = dict[str, Any]
Rounds = Sequence[tuple[date, pd.DataFrame]]
DAYS_PER_YEAR = 365.25
OWN_FAILURES = ("p_leaking", "p_failed_open", "p_failed_closed")
MOST_TOLD = 200.0
"""One round's readings never make a failure more than so many times likelier or unlikelier."""
_NOTHING = 1e-9
AGE_AT_FIRST_LOOK = ((1.0, 1 / 16), (2.0, 2 / 16), (3.0, 3 / 16), (4.0, 4 / 16), (5.0, 3 / 16),
                     (6.0, 2 / 16), (7.0, 1 / 16))  # fmt: skip
"""Years since a trap was last new, and how likely, where nothing tells: about the published
3 to 5 years without maintenance; its spread is common practice, no source."""
KINDS = ("trap_type", "service", "pressure")
INSTALLED = "installed_at"
"""A column that a round may carry: the day on which the trap was fitted."""


@dataclass(frozen=True)
class Lives:
    """Lives of traps, and the brackets in which each may have ended.

    Parameters
    ----------
    traps
        One row per life: unit, tag, area, equipment, trap_type, service, pressure ('' where
        not known), seen (day last looked at), latest (it is the unit's present life).
    life
        Which life each bracket belongs to, (brackets,).
    low_years, high_years
        Ages between which it failed; high is infinite where it had not failed yet.
    chance
        How likely what was read is, had it failed in that bracket; only ratios matter.
    guessed_years
        How much of those ages is the guess of `AGE_AT_FIRST_LOOK`; 0 where it is known since
        when the trap is new.
    """

    traps: pd.DataFrame
    life: np.ndarray
    low_years: np.ndarray
    high_years: np.ndarray
    chance: np.ndarray
    guessed_years: np.ndarray

    def __len__(self) -> int:
        """Return the number of lives."""
        return len(self.traps)

    @property
    def open(self) -> np.ndarray:
        """Return which brackets have no end: not failed when last seen, (brackets,)."""
        return np.asarray(np.isinf(self.high_years))

    def ages(self, times: float) -> tuple[np.ndarray, np.ndarray]:
        """Return low and high ages if every guessed age is so many times the guess, (brackets,)."""
        more = (times - 1.0) * self.guessed_years
        return np.where(self.low_years > 0, self.low_years + more, 0.0), self.high_years + more


def lives_of(rounds: Rounds, *, repairs: Mapping[str, Sequence[date]] | None = None) -> Lives:
    """Take the lives of the traps out of rounds.

    Parameters
    ----------
    rounds
        Day and findings table of each round, in any order. A column ``unit`` tells which
        device a row is where tags have changed; without it the tag does.
    repairs
        By unit: days on which it was mended or replaced. Where none is known, a trap that had
        failed and works at the next round counts as mended half way between.

    Notes
    -----
    A verdict already holds how common failure was in its round. That is divided out again, so
    that a doubt which all traps share does not count as failures: with q the verdict's chance
    and s the round's share, what the readings say is (q / s) to ((1 - q) / (1 - s)). A trap
    that is cold or backed up for another's fault tells nothing about itself.
    """
    units: dict[str, list[Row]] = {}
    # By row in one go: a group of a table costs a thousand times a list's.
    for row in _seen(rounds).to_dict("records"):
        units.setdefault(str(row["unit"]), []).append({str(k): v for k, v in row.items()})
    builder = _Builder()
    for unit in sorted(units):
        _add_unit(builder, units[unit], sorted((repairs or {}).get(unit, ())))
    return builder.lives()


def _seen(rounds: Rounds) -> pd.DataFrame:
    parts = [_seen_in(day, table) for day, table in sorted(rounds, key=lambda one: one[0])]
    return pd.concat(parts, ignore_index=True) if parts else pd.DataFrame({"unit": []})


def _seen_in(day: date, table: pd.DataFrame) -> pd.DataFrame:
    kind = text_of(table, "device")
    table = table.loc[(kind == "trap") | (kind == "")]
    table = table.loc[np.isfinite(numbers_of(table, "p_working"))]
    working = np.clip(numbers_of(table, "p_working"), _NOTHING, 1.0)
    failed = sum((numbers_of(table, name) for name in OWN_FAILURES), np.zeros(len(table)))
    failed = np.clip(failed, _NOTHING, 1.0)
    share = float(np.clip((failed / (failed + working)).mean(), 0.01, 0.8)) if len(table) else 0.2
    victim = np.clip(1.0 - working - failed, 0.0, 1.0)
    told = (failed / share + victim) / (working / (1.0 - share) + victim)
    unit = text_of(table, "unit")
    return pd.DataFrame({
        "unit": np.where(unit == "", text_of(table, "tag"), unit),
        "tag": text_of(table, "tag"), "area": text_of(table, "area"),
        "equipment": text_of(table, "equipment"), "trap_type": text_of(table, "trap_type"),
        "service": text_of(table, "service"), "pressure": pressure_class(table), "day": day,
        "installed": _days(table, INSTALLED),
        "fails": np.clip(told, 1.0 / MOST_TOLD, MOST_TOLD), "had_failed": failed > working + victim,
        "works_now": working > failed + victim,
    })  # fmt: skip


def _days(table: pd.DataFrame, name: str) -> np.ndarray:
    days = pd.to_datetime(pd.Series(text_of(table, name)), errors="coerce", format="mixed")
    return days.where(days.dt.year.between(1, 9999)).to_numpy()  # a calendar has no others


def _add_unit(builder: _Builder, records: Sequence[Row], repairs: Sequence[date]) -> None:
    """Split a unit's rounds into lives where it was mended, and add each."""
    installed = records[-1]["installed"]
    begun: date | None = None if pd.isna(installed) else installed.date()
    life: list[Row] = []
    for row in records:
        fresh = _new_since(life[-1], row, repairs) if life else None
        if fresh is not None:
            builder.add(life, begun, latest=False)
            begun, life = fresh, []
        life.append(row)
    mended = [day for day in repairs if day > records[-1]["day"]]
    builder.add(life, begun, latest=not mended)
    if mended:
        builder.add([], mended[-1], latest=True, like=records[-1])


def _new_since(
    before: Row, now: Row, repairs: Sequence[date]
) -> date | None:
    """Return the day since when the trap is new, None where it is the same one as before."""
    first: date = before["day"]
    last: date = now["day"]
    known = [day for day in repairs if first < day <= last]
    if known:
        return known[-1]
    types = {str(before["trap_type"]), str(now["trap_type"])} - {""}
    if (before["had_failed"] and now["works_now"]) or len(types) == 2:
        return first + (last - first) / 2
    return None


class _Builder:
    def __init__(self) -> None:
        self._traps: list[Row] = []
        self._brackets: list[tuple[int, float, float, float, float]] = []

    def add(
        self,
        rows: Sequence[Row],
        begun: date | None,
        *,
        latest: bool,
        like: Row | None = None,
    ) -> None:
        last = like or rows[-1]
        names = ("unit", "tag", "area", "equipment", *KINDS)
        seen = last["day"] if rows else begun
        self._traps.append({name: last[name] for name in names} | {"seen": seen, "latest": latest})
        days = [row["day"] for row in rows]
        known = begun if begun is not None and (not days or begun <= days[0]) else None
        origin: date = known or days[0]
        for age, chance in ((0.0, 1.0),) if known else AGE_AT_FIRST_LOOK:
            ages = [age + (day - origin).days / DAYS_PER_YEAR for day in days]
            self._bracket(ages, rows, chance, age)

    def _bracket(
        self, ages: list[float], rows: Sequence[Row], weight: float, guessed: float
    ) -> None:
        # Failed in a bracket: every round after it read a failed trap, each one before a good one.
        fails = np.cumprod([1.0, *(row["fails"] for row in reversed(rows))])[::-1]
        edges = [0.0, *ages, np.inf]
        life = len(self._traps) - 1
        for place, chance in enumerate(weight * fails):
            self._brackets.append((life, edges[place], edges[place + 1], float(chance), guessed))

    def lives(self) -> Lives:
        table = np.array(self._brackets, dtype=float).reshape(-1, 5)
        columns = ["unit", "tag", "area", "equipment", *KINDS, "seen", "latest"]
        return Lives(
            pd.DataFrame(self._traps, columns=columns), table[:, 0].astype(int), table[:, 1],
            table[:, 2], table[:, 3], table[:, 4],
        )  # fmt: skip
