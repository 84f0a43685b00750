"""Pictures of a round: each a chart, the sentence that says what it shows, and its table twin.

Every one answers None where the round has nothing to draw. Figures are those of the findings,
in the units shown; counting them is all that is done here.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import pandas as pd
from markupsafe import Markup

from survey.columns import NORMAL_90, TRAP_STATES, TRAP_TYPES, UNDECIDED
from survey.diagnosis.priors import INLET_HOT_SPREAD, SUBCOOLING_F
from survey.findings import Findings
from survey.reports import lanes, measures, numerals, tables, words
from survey.reports.page_words import COLUMN_HEADS, PICTURES
from survey.reports.spoken import spoken

MARKS_PER_GROUP = 40
HOTTEST_SHOWN_F = -25.0
USUAL_AIR_F = 70.0
_DRAWN = (
    "device", "trap_type", "state", "subcooling_f", "saturation_f", "sound_over_background_db",
)  # fmt: skip

LEAST_LOW_PERCENT = 0.5
"""What reads low by less is said to read true."""


@dataclass(frozen=True)
class Picture:
    """A chart with its words and its table twin; ``more`` rows of the table are left out."""

    key: str
    title: str
    sentence: str
    chart: Markup
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    more: int = 0


def temperatures_against_saturation(findings: Findings) -> Picture | None:
    """Return how far each trap's inlet stands under its steam, beside what its type should do."""
    table = _traps(findings)
    below = _numbers(table, "subcooling_f")
    steam = _numbers(table, "saturation_f")
    kinds = tables.texts(table, "trap_type")
    groups = tables.groups(table)
    lane, rows, held, read = [], [], 0, 0
    for kind in _present(kinds[below.notna()], TRAP_TYPES):
        mine = (kinds == kind) & below.notna()
        low, high = _expected_f(kind, float(steam[mine].median()))
        mid = below[mine]
        within = int(mid.between(low, high).sum())
        colder, hotter = int((mid > high).sum()), int((mid < low).sum())
        held, read = held + within, read + len(mid)
        name = words.capital(words.word(kind)) if kind else COLUMN_HEADS["no_type"]
        says = COLUMN_HEADS["of_expected"].format(words.whole(within), words.whole(len(mid)))
        marks = _marks(mid, groups[mine])
        lane.append(lanes.Lane(name, says, (low, high), marks))
        ends = " to ".join(_degrees(end) for end in (low, high))
        rows.append((name, ends, *map(words.whole, (len(mid), within, colder, hotter)),
                     _degrees(float(mid.median()))))
    if not lane:
        return None
    said = PICTURES["temperatures_said"].format(words.counted(read, "trap"), words.whole(held))
    said += _thinned(read, sum(len(one.marks) for one in lane))
    unit = measures.unit(measures.DIFFERENCE)
    heads = tuple(COLUMN_HEADS[n].format(unit) for n in (
        "trap_type", "expected", "read", "within", "colder", "hotter", "middle_below"))
    title = PICTURES["temperatures"]
    chart = lanes.lanes("bs", title, said, lane, _below_steam())
    return Picture("below_steam", title, said, chart, heads, tuple(rows))


def sound_against_background(findings: Findings) -> Picture | None:
    """Return how far each trap's sound stands over its background, by state."""
    table = _traps(findings)
    over = _numbers(table, "sound_over_background_db")
    states, groups = tables.texts(table, "state"), tables.groups(table)
    lane, rows, middles, drawn = [], [], {}, 0
    values = over.dropna()
    if values.empty:
        return None
    for state in _present(states[over.notna()], (*TRAP_STATES, UNDECIDED)):
        mine = (states == state) & over.notna()
        levels = over[mine]
        low, middle, high = (float(levels.quantile(q)) for q in (0.1, 0.5, 0.9))
        name = words.capital(words.state_words(state))
        marks = _marks(levels, groups[mine])
        span = (low, high) if len(levels) > 4 else None
        lane.append(lanes.Lane(name, f"{_whole(middle)} dB", None, marks, span))
        ends = f"{_whole(low)} to {_whole(high)}"
        rows.append((name, words.whole(len(levels)), _whole(middle), ends))
        middles[state], drawn = _whole(middle), drawn + len(marks)
    said = PICTURES["sound_said"].format(words.counted(len(values), "trap"))
    if "working" in middles and "failed_open" in middles:
        said += PICTURES["sound_open"].format(middles["working"], middles["failed_open"])
    said += _thinned(len(values), drawn)
    heads = tuple(COLUMN_HEADS[n] for n in ("state", "read", "middle_db", "range_db"))
    first, last = min(0.0, float(values.min())), max(10.0, float(values.max()))
    ticks = tuple((float(at), f"{at:g} dB") for at in range(0, int(last) + 1, _step(last)))
    chart = lanes.lanes("so", PICTURES["sound"], said, lane, lanes.Scale(first, last, ticks))
    return Picture("sound", PICTURES["sound"], said, chart, heads, tuple(rows))


