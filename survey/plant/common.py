"""What is common: many units of one place or day wrong together, more than chance explains."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd

from survey.plant.exact import chance_of_as_many, chance_of_as_many_at_rate, holm
from survey.plant.faults import FAULT_BY_NAME, FAULTS, SAME_UNITS, Fault, Seen
from survey.plant.units import RETURN_MAIN_COLUMN, extra_column, text_of
from survey.plant.wording import counted, station_words

CHANCE_AT_MOST = 0.05
"""Corrected for all looks: so often would a round with nothing in common raise any alarm."""
LEAST_BAD = 3
MOSTLY = 0.8
"""A fault whose traps are mostly those of its other side, already named, says nothing new."""
WHOLE_ROUND = "whole round"
GROUP_KINDS = ("return main", "station", "area", "day", WHOLE_ROUND)


@dataclass(frozen=True)
class CommonCause:
    """One cause that many units share.

    Parameters
    ----------
    fault
        Its name in `faults.FAULTS`, or 'gauge'.
    group_kind, group
        One of `GROUP_KINDS`, and which.
    bad, size, other_bad, other_size
        How many have it of the group's, and of the rest of the round.
    chance
        That chance alone does as much, corrected for all looks; NaN for a gauge, whose doubt
        comes from its temperatures.
    explains
        Tags of the traps it explains.
    words, check_first
        Said once, above the list.
    """

    fault: str
    group_kind: str
    group: str
    bad: int
    size: int
    other_bad: int
    other_size: int
    chance: float
    looks: int
    explains: tuple[str, ...]
    words: str
    check_first: str


@dataclass(frozen=True)
class _Look:
    fault: Fault
    kind: str
    group: str
    members: np.ndarray
    can: np.ndarray
    has: np.ndarray
    victims: np.ndarray

    @property
    def bad(self) -> np.ndarray:
        return np.asarray(self.members & self.has)


def common_causes(
    findings: pd.DataFrame, *, calibration: Sequence[Mapping[str, Any]] = ()
) -> list[CommonCause]:
    """Find what many units have in common.

    Every fault is looked for in every station, area, return main (where the round names them)
    and day against the rest of the round, by Fisher's exact test; and in the whole round
    against a usual share. All looks are allowed for together by Holm's method. A fault is said
    once for the same units.

    Parameters
    ----------
    findings
        The table of findings.
    calibration
        What the round told of its instruments, for gauges: ``summary["calibration"]``.
    """
    seen = Seen.of(findings)
    looks = _looks(seen, _groups(findings))
    corrected = holm(np.array([_chance(look) for look in looks]))
    named: list[tuple[_Look, float]] = []
    # A place says more than the whole round, so places come first; then the least likely.
    everywhere = np.array([look.kind == WHOLE_ROUND for look in looks])
    for i in np.lexsort((corrected, everywhere)):
        if corrected[i] <= CHANCE_AT_MOST and _adds(looks[i], [other for other, _ in named]):
            named.append((looks[i], float(corrected[i])))
    return [*_gauges(findings, calibration), *(_said(*one, seen, len(looks)) for one in named)]


def _groups(findings: pd.DataFrame) -> list[tuple[str, str, np.ndarray]]:
    columns = {
        "return main": text_of(findings, extra_column(findings, RETURN_MAIN_COLUMN)),
        "station": text_of(findings, "station"),
        "area": text_of(findings, "area"),
        "day": np.array([at[:10] for at in text_of(findings, "read_at")], dtype=object),
    }
    found = []
    for kind, values in columns.items():
        names = sorted(set(values) - {""})
        # The same split of the round under a second name is no second look.
        if len(names) > 1 or (names and (values == "").any()):
            found += [(kind, name, values == name) for name in names]
    everyone = np.ones(len(findings), dtype=bool)
    return [*found, (WHOLE_ROUND, "", everyone)]


def _looks(seen: Seen, groups: Sequence[tuple[str, str, np.ndarray]]) -> list[_Look]:
    found = []
    for fault in FAULTS:
        can, has, victims = fault.can(seen), fault.has(seen), fault.victim(seen)
        for kind, name, members in groups:
            size = int((members & can).sum())
            if size and (size < can.sum() or kind == WHOLE_ROUND):
                look = _Look(fault, kind, name, members, can, has, members & victims)
                found.append(look)
    return found


def _adds(look: _Look, named: Sequence[_Look]) -> bool:
    """Tell whether a look still stands out without the units that those named account for."""
    sides = {look.fault.name, *(n for pair in SAME_UNITS for n in pair if look.fault.name in pair)}
    told = [other for other in named if other.fault.name in sides]
    traps = [other.victims & look.victims for other in told if other.fault is not look.fault]
    if sum(map(np.sum, traps)) >= MOSTLY * max(1, look.victims.sum()):
        return False
    aside = np.zeros(len(look.members), dtype=bool)
    for other in told:
        aside |= other.bad
    left = replace(look, can=look.can & ~aside, has=look.has & ~aside)
    return int(left.bad.sum()) >= LEAST_BAD and _chance(left) <= CHANCE_AT_MOST


def _chance(look: _Look) -> float:
    size, bad = int((look.members & look.can).sum()), int(look.bad.sum())
    if look.kind == WHOLE_ROUND:
        return chance_of_as_many_at_rate(bad=bad, group=size, rate=look.fault.usual)
    return chance_of_as_many(
        bad=bad, group=size, all_bad=int(look.has.sum()), everyone=int(look.can.sum())
    )


def _said(look: _Look, chance: float, seen: Seen, looks: int) -> CommonCause:
    size, bad = int((look.members & look.can).sum()), int(look.bad.sum())
    other_size = int(look.can.sum()) - size
    other_bad = int(look.has.sum()) - bad
    explains = seen.tag[look.victims]
    held_against = (
        f"{other_bad:,} of {other_size:,} elsewhere"
        if look.kind != WHOLE_ROUND
        else f"a usual {100 * look.fault.usual:.0f} % at most"
    )
    noun = look.fault.noun[0 if bad == 1 else 1]
    words = (
        f"{look.fault.title} {_place(look)}: {bad:,} of {size:,} {noun}, against {held_against}. "
        f"Chance alone would do this {_odds(chance)}, all {looks:,} looks allowed for. "
        f"It explains {counted(len(explains), 'trap')}."
    )
    return CommonCause(
        look.fault.name, look.kind, look.group, bad, size, other_bad, other_size, chance, looks,
        tuple(map(str, explains)), words, FAULT_BY_NAME[look.fault.name].check_first,
    )  # fmt: skip


def _place(look: _Look) -> str:
    if look.kind == WHOLE_ROUND:
        return "all over the round"
    if look.kind == "day":
        return f"among what was read on {look.group}"
    if look.kind == "station":
        return f"at {station_words(look.group)}"
    return f"in {look.group}" if look.kind == "area" else f"on return main {look.group}"


def _odds(chance: float) -> str:
    if chance >= 0.01:
        return f"{100 * chance:.0f} times in 100"
    one_in = 1.0 / max(chance, 1e-12)
    if one_in >= 1e6:
        return "less than once in a million"
    return f"once in {round(one_in, 1 - len(str(int(one_in)))):,.0f}"


def _gauges(
    findings: pd.DataFrame, calibration: Sequence[Mapping[str, Any]]
) -> list[CommonCause]:
    station, device = text_of(findings, "station"), text_of(findings, "device")
    found = []
    for line in calibration:
        if line.get("what") != "gauge":
            continue
        group = str(line.get("group", ""))
        mine = (station == group) & (device == "trap")
        size, others = int(mine.sum()), int((device == "trap").sum()) - int(mine.sum())
        found.append(
            CommonCause(
                "gauge", "station", group, size, size, 0, others, float("nan"), 0,
                tuple(map(str, text_of(findings, "tag")[mine])),
                f"The gauge is in doubt at {station_words(group)}: {line.get('words', '')} It "
                f"touches the verdicts of {counted(size, 'trap')}.",
                "Put a good gauge beside it, and read the station again with the right pressure.",
            )
        )  # fmt: skip
    return found
