"""Charts of many readings: a lane for each kind, a mark for each device; and a tree of counts.

Drawn as `charts` draws: places across in per cent, text in pixels, colours by class. A mark's
shape says its group as well as its colour does, so a grey print loses nothing.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup

from survey.reports import charts
from survey.reports.words import GROUPS

_ROW = 58
_AXIS = 26
_KEY_ROW = 24
_LINE = 34
_FIRST, _LAST = 3.0, 97.0
_SCATTER = (0, -6, 6)
_BRANCH = 30
_SHAPES = {
    "out": '<circle r="5"/>',
    "held": '<path d="M-5-5H5V5H-5Z"/>',
    "undecided": '<path d="M0-6L6 0L0 6L-6 0Z"/>',
    "working": '<path d="M0-7V7"/>',
}
"""Shape of a device's mark by group: disc, square, open diamond, upright stroke."""


@dataclass(frozen=True)
class Lane:
    """One lane: its name, its figure in words, what was expected, a range, and its marks.

    Parameters
    ----------
    name, words
        Written over the lane, left and right.
    band
        Both ends of what is expected, or None.
    marks
        Place on the scale and group of each mark, drawn in this order.
    span, at
        Both ends of a range drawn as a line, and the figure that it is the range of, or None.
    """

    name: str
    words: str
    band: tuple[float, float] | None = None
    marks: Sequence[tuple[float, str]] = ()
    span: tuple[float, float] | None = None
    at: float | None = None


@dataclass(frozen=True)
class Scale:
    """Places on the scale from left to right, and the words under some of them."""

    first: float
    last: float
    ticks: tuple[tuple[float, str], ...]

    def across(self, value: float) -> float:
        """Return the place of a value in per cent; what is past an end stands at that end."""
        share = (value - self.first) / (self.last - self.first)
        return _FIRST + (_LAST - _FIRST) * min(max(share, 0.0), 1.0)


@dataclass(frozen=True)
class Branch:
    """One line of a tree: how deep it hangs, its name, its count, and its figure in words."""

    depth: int
    name: str
    count: int
    words: str


def lanes(key: str, title: str, sentence: str, items: Sequence[Lane], scale: Scale) -> Markup:
    """Return lanes over one scale, with a key to the marks that are there.

    Parameters
    ----------
    key
        A name for this chart, unique on its page.
    title, sentence
        What it is, and what it shows: both are read out in its place.
    """
    foot = _ROW * len(items)
    seen = [group for group in GROUPS if any(group == g for one in items for _, g in one.marks)]
    parts = [_defined(key, seen)]
    parts += [_lane(key, one, scale, at * _ROW) for at, one in enumerate(items)]
    parts += [_tick(scale.across(at), said, foot + 20) for at, said in scale.ticks]
    parts += [_key(key, group, foot + _AXIS + 16 + at * _KEY_ROW) for at, group in enumerate(seen)]
    return charts.chart(key, title, sentence, foot + _AXIS + 6 + _KEY_ROW * len(seen), parts)


def tree(key: str, title: str, sentence: str, branches: Sequence[Branch]) -> Markup:
    """Return a tree of counts: each branch hangs under the last one that is less deep."""
    longest = max((one.count for one in branches), default=1)
    parts = [_branch(one, at * _BRANCH, longest) for at, one in enumerate(branches)]
    return charts.chart(key, title, sentence, _BRANCH * len(branches) + 4, parts)


def _lane(key: str, one: Lane, scale: Scale, top: int) -> str:
    y = top + _LINE
    parts = [charts.line("lane", 0, y, 100, y)]
    # Short, so that no line of the scale runs through the words.
    parts += [charts.line("lane", x, y - 12, x, y + 12)
              for x in (scale.across(at) for at, _ in scale.ticks)]
    if one.band:
        left, right = (scale.across(end) for end in one.band)
        parts.append(charts.rect("band", f"{left:.2f}%", y - 10, right - left, 20))
    if one.span:
        left, right = (scale.across(end) for end in one.span)
        parts.append(charts.line("span", left, y, right, y))
        parts += [charts.line("span", end, y - 5, end, y + 5) for end in (left, right)]
    for at, (value, group) in enumerate(one.marks):
        if math.isfinite(value):
            x, place = scale.across(value), y + _SCATTER[at % 3]
            parts.append(f'<use href="#{key}-{group[0]}" x="{x:.1f}%" y="{place}"/>')
    if one.at is not None:
        parts.append(f'<circle class="dot" cx="{scale.across(one.at):.1f}%" cy="{y}" r="6"/>')
    parts += [charts.text(one.name, x="0", y=top + 16),
              charts.text(one.words, "figure", x="100%", y=top + 16)]
    return "".join(parts)


def _defined(key: str, groups: Sequence[str]) -> str:
    shapes = "".join(f'<g id="{key}-{g[0]}" class="m-{g}">{_SHAPES[g]}</g>' for g in groups)
    return f"<defs>{shapes}</defs>"


def _key(key: str, group: str, y: int) -> str:
    mark = f'<use href="#{key}-{group[0]}" x="8" y="{y}"/>'
    return mark + charts.text(GROUPS[group], x="22", y=y + 5)


def _tick(x: float, said: str, y: int) -> str:
    if x <= _FIRST:
        return charts.text(said, x="0", y=y)
    if x >= _LAST:
        return charts.text(said, "end", x="100%", y=y)
    return charts.text(said, "middle", x=f"{x:.1f}%", y=y)


def _branch(one: Branch, top: int, longest: int) -> str:
    left = 5.0 * one.depth
    parts = []
    if one.depth:
        parts += [charts.line("reference", left - 3, top, left - 3, top + 14),
                  charts.line("reference", left - 3, top + 14, left - 0.8, top + 14)]
    width = (70.0 - left) * one.count / longest
    parts += [
        charts.text(one.name, "strong" if not one.depth else "name", x=f"{left:.1f}%", y=top + 18),
        charts.text(one.words, "figure", x="100%", y=top + 18),
    ]
    if one.count:
        parts.append(charts.rect("g-working", f"{left:.1f}%", top + 23, max(width, 0.4), 4))
    return "".join(parts)
