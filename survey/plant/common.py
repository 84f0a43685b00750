"""What is common: many units of one place or day wrong together, more than chance explains."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
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
class _Split:
    """One way of splitting the round into groups: a code for each row, -1 where it has none."""

    kind: str
    names: tuple[str, ...]
    codes: np.ndarray


@dataclass(frozen=True)
class _Look:
    fault: Fault
    split: _Split
    code: int
    chance: float

    @property
    def kind(self) -> str:
        return self.split.kind

    @property
    def group(self) -> str:
        return self.split.names[self.code]

    @property
    def members(self) -> np.ndarray:
        return np.asarray(self.split.codes == self.code)


@dataclass(frozen=True)
class _Marked:
    """Who can have a fault, who has it, and whom it explains, in the whole round."""

    can: np.ndarray
    has: np.ndarray
    victims: np.ndarray


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
    marked = {f.name: _Marked(f.can(seen), f.has(seen), f.victim(seen)) for f in FAULTS}
    looks = _looks(marked, _splits(findings))
    corrected = holm(np.array([look.chance for look in looks]))
    named: list[tuple[_Look, float]] = []
    # A place says more than the whole round, so places come first; then the least likely.
    everywhere = np.array([look.kind == WHOLE_ROUND for look in looks])
    for i in np.lexsort((corrected, everywhere)):
        if corrected[i] <= CHANCE_AT_MOST and _adds(
            looks[i], [other for other, _ in named], marked
        ):
            named.append((looks[i], float(corrected[i])))
    return [*_gauges(findings, calibration), *(
        _said(look, chance, marked[look.fault.name], seen, len(looks)) for look, chance in named
    )]


def _splits(findings: pd.DataFrame) -> list[_Split]:
    columns = {
        "return main": text_of(findings, extra_column(findings, RETURN_MAIN_COLUMN)),
        "station": text_of(findings, "station"),
        "area": text_of(findings, "area"),
        "day": np.array([at[:10] for at in text_of(findings, "read_at")], dtype=object),
    }
    found = []
    for kind, values in columns.items():
        codes, names = pd.factorize(pd.Series(values, dtype="str").replace("", None), sort=True)
        # One group that is everybody is the whole round, which has a look of its own.
        if len(names) > 1 or (len(names) and (codes < 0).any()):
            found.append(_Split(kind, tuple(map(str, names)), codes))
    everyone = np.zeros(len(findings), dtype=np.int64)
    return [*found, _Split(WHOLE_ROUND, ("",), everyone)]


def _looks(marked: Mapping[str, _Marked], splits: Sequence[_Split]) -> list[_Look]:
    found = []
    for fault in FAULTS:
        who = marked[fault.name]
        everyone, all_bad = int(who.can.sum()), int(who.has.sum())
        for split in splits:
            sizes, bads = (
                np.bincount(split.codes[mask & (split.codes >= 0)], minlength=len(split.names))
                for mask in (who.can, who.has)
            )
            for code in np.flatnonzero(sizes):
                size, bad = int(sizes[code]), int(bads[code])
                if size < everyone or split.kind == WHOLE_ROUND:
                    chance = _chance(fault, split.kind, bad, size, all_bad, everyone)
                    found.append(_Look(fault, split, int(code), chance))
    return found


def _chance(fault: Fault, kind: str, bad: int, size: int, all_bad: int, everyone: int) -> float:
    if kind == WHOLE_ROUND:
        return chance_of_as_many_at_rate(bad=bad, group=size, rate=fault.usual)
    return chance_of_as_many(bad=bad, group=size, all_bad=all_bad, everyone=everyone)


def _adds(look: _Look, named: Sequence[_Look], marked: Mapping[str, _Marked]) -> bool:
    """Tell whether a look still stands out without the units that those named account for."""
    who, members = marked[look.fault.name], look.members
    sides = {look.fault.name, *(n for pair in SAME_UNITS for n in pair if look.fault.name in pair)}
    told = [other for other in named if other.fault.name in sides]
    victims = members & who.victims
    aside, explained = np.zeros(len(members), dtype=bool), np.zeros(len(members), dtype=bool)
    for other in told:
        aside |= other.members & marked[other.fault.name].has
        if other.fault is not look.fault:
            explained |= other.members & marked[other.fault.name].victims
    if (explained & victims).sum() >= MOSTLY * max(1, victims.sum()):
        return False
    can, has = who.can & ~aside, who.has & ~aside
    bad, size = int((members & has).sum()), int((members & can).sum())
    if bad < LEAST_BAD:
        return False
    chance = _chance(look.fault, look.kind, bad, size, int(has.sum()), int(can.sum()))
    return chance <= CHANCE_AT_MOST


def _said(
    look: _Look, chance: float, who: _Marked, seen: Seen, looks: int
) -> CommonCause:
    members = look.members
    size, bad = int((members & who.can).sum()), int((members & who.has).sum())
    other_size, other_bad = int(who.can.sum()) - size, int(who.has.sum()) - bad
    explains = seen.tag[members & who.victims]
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
