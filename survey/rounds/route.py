"""The next round's route: which devices, in which order, why, and what to read on each."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

import numpy as np
import pandas as pd

from survey.columns import DEVICES, INPUT_BY_NAME, INPUT_COLUMNS
from survey.plant.units import numbers_of, text_of
from survey.readings.words import read_choice
from survey.rounds.lives import Rounds
from survey.rounds.what_to_read import columns_to_read
from survey.site import Site

REASONS = ("mend", "settle", "unread", "odds", "usual")
"""Why a device is on the route, the weightiest first: to see whether it was mended; to settle an
undecided one; it was not read last time; it is among those likeliest to fail; it is its turn."""
ODDS_FROM = 2.0
"""A trap this many times likelier to fail than the middle one is named for it."""
WALK_KNOWN_FROM = 0.8
"""Share of devices with a time of their own from which the last walk's order is followed."""
KEPT_COLUMNS = tuple(
    c.name for c in INPUT_COLUMNS if c.role in ("name", "place", "fitting") and c.name != "note"
)
"""What a device is and where: it goes on with it from round to round."""


@dataclass(frozen=True)
class Stop:
    """One device of the route.

    Parameters
    ----------
    fittings
        What it is and where: `KEPT_COLUMNS` that are known.
    last
        Its last readings by column, and `last_read` when they were taken (None: never).
    state, confidence
        Its last verdict; '' and NaN where it has none.
    reason
        One of `REASONS`.
    to_read
        Columns, the one that tells most first.
    chance
        Chance to fail before the route's day; NaN where it is not known.
    """

    tag: str
    device: str
    area: str
    station: str
    equipment: str
    fittings: dict[str, Any]
    last: dict[str, Any]
    last_read: date | None
    state: str
    confidence: float
    action: str
    reason: str
    to_read: tuple[str, ...]
    saturation_f: float
    chance: float = float("nan")


@dataclass(frozen=True)
class Route:
    """A round to walk: its stops in order.

    Parameters
    ----------
    walked
        Whether the order is that of the last walk, by the times at which devices were read.
    left_out
        Devices that are not on it, where only some were asked for.
    """

    site_name: str
    on: date
    stops: tuple[Stop, ...]
    walked: bool
    left_out: int = 0
    areas: tuple[str, ...] = field(default=())


def plan_route(
    rounds: Rounds,
    *,
    site: Site,
    on: date,
    odds: pd.DataFrame | None = None,
    set_aside: pd.DataFrame | None = None,
    areas: Sequence[str] = (),
    only_reasons: bool = False,
) -> Route:
    """Plan the next round.

    Parameters
    ----------
    rounds
        Day and findings table of each round; every device of any round is on the route.
    odds
        What `reliability.fails_next` gave for that day.
    set_aside
        Devices whose rows could not be used in the last round, a text column `tag` and any of
        `KEPT_COLUMNS`: they count as not read, and are on the route though no round judged them.
    areas
        Only these areas; all where none is named.
    only_reasons
        Leave out devices that have no reason but that it is their turn.
    """
    table, seen = _newest(rounds)
    last_day = max((day for day, _ in rounds), default=on)
    walked = _walk_known(table)
    unjudged = set_aside if set_aside is not None else pd.DataFrame({"tag": []})
    table, seen = _with_unjudged(table, seen, unjudged, last_day)
    place = _walk_order(table, seen) if walked else _list_order(table)
    table, seen = table.iloc[place].reset_index(drop=True), [seen[i] for i in place]
    stops = _stops(table, seen, last_day, site, odds, frozenset(unjudged["tag"]))
    kept = [
        stop for stop in stops
        if (not areas or stop.area in areas) and (not only_reasons or stop.reason != "usual")
    ]  # fmt: skip
    named = tuple(dict.fromkeys(stop.area for stop in kept))
    return Route(site.name, on, tuple(kept), walked, len(stops) - len(kept), named)


def natural(text: str) -> tuple[Any, ...]:
    """Return a key that sorts T-9 before T-10."""
    parts = re.split(r"(\d+)", text.casefold())
    return tuple((0, int(p), "") if p.isdecimal() and len(p) < 19 else (1, 0, p) for p in parts)


