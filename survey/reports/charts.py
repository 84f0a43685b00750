"""Charts as inline SVG that needs no script, no font file and no picture file.

Places across are given in per cent and text in pixels, so a chart takes the width there is and
its text stays the size of the page's text, on a phone as on a desk. Colours are classes that
the page's style sheet fills from the palette; every group also has its own texture.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from html import escape

import numpy as np
from markupsafe import Markup

from survey.reports import measures
from survey.reports.words import GROUPS, counted, percent, plain, tidy, whole

_BAR_ROW = 52
_LANE = 40
_CURVE_HEIGHT = 190
_CURVE_POINTS = 120
_CURVE_TOP = 8
_LONGEST_NAME = 32


@dataclass(frozen=True)
class Bar:
    """One bar: its name, its length, the ends of its range, and its figure in words."""

    name: str
    value: float
    low: float
    high: float
    words: str


@dataclass(frozen=True)
class Mark:
    """One temperature: its words, its value as shown, and if it was read or is a reference."""

    words: str
    value: float
    read: bool


def bars(key: str, title: str, sentence: str, items: Sequence[Bar], group: str = "out") -> Markup:
    """Return horizontal bars, each with a line for its range.

    Parameters
    ----------
    key
        A name for this chart, unique on its page.
    title, sentence
        What it is, and what it shows: both are read out in its place.
    items
        The bars, in the order shown. A range end that is not finite is left out.
    group
        Which of `words.GROUPS` the bars are drawn as.
    """
    ends = [end for bar in items for end in (bar.value, bar.high) if math.isfinite(end)]
    longest = max(ends, default=0.0)
    drawn = [_bar(bar, at, longest, group) for at, bar in enumerate(items)]
    return chart(key, title, sentence, _BAR_ROW * len(items), drawn)


def _bar(bar: Bar, at: int, longest: float, group: str) -> str:
    top = at * _BAR_ROW
    parts = [
        text(tidy(bar.name, _LONGEST_NAME), x="0", y=top + 16),
        text(bar.words, "figure", x="100%", y=top + 16),
        rect("track", "0", top + 23, 100, 12),
    ]
    if longest > 0 and bar.value > 0:
        parts.append(rect(f"g-{group}", "0", top + 23, _across(bar.value, longest), 12))
    if longest > 0 and bar.high > 0 and math.isfinite(bar.low):
        low, high = _across(bar.low, longest), _across(bar.high, longest)
        parts.append(line("span", low, top + 40, high, top + 40))
        parts += [line("span", end, top + 37, end, top + 43) for end in (low, high)]
    return "".join(parts)


def shares(key: str, title: str, sentence: str, counts: dict[str, int]) -> Markup:
    """Return one bar split by group, in the order given; words for each stand beside it."""
    total = sum(counts.values()) or 1
    parts, start = [_hatch(key)], 0.0
    for group, count in counts.items():
        width = 100 * count / total
        if count:
            parts.append(_filled(key, group, start, 1, width, 30))
        start += width
    return chart(key, title, sentence, 32, parts)


def swatch(key: str, group: str) -> Markup:
    """Return a small square in the colour and texture of a group, for a list of words."""
    return _bare(f"{_hatch(key)}{_filled(key, group, 0, 0, 100, 14)}", "swatch")


def temperatures(key: str, title: str, sentence: str, marks: Iterable[Mark]) -> Markup:
    """Return temperatures on one scale, a lane each: those read as dots, references as lines."""
    shown = [mark for mark in marks if math.isfinite(mark.value)]
    values = [mark.value for mark in shown]
    low, high = min(values, default=0.0), max(values, default=1.0)
    room = max(high - low, 20.0)
    start, end = low - 0.06 * room, high + 0.06 * room
    references = [_place(mark.value, start, end) for mark in shown if not mark.read]
    parts = [
        _lane(mark, _place(mark.value, start, end), references, at * _LANE)
        for at, mark in enumerate(shown)
    ]
    return chart(key, title, sentence, _LANE * len(shown), parts)


def _lane(mark: Mark, x: float, references: list[float], top: int) -> str:
    parts = [
        text(mark.words, x="0", y=top + 16),
        text(temperature(mark.value), "figure", x="100%", y=top + 16),
        line("lane", 0, top + 28, 100, top + 28),
        *(line("reference", at, top + 22, at, top + 34) for at in references),
    ]
    if mark.read:
        parts.append(f'<circle class="dot" cx="{x:.1f}%" cy="{top + 28}" r="6"/>')
    else:
        parts.append(line("tick", x, top + 21, x, top + 35))
    return "".join(parts)


def temperature(value: float) -> str:
    """Return a temperature that is in the shown unit already, with that unit."""
    return f"{plain(round(value, 1))} {measures.unit(measures.TEMPERATURE)}"


def curve(key: str, title: str, sentence: str, share: Sequence[float], mark: int) -> Markup:
    """Return the running share of a whole against how many are repaired.

    Parameters
    ----------
    share
        Running share, 0 to 1, after the first, the second and so on. Not empty.
    mark
        After how many to draw the guide lines: where the curve has flattened.
    """
    count = len(share)
    keep = np.unique(np.linspace(0, count, min(count, _CURVE_POINTS) + 1).round().astype(int))
    points = [(100 * n / count, 100 - 100 * (share[n - 1] if n else 0.0)) for n in keep]
    path = "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points)
    foot = _CURVE_TOP + _CURVE_HEIGHT
    x, y = 100 * mark / count, _CURVE_TOP + (1 - share[mark - 1]) * _CURVE_HEIGHT
    inner = (
        f'<svg x="0" y="{_CURVE_TOP}" width="100%" height="{_CURVE_HEIGHT}" viewBox="0 0 100 100" '
        'preserveAspectRatio="none" overflow="visible">'
        f'<path class="under" d="{path}L100 100L0 100Z"/><path class="curve" d="{path}"/></svg>'
    )
    below = foot + 20
    parts = [
        inner,
        line("lane", 0, foot, 100, foot),
        line("guide", x, y, x, foot),
        f'<circle class="dot" cx="{x:.1f}%" cy="{y:.1f}" r="6"/>',
        text("0", x="0", y=below),
        text(counted(count, "device"), "figure", x="100%", y=below),
    ]
    if 8 < x < 66:
        parts.append(text(whole(mark), "middle", x=f"{x:.1f}%", y=below))
        said = percent(share[mark - 1])
        parts.append(text(said, "beside", x=f"{x + 3:.1f}%", y=y + 26))
    return chart(key, title, sentence, foot + 26, parts)


def chart(key: str, title: str, sentence: str, height: int, parts: Iterable[str]) -> Markup:
    """Return a whole chart of the page's width, its parts drawn, its words there to be read out."""
    said = f'<title id="{key}-t">{_safe(title, 120)}</title>'
    said += f'<desc id="{key}-d">{_safe(sentence, 400)}</desc>'
    return Markup(  # noqa: S704  every text in it went through _safe
        f'<svg class="chart" width="100%" height="{height}" role="img" '
        f'aria-labelledby="{key}-t" aria-describedby="{key}-d">{said}{"".join(parts)}</svg>'
    )


