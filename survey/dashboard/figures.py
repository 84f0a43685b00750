"""The charts, in plotly: one colour for each group of states, one marker for each state.

Colour never carries meaning alone: the state is written in the legend and at the pointer, and
each has a marker of its own, so a grey print loses nothing. Text from a file is escaped, since
plotly takes tags for markup.
"""

from __future__ import annotations

import html
from collections.abc import Iterator
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd
import plotly.graph_objects as go

from survey.dashboard.frames import states_in_words
from survey.reports import palette, words

MARKERS = {
    "working": "circle-open",
    "leaking": "triangle-up",
    "failed_open": "star",
    "failed_closed": "square",
    "backed_up": "triangle-down",
    "cold": "x",
    "undecided": "diamond-open",
}
_OTHER_MARKER = "hexagon"
_LONGEST_LABEL = 24
MOST_BARS = 15


def against(
    table: pd.DataFrame,
    *,
    x: str,
    y: str,
    x_title: str,
    y_title: str,
    equal: str,
    theme: str = "light",
) -> go.Figure:
    """Draw one reading against what it is held to, with the line where the two are equal.

    Rows where either is missing are left out.
    """
    rows = table[table[x].notna() & table[y].notna()]
    figure = go.Figure()
    if len(rows):
        ends = rows[[x, y]].to_numpy(dtype="float64")
        figure.add_trace(
            go.Scatter(
                x=[ends.min(), ends.max()],
                y=[ends.min(), ends.max()],
                mode="lines",
                name=equal,
                hoverinfo="skip",
                line={"dash": "dash", "width": 2, "color": _colours(theme)["soft"]},
            )
        )
        # Both axes end with the marks: the line would else stretch them past all readings.
        figure.update_xaxes(range=_with_room(ends[:, 0]))
        figure.update_yaxes(range=_with_room(ends[:, 1]))
    for trace in _by_state(rows, x, y, theme):
        figure.add_trace(trace)
    figure.update_xaxes(title=x_title)
    figure.update_yaxes(title=y_title)
    return _laid_out(figure, 400 + 24 * len(figure.data), theme)


def cost_bars(table: pd.DataFrame, currency: str, theme: str = "light") -> go.Figure:
    """Draw the cost of the first units of a ranked list, each with its 10-90 % range."""
    rows = table[table["annual_cost"].round() > 0].head(MOST_BARS)
    labels = [
        f"{_label(tag)} · {_label(state)}"
        for tag, state in zip(rows["tag"], states_in_words(rows), strict=True)
    ]
    places = list(range(len(labels)))  # two cut tags may look alike; each keeps its own bar
    figure = go.Figure(
        go.Bar(
            x=rows["annual_cost"],
            y=places,
            orientation="h",
            marker_color=_colours(theme)["copper"],
            text=labels,
            textposition="none",
            error_x={
                "type": "data",
                "symmetric": False,
                "thickness": 2,
                "array": rows["annual_cost_high"] - rows["annual_cost"],
                "arrayminus": rows["annual_cost"] - rows["annual_cost_low"],
                "color": _colours(theme)["ink"],
            },
            customdata=rows[["annual_cost_low", "annual_cost_high"]],
            hovertemplate="%{text}<br>%{x:,.0f} a year (%{customdata[0]:,.0f} to "
            "%{customdata[1]:,.0f})<extra></extra>",
        )
    )
    figure.update_yaxes(autorange="reversed", tickvals=places, ticktext=labels)
    figure.update_xaxes(title=f"{_escaped(currency)} a year", rangemode="tozero")
    return _laid_out(figure, 110 + 32 * max(3, len(rows)), theme)


def cost_curve(curve: pd.DataFrame, flattens_at: int, currency: str, theme: str) -> go.Figure:
    """Draw cost added up over the units, dearest first, and mark where it flattens.

    ``curve`` is what `reports.tables.cumulative` returns.
    """
    mended = list(range(1, len(curve) + 1))
    figure = go.Figure(
        go.Scatter(
            x=[0, *mended],
            y=[0.0, *curve["running"]],
            mode="lines",
            showlegend=False,
            line={"width": 3, "color": _colours(theme)["copper"]},
            hovertemplate="first %{x} units: %{y:,.0f} a year<extra></extra>",
        )
    )
    figure.add_vline(
        x=flattens_at,
        line_dash="dash",
        line_color=_colours(theme)["ink"],
        annotation_text=f"{flattens_at} units",
        annotation_position="bottom right",
    )
    figure.update_xaxes(title="units mended, dearest first", rangemode="tozero")
    figure.update_yaxes(title=f"{_escaped(currency)} a year", rangemode="tozero")
    return _laid_out(figure, 420, theme)


