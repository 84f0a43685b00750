"""The route sheet on paper: one page to print, with a box for every reading; and its file kinds."""

from __future__ import annotations

import base64
import hashlib
from dataclasses import dataclass
from importlib import resources
from itertools import groupby
from pathlib import Path
from typing import Any

import pandas as pd
from jinja2 import Environment, StrictUndefined
from markupsafe import Markup

from survey.errors import UsageError
from survey.reports import measures, numerals, palette, words
from survey.reports.route_sheet_phone import CSV_COLUMNS, phone_page
from survey.reports.route_sheet_words import (
    NEVER_READ,
    SHEET_UNITS,
    SHORT_WORDS,
    reason_words,
    sheet_value_words,
    verdict_words,
    what_words,
)
from survey.rounds.route import Route, Stop
from survey.writing import replacing, write_csv

SHEET_COLUMNS = ("inlet_temp_f", "outlet_temp_f", "sound_db", "background_db", "sound_pattern",
                 "valve_position", "observed")  # fmt: skip
"""Readings with a box on paper; gauges and air are written once for a station, at its head."""


@dataclass(frozen=True)
class Line:
    """One device on paper.

    ``boxes`` holds for each reading its place in the order (1 tells most, '' is not asked for)
    and what it was last time.
    """

    tag: str
    what: str
    place: str
    why: str
    last: str
    boxes: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Group:
    """The devices of one area and station that are walked in a row."""

    area: str
    station: str
    lines: tuple[Line, ...]


def sheet_html(route: Route) -> str:
    """Return the sheet: one self-contained HTML document without script, to be printed."""
    style = palette.css_variables() + "\n" + _file("route_sheet.css")
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    template = Environment(
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    ).from_string(_file("route_sheet.html"))
    return str(template.render(
        title=f"{words.tidy(route.site_name) or 'Round'}, route for {numerals.short_day(route.on)}",
        policy=f"default-src 'none'; style-src 'sha256-{digest}'; base-uri 'none'; "
        "form-action 'none'",
        style=Markup(style),  # noqa: S704  our own file
        cautions=words.CAUTION_POINTS, groups=groups_of(route), count=len(route.stops),
        left_out=route.left_out, walked=route.walked, counted=words.counted,
        heads=[(SHORT_WORDS[name], measures.unit(name)) for name in SHEET_COLUMNS],
        degrees=measures.unit(measures.TEMPERATURE), gauge=measures.unit(measures.GAUGE),
        units_note=SHEET_UNITS if measures.in_si() else "",
    ))  # fmt: skip


def groups_of(route: Route) -> list[Group]:
    """Return the route as it is walked, cut where the area or the station changes."""
    return [
        Group(words.tidy(area) or "No area named", words.tidy(station), tuple(map(_line, stops)))
        for (area, station), stops in groupby(route.stops, lambda stop: (stop.area, stop.station))
    ]


def _line(stop: Stop) -> Line:
    order = [name for name in stop.to_read if name in SHEET_COLUMNS]
    read = numerals.short_day(stop.last_read) if stop.last_read else ""
    return Line(
        tag=words.tidy(stop.tag),
        what=what_words(stop),
        place=words.tidy(stop.equipment),
        why=reason_words(stop),
        last=f"{read}: {verdict_words(stop)}" if stop.state else NEVER_READ,
        boxes=tuple(
            (
                str(order.index(name) + 1) if name in order else "",
                sheet_value_words(name, stop.last[name]) if name in stop.last else "",
            )
            for name in SHEET_COLUMNS
        ),
    )


def route_frame(route: Route) -> pd.DataFrame:
    """Return an empty round to fill in: what each device is and where, readings blank."""
    rows = []
    for stop in route.stops:
        fittings = {name: _written(value) for name, value in stop.fittings.items()}
        row = dict.fromkeys(CSV_COLUMNS) | fittings
        rows.append(row | {"note": reason_words(stop)})
    return pd.DataFrame(rows, columns=list(dict.fromkeys(CSV_COLUMNS)))


def _written(value: Any) -> Any:
    # A bore noted as 4.8 mm is 0.188976 in on paper, not 0.1889763779527559.
    return float(f"{value:.6g}") if isinstance(value, float) else value


def write_sheet(route: Route, path: str | Path) -> None:
    """Write the sheet for printing (.html), atomically; raises UsageError, OutputError."""
    _write(sheet_html(route), path, "A route sheet ends in .html")


def write_phone_page(route: Route, path: str | Path) -> None:
    """Write the page for the phone (.html), atomically; raises UsageError, OutputError."""
    _write(phone_page(route), path, "A page for the phone ends in .html")


def write_route_csv(route: Route, path: str | Path) -> None:
    """Write the route as a round to fill in (.csv), atomically; raises UsageError, OutputError."""
    _check(path, ".csv", "A round to fill in ends in .csv")
    write_csv(route_frame(route), path)


def _write(text: str, path: str | Path, expected: str) -> None:
    _check(path, ".html", expected)
    with replacing(Path(path)) as temporary:
        temporary.write_text(text, encoding="utf-8", newline="\n", errors="replace")


def _check(path: str | Path, suffix: str, expected: str) -> None:
    if Path(path).suffix.lower() != suffix:
        raise UsageError(
            expected, found=Path(path).name, do=f"give it a name with the ending {suffix}"
        )


def _file(name: str) -> str:
    return resources.files("survey.reports").joinpath(name).read_text("utf-8").replace("\r\n", "\n")


def route_text(route: Route) -> str:
    """Return the route in short: how many, where, and every device that has a reason."""
    order = "in the order of the last walk" if route.walked else "by area, station and heater"
    left = f", {words.counted(route.left_out, 'other')} left out" if route.left_out else ""
    lines = [f"Route: {words.counted(len(route.stops), 'device')} {order}{left}.", ""]
    for area, stops in groupby(route.stops, lambda stop: stop.area):
        here = list(stops)
        named = [(stop, reason_words(stop)) for stop in here]
        lines.append(f"{words.tidy(area) or 'No area named'}: {words.counted(len(here), 'device')}")
        lines += [f"  {words.tidy(stop.tag)}  {why}" for stop, why in named if why]
    return "\n".join(lines) + "\n\n"