def standalone(svg: Markup, css: str, *, width: int = 640) -> str:
    """Return a chart as a picture of its own: a width in pixels, and its style inside."""
    return styled(str(svg).replace(' width="100%"', f' width="{width}"', 1), css)


def styled(svg: str, css: str) -> str:
    """Return a drawing of a page as a picture of its own, its style inside."""
    own = svg.replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" ', 1)
    start = own.index(">") + 1
    return f"{own[:start]}<style>{css}</style>{own[start:]}"


def _bare(inner: str, style: str) -> Markup:
    return Markup(  # noqa: S704  holds no text
        f'<svg class="{style}" width="14" height="14" aria-hidden="true">{inner}</svg>'
    )


def _filled(key: str, group: str, start: float, top: int, width: float, height: int) -> str:
    assert group in GROUPS
    solid = rect(f"g-{group}", f"{start:.2f}%", top, width, height)
    if group != "held":
        return solid
    over = f'<rect x="{start:.2f}%" y="{top}" width="{width:.2f}%" height="{height}" '
    return f'{solid}{over}fill="url(#{key}-hatch)"/>'


def _hatch(key: str) -> str:
    return (
        f'<defs><pattern id="{key}-hatch" width="6" height="6" patternUnits="userSpaceOnUse" '
        'patternTransform="rotate(45)"><line class="hatch" x1="0" y1="0" x2="0" y2="6"/>'
        "</pattern></defs>"
    )


def _safe(text: str, longest: int = 40) -> str:
    return escape(tidy(text, longest))


def text(words: str, style: str = "name", *, x: str, y: float) -> str:
    """Return a line of text; one that is too long is cut, and of none there is nothing."""
    if not words:
        return ""
    return f'<text class="{style}" x="{x}" y="{y:.0f}">{_safe(words)}</text>'


def rect(style: str, x: str, y: int, width: float, height: int) -> str:
    """Return a rectangle, its width in per cent."""
    return f'<rect class="{style}" x="{x}" y="{y}" width="{width:.2f}%" height="{height}"/>'


def line(style: str, x1: float, y1: float, x2: float, y2: float) -> str:
    """Return a line, across in per cent, down in pixels."""
    return f'<line class="{style}" x1="{x1:.2f}%" y1="{y1:g}" x2="{x2:.2f}%" y2="{y2:g}"/>'


def _across(value: float, longest: float) -> float:
    return 98 * min(max(value, 0.0), longest) / longest


def _place(value: float, start: float, end: float) -> float:
    return 100 * (value - start) / (end - start)