def _newest(rounds: Rounds) -> tuple[pd.DataFrame, list[date]]:
    """Return every device's newest row, and the day of the round it is from."""
    found: dict[tuple[str, str], tuple[date, int]] = {}
    ordered = sorted(rounds, key=lambda one: one[0])
    for number, (day, table) in enumerate(ordered):
        unit = text_of(table, "unit")
        tag = text_of(table, "tag")
        names = np.where(unit == "", tag, unit)
        for row, key in enumerate(zip(names, _devices(table), strict=True)):
            found.pop(key, None)
            found[key] = (day, number * 10**9 + row)
    parts = []
    for number, (_, table) in enumerate(ordered):
        rows = [at % 10**9 for _, at in found.values() if at // 10**9 == number]
        parts.append(table.iloc[rows])
    days = [day for number in range(len(ordered))
            for day, at in found.values() if at // 10**9 == number]  # fmt: skip
    parts = [part.astype(object) for part in parts if len(part)]
    return pd.concat(parts, ignore_index=True) if parts else pd.DataFrame({"tag": []}), days


def _with_unjudged(
    table: pd.DataFrame, seen: list[date], unjudged: pd.DataFrame, last_day: date
) -> tuple[pd.DataFrame, list[date]]:
    """Return the newest rows with those of devices that no round has judged, read but unused."""
    new = unjudged[~unjudged["tag"].isin(text_of(table, "tag"))]
    if not len(new):
        return table, seen
    words = {name: new[name].to_list() for name in new.columns if name in KEPT_COLUMNS}
    for name in ("device", "trap_type"):
        words[name] = [read_choice(word, name)[0] for word in words.get(name, [""] * len(new))]
    added = pd.DataFrame(words, dtype=object)
    return pd.concat([table, added], ignore_index=True), [*seen, *[last_day] * len(added)]


def _devices(table: pd.DataFrame) -> np.ndarray:
    kind = text_of(table, "device")
    return np.where(np.isin(kind, DEVICES), kind, "trap")


def _times(table: pd.DataFrame) -> pd.Series[Any]:
    return pd.to_datetime(
        pd.Series(text_of(table, "read_at")), errors="coerce", format="ISO8601", utc=True
    )


def _walk_known(table: pd.DataFrame) -> bool:
    times = _times(table)
    return len(table) > 1 and times.nunique() >= WALK_KNOWN_FROM * len(table)


def _walk_order(table: pd.DataFrame, seen: Sequence[date]) -> list[int]:
    """Follow the last walk by the clock; areas in the order in which they were entered.

    What was missed in the last round comes first in its area.
    """
    times = _times(table)
    stamp = [float("inf") if pd.isna(at) else at.timestamp() for at in times]
    area, station, tag = (_list(table, name) for name in ("area", "station", "tag"))
    entered: dict[str, tuple[int, float]] = {}
    for i in range(len(table)):
        rank = (-seen[i].toordinal(), stamp[i])
        entered[area[i]] = min(entered.get(area[i], rank), rank)
    return sorted(
        range(len(table)),
        key=lambda i: (entered[area[i]], area[i], seen[i], stamp[i], natural(station[i]),
                       natural(tag[i])),
    )  # fmt: skip


def _list_order(table: pd.DataFrame) -> list[int]:
    """By area, then station, then heater by heater: a trap and its companions together."""
    area, station, tag, equipment = (
        _list(table, name) for name in ("area", "station", "tag", "equipment")
    )
    kind = [DEVICES.index(name) for name in _devices(table)]
    # A heater goes by the name of its trap, or of its first companion.
    heater = [(area[i], station[i], equipment[i] or f"\0{tag[i]}") for i in range(len(table))]
    leader: dict[tuple[str, str, str], tuple[Any, ...]] = {}
    for i, key in enumerate(heater):
        rank = (kind[i], natural(tag[i]))
        leader[key] = min(leader.get(key, rank), rank)
    return sorted(
        range(len(table)),
        key=lambda i: (natural(area[i]), natural(station[i]), leader[heater[i]][1], kind[i],
                       natural(tag[i])),
    )  # fmt: skip


def _list(table: pd.DataFrame, name: str) -> list[str]:
    return [str(value) for value in text_of(table, name)]


def _stops(
    table: pd.DataFrame, seen: Sequence[date], last_day: date, site: Site,
    odds: pd.DataFrame | None, set_aside: frozenset[str],
) -> list[Stop]:  # fmt: skip
    chances = {} if odds is None else dict(zip(odds["tag"], odds["chance"], strict=True))
    middle = float(np.median(list(chances.values()))) if chances else np.inf
    to_read = columns_to_read(table, site=site)
    kind, saturation = _devices(table), numbers_of(table, "saturation_f")
    confidence = numbers_of(table, "confidence")
    state, action, tag = (text_of(table, name) for name in ("state", "action", "tag"))
    stops = []
    for i, known in enumerate(_known(table)):
        chance = float(chances.get(tag[i], np.nan)) if kind[i] == "trap" else float("nan")
        unread = seen[i] < last_day or tag[i] in set_aside
        stops.append(Stop(
            tag=tag[i], device=str(kind[i]), area=str(known.get("area", "")),
            station=str(known.get("station", "")), equipment=str(known.get("equipment", "")),
            fittings={name: known[name] for name in KEPT_COLUMNS if name in known}
            | {"device": str(kind[i])},
            last={n: v for n, v in known.items() if n not in KEPT_COLUMNS},
            last_read=seen[i] if state[i] else None,
            state=state[i], confidence=float(confidence[i]), action=action[i],
            reason=_reason(state[i], unread, likely=chance >= ODDS_FROM * middle),
            to_read=to_read[i], saturation_f=float(saturation[i]), chance=chance,
        ))  # fmt: skip
    return stops


def _known(table: pd.DataFrame) -> list[dict[str, Any]]:
    """Return the input columns of each row that hold something, as plain numbers and text."""
    found: list[dict[str, Any]] = [{} for _ in range(len(table))]
    for name, column in INPUT_BY_NAME.items():
        if column.kind == "number":
            numbers = numbers_of(table, name)
            for i in np.flatnonzero(np.isfinite(numbers)).tolist():
                found[i][name] = float(numbers[i])
        else:
            for i, text in enumerate(text_of(table, name)):
                if text:
                    found[i][name] = text
    return found


def _reason(state: str, unread: bool, *, likely: bool) -> str:
    if not state:
        return "unread" if unread else "settle"
    if state == "undecided":
        return "settle"
    if state != "working":
        return "mend"
    if unread:
        return "unread"
    return "odds" if likely else "usual"