def calibration_found(findings: Findings) -> Picture | None:
    """Return what each instrument was found to do: how low thermometers read, with the range."""
    told = [e for e in findings.summary.get("calibration", []) if isinstance(e, dict)]
    shares = [e for e in told if e.get("unit") == "share of saturation" and _finite(e)]
    if not shares:
        return None
    lane, rows = [], []
    for entry in shares:
        low, value, high = (100 * (1 - float(entry[end])) for end in ("high", "value", "low"))
        name = _instrument(entry)
        said, *ends = (numerals.grouped(share, 1) for share in (value, low, high))
        lane.append(lanes.Lane(name, f"{said} %", span=(low, high), at=value))
        rows.append((name, f"{said} %", f"{' to '.join(ends)} %", _told(entry)))
    others = [e for e in told if e not in shares]
    rows += [(_instrument(e), "", "", _told(e)) for e in others]
    worst = max(lane, key=lambda one: one.at or 0.0)
    low = (worst.at or 0.0) >= LEAST_LOW_PERCENT
    said = PICTURES["calibration_said" if low else "calibration_true"].format(
        worst.name, worst.words
    )
    last = max(10.0, *(one.span[1] for one in lane if one.span))
    first = min(0.0, *(one.span[0] for one in lane if one.span))
    ticks = tuple((float(at), f"{at:g} %") for at in range(0, int(last) + 1, _step(last)))
    heads = tuple(COLUMN_HEADS[n] for n in ("instrument", "reads_low", "range", "found"))
    chart = lanes.lanes("ca", PICTURES["calibration"], said, lane,
                        lanes.Scale(first, last, ticks))
    return Picture("calibration", PICTURES["calibration"], said, chart, heads, tuple(rows))


def _traps(findings: Findings) -> pd.DataFrame:
    table = findings.table[[name for name in _DRAWN if name in findings.table]]
    return table[tables.texts(table, "device").isin(["trap", ""])]


def _numbers(table: pd.DataFrame, name: str) -> pd.Series[float]:
    if name not in table:
        return pd.Series(math.nan, index=table.index, dtype="float64")
    return pd.to_numeric(table[name], errors="coerce").astype("float64")


def _present(names: pd.Series[str], order: Sequence[str]) -> list[str]:
    """Return the names that are there: those of a fixed order first, then the others, '' last."""
    there = set(names)
    others = sorted(name for name in there if name and name not in order)
    return [n for n in order if n in there] + others[:8] + ([""] if "" in there else [])


def _expected_f(kind: str, steam_f: float) -> tuple[float, float]:
    """Return how far under its steam a working trap's inlet is read, °F: 8 in 10 of them."""
    centre, spread = SUBCOOLING_F.get(kind, SUBCOOLING_F["float_thermostatic"])
    span_f = max(steam_f - USUAL_AIR_F, 0.0) if math.isfinite(steam_f) else 0.0
    half = NORMAL_90 * math.hypot(spread, INLET_HOT_SPREAD["working"] * span_f)
    return centre - half, centre + half


def _marks(values: pd.Series[float], groups: pd.Series[str]) -> list[tuple[float, str]]:
    """Return a mark for each device, or evenly picked ones of a group that has too many."""
    found: list[tuple[float, str]] = []
    for group in reversed(words.GROUPS):
        mine = values[groups == group].sort_values(kind="stable").tolist()
        count = min(len(mine), MARKS_PER_GROUP)
        found += [(mine[int((at + 0.5) * len(mine) / count)], group) for at in range(count)]
    return found


def _thinned(read: int, drawn: int) -> str:
    if drawn == read:
        return PICTURES["each_mark"]
    return PICTURES["some_marks"].format(words.whole(drawn), words.whole(read))


def _below_steam() -> lanes.Scale:
    unit = measures.unit(measures.DIFFERENCE)
    last, size = (80, 1.8) if measures.in_si() else (150, 1.0)
    middle = last // 3 // 10 * 10
    ticks = ((0.0, f"0 {unit}"), (middle * size, f"{middle} {unit}"),
             (last * size, PICTURES["and_colder"].format(f"{last} {unit}")))
    return lanes.Scale(HOTTEST_SHOWN_F, last * size, ticks)


def _whole(figure: float) -> str:
    return words.whole(round(figure) + 0.0)


def _degrees(difference_f: float) -> str:
    return _whole(measures.value(measures.DIFFERENCE, difference_f))


def _step(last: float) -> int:
    return next((step for step in (2, 5, 10, 20, 50) if last / step <= 5), 100)


def _finite(entry: dict[str, Any]) -> bool:
    return all(
        isinstance(entry.get(end), int | float) and math.isfinite(entry[end])
        for end in ("value", "low", "high")
    )


def _instrument(entry: dict[str, Any]) -> str:
    name = words.capital(words.tidy(entry.get("what"), 40))
    place = words.tidy(entry.get("group"), 40)
    return f"{name}, {place}" if place else name


def _told(entry: dict[str, Any]) -> str:
    return spoken(words.tidy(entry.get("words"), 300), [words.tidy(entry.get("group"), 200)])
