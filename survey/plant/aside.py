"""Rows that were set aside when the round was read: a plan knows nothing of them, and names them.

A step down that floods a heater is the costliest mistake, and a row that could not be used may be
the very unit that floods.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import pandas as pd

from survey.plant.wording import NO_STATION
from survey.readings.gather import rejected_cells, without_totals

MOST_NAMES = 12


@dataclass(frozen=True)
class SetAside:
    """Rows set aside: how many, and the first dozen by tag, or by line where there is no tag."""

    count: int = 0
    names: tuple[str, ...] = ()


NONE_ASIDE = SetAside()


@dataclass(frozen=True)
class Rejected:
    """The rows set aside of a round, and how its headers were understood.

    Parameters
    ----------
    rows
        One line per row set aside, as in ``Findings.rejects``; no columns where nothing is kept.
    headers
        ``summary["headers"]``: what each header was taken for.
    """

    rows: pd.DataFrame
    headers: Sequence[Mapping[str, Any]] = ()


def set_aside_by_station(
    rejected: Rejected | None, *, stations: Collection[str], judged: Collection[str]
) -> tuple[dict[str, SetAside], SetAside]:
    """Return the rows set aside of each station that is planned, and those of none of them.

    Parameters
    ----------
    stations
        Stations with a plan. Where they are all without a name, so are the rows of theirs.
    judged
        Tags of the devices that were judged: a second row of one is named with its line.
    """
    if rejected is None or rejected.rows.empty:
        return {}, NONE_ASIDE
    rows = without_totals(rejected.rows)
    names: dict[str, list[str]] = {}
    elsewhere: list[str] = []
    unnamed_only = set(stations) <= {NO_STATION}
    tags, places = (
        rejected_cells(rows, rejected.headers, column) for column in ("tag", "station")
    )
    for tag, place, row in zip(tags, places, rows["row"], strict=True):
        line = str(row) if "row" in str(row) else f"row {row}"
        asides = [line] if tag in judged else []
        known = place in stations and (place != NO_STATION or unnamed_only)
        if place and not known:
            asides.append(f"station {place}")
        said = f"{tag or line} ({', '.join(asides)})" if asides else tag or line
        (names.setdefault(place, []) if known else elsewhere).append(said)
    return {place: _counted(its) for place, its in names.items()}, _counted(elsewhere)


def _counted(names: Sequence[str]) -> SetAside:
    return SetAside(len(names), tuple(names[:MOST_NAMES]))