def temperature_line(marks: dict[str, float], theme: str) -> go.Figure:
    """Draw the temperatures of one unit on one scale, each named; missing ones are left out.

    The first two are readings (filled), the rest what they are held to (open).
    """
    shown = {name: value for name, value in marks.items() if pd.notna(value)}
    read = [name in list(marks)[:2] for name in shown]
    colours = _colours(theme)
    figure = go.Figure(
        go.Scatter(
            x=list(shown.values()),
            y=list(shown),
            mode="markers+text",
            cliponaxis=False,
            text=[f"{value:.0f} °F" for value in shown.values()],
            textposition="top center",
            hoverinfo="skip",
            marker={
                "size": 16,
                "symbol": ["circle" if given else "line-ns-open" for given in read],
                "color": [colours["copper" if given else "slate"] for given in read],
                "line": {"width": 3, "color": [colours["copper" if g else "slate"] for g in read]},
            },
        )
    )
    figure.update_xaxes(title="°F")
    figure.update_yaxes(autorange="reversed", type="category")
    return _laid_out(figure, 80 + 56 * max(2, len(shown)), theme)


def _with_room(values: npt.NDArray[np.float64]) -> list[float]:
    room = 0.06 * max(float(np.ptp(values)), 1.0)
    return [float(values.min()) - room, float(values.max()) + room]


def _by_state(rows: pd.DataFrame, x: str, y: str, theme: str) -> Iterator[go.Scatter]:
    spoken = pd.Series(states_in_words(rows), index=rows.index, dtype="str")
    for state in [*MARKERS, *sorted(set(rows["state"].astype("str")) - set(MARKERS))]:
        group = rows[rows["state"] == state]
        if group.empty:
            continue
        said = _escaped(spoken[group.index[0]])
        yield go.Scatter(
            x=group[x],
            y=group[y],
            mode="markers",
            name=f"{said} ({len(group):,})",
            text=[_label(tag) for tag in group["tag"]],
            hovertemplate=f"%{{text}}: {said}<br>%{{x:.0f}} and %{{y:.0f}}<extra></extra>",
            marker=_marker(state, theme),
        )


def _marker(state: str, theme: str) -> dict[str, Any]:
    colour = palette.GROUP_COLOURS[words.group_of(state)]
    return {
        "symbol": MARKERS.get(state, _OTHER_MARKER),
        "size": 11,
        "color": _colours(theme)[colour],
        "line": {"width": 1.5, "color": _colours(theme)[colour]},
    }


def _colours(theme: str) -> dict[str, str]:
    return palette.DARK if theme == "dark" else palette.LIGHT


def _escaped(text: object) -> str:
    return html.escape(words.tidy(text), quote=False)


def _label(tag: object) -> str:
    return html.escape(words.tidy(tag, _LONGEST_LABEL), quote=False)


def _laid_out(figure: go.Figure, height: int, theme: str) -> go.Figure:
    colours = _colours(theme)
    figure.update_layout(
        height=height,
        margin={"l": 8, "r": 8, "t": 8, "b": 8},
        dragmode=False,
        paper_bgcolor=colours["sheet"],
        plot_bgcolor=colours["sheet"],
        font={"color": colours["ink"], "size": 14},
        hoverlabel={"bgcolor": colours["quiet-wash"], "font": {"color": colours["ink"]}},
        # Below the axis title however many lines it takes; a phone gets one entry a line.
        legend={
            "orientation": "h",
            "yref": "container",
            "y": 0,
            "yanchor": "bottom",
            "itemsizing": "constant",
            "maxheight": 900,
        },
    )
    lines = {"gridcolor": colours["rule"], "zerolinecolor": colours["rule"], "automargin": True}
    figure.update_xaxes(**lines)
    figure.update_yaxes(**lines)
    return figure
