"""Units lost against pressure, as an SVG: the middle line, the 10-90 % range, today, the end."""

from __future__ import annotations

from markupsafe import Markup

from survey.plant.curve import LostCurve
from survey.reports import measures, numerals
from survey.reports.measures import GAUGE
from survey.reports.words import counted

_WIDTH, _HEIGHT = 640, 300
_LEFT, _RIGHT, _TOP, _BOTTOM = 44, 16, 26, 48


def lost_chart(curve: LostCurve, *, today_psig: float, end_psig: float) -> Markup:
    """Draw the curve; what it shows is in its own title for those who cannot see it."""
    most = max(1.0, max(curve.high))
    first, last = curve.psig[0], curve.psig[-1]

    def x(psig: float) -> float:
        share = (psig - first) / (last - first)
        return _LEFT + min(1.0, max(0.0, share)) * (_WIDTH - _LEFT - _RIGHT)

    def y(units: float) -> float:
        return _HEIGHT - _BOTTOM - units / most * (_HEIGHT - _TOP - _BOTTOM)

    def path(values: tuple[float, ...]) -> str:
        return " ".join(f"{x(p):.1f},{y(v):.1f}" for p, v in zip(curve.psig, values, strict=True))

    back = " ".join(reversed(path(curve.low).split(" ")))
    parts = [
        Markup('<polygon class="range" points="{} {}"/>').format(path(curve.high), back),
        Markup('<polyline class="line" points="{}"/>').format(path(curve.expected)),
        _axes(y(0), y(most), most, first, last),
    ]
    marks = [(today_psig, f"today {measures.figured(GAUGE, today_psig)}")]
    if end_psig < today_psig:
        marks.append((end_psig, f"planned {measures.figured(GAUGE, end_psig)}"))
    for psig, words in marks:
        parts.append(
            Markup(
                '<line class="mark" x1="{x:.1f}" x2="{x:.1f}" y1="{top}" y2="{foot:.1f}"/>'
                '<text x="{x:.1f}" y="{text}" text-anchor="{side}">{words}</text>'
            ).format(
                x=x(psig), top=_TOP, foot=y(0), text=_TOP - 9, words=words,
                side="end" if x(psig) > _WIDTH / 2 else "start",
            )
        )  # fmt: skip
    return Markup(
        '<svg viewBox="0 0 {w} {h}" role="img"><title>{title}</title>{parts}</svg>'
    ).format(w=_WIDTH, h=_HEIGHT, title=chart_words(curve), parts=Markup("").join(parts))


def _axes(foot: float, head: float, most: float, first: float, last: float) -> Markup:
    return Markup(
        '<line class="axis" x1="{l}" x2="{r}" y1="{foot:.1f}" y2="{foot:.1f}"/>'
        '<text x="{l}" y="{under:.1f}">{first}</text>'
        '<text x="{r}" y="{under:.1f}" text-anchor="end">{last} {unit} at the station</text>'
        '<text x="4" y="{top:.1f}">{most}</text><text x="4" y="{foot:.1f}">0</text>'
    ).format(
        l=_LEFT, r=_WIDTH - _RIGHT, foot=foot, under=foot + 22, top=head + 5,
        first=measures.to_places(GAUGE, first, 0), last=measures.to_places(GAUGE, last, 0),
        unit=measures.unit_in_text(GAUGE), most=f"{most:.0f}",
    )  # fmt: skip


def chart_words(curve: LostCurve) -> str:
    """Say what the chart shows."""
    middle = len(curve.psig) // 2
    ends = (_lost_at(curve, place) for place in (0, middle, -1))
    return (
        f"Units in which condensate stands back, of {counted(curve.known, 'unit')} whose needs are "
        f"known: {', '.join(ends)}. In brackets the 10-90 % range."
    )


def _lost_at(curve: LostCurve, place: int) -> str:
    expected, low, high = (
        numerals.grouped(units[place], 1) for units in (curve.expected, curve.low, curve.high)
    )
    at = measures.to_places(GAUGE, curve.psig[place], 0)
    return f"{expected} ({low} to {high}) at {at} {measures.unit_in_text(GAUGE)}"
