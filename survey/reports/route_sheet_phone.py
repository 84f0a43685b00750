"""The route sheet for a phone: one page with everything in it, which needs no signal.

Nothing is fetched, ever. Entries stay in the browser's own storage, under a key of this route,
and come back as a CSV with the columns of a round. Whatever the findings say reaches the page
only as JSON, and the page shows it only as text.
"""

from __future__ import annotations

import base64
import hashlib
import json
from functools import cache
from importlib import resources
from typing import Any

from jinja2 import Environment, StrictUndefined
from markupsafe import Markup

from survey.columns import INPUT_BY_NAME
from survey.reports import measures, palette, words
from survey.reports.route_sheet_words import (
    CHOICE_WORDS,
    FIELD_WORDS,
    FILE_UNITS,
    reason_words,
    value_words,
    verdict_words,
    what_words,
)
from survey.rounds.route import KEPT_COLUMNS, Route, Stop

CSV_COLUMNS = (*KEPT_COLUMNS, *FIELD_WORDS, "thermometer", "hours_per_year", "read_at", "note")
"""Columns of the CSV that the page gives back, in order."""
SIGNED = ("sound_db", "background_db", "ambient_f", "supply_psig", "return_psig")
"""Numbers that may be under zero: a phone's number pad has no sign, so these get a button."""
_JSON_IN_SCRIPT = str.maketrans({"<": "\\u003c", ">": "\\u003e", "&": "\\u0026",
                                 "\u2028": "\\u2028", "\u2029": "\\u2029"})  # fmt: skip


def phone_page(route: Route) -> str:
    """Return the page: one self-contained HTML document."""
    data = _data(route)
    text = json.dumps(data, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    identity = hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()[:16]
    template = Environment(autoescape=True, undefined=StrictUndefined).from_string(
        _file("route_sheet_phone.html")
    )
    return str(template.render(
        title=f"{data['title']}, route", policy=page_policy(), style=_safe(style()),
        script=_safe(script()), cautions=words.CAUTION_POINTS, identity=identity,
        units_note=FILE_UNITS if measures.in_si() else "",
        data=_safe(_without_surrogates(text).translate(_JSON_IN_SCRIPT)),
    ))  # fmt: skip


def page_policy() -> str:
    """Return the page's content policy: its own style and script by hash, nothing else."""
    return (
        f"default-src 'none'; style-src {_hash(style())}; script-src {_hash(script())}; "
        "base-uri 'none'; form-action 'none'"
    )


@cache
def style() -> str:
    """Return the page's whole style sheet, colours first."""
    return palette.css_variables() + "\n" + _file("route_sheet_phone.css")


@cache
def script() -> str:
    """Return the page's whole script."""
    return _file("route_sheet_phone.js")


def _data(route: Route) -> dict[str, Any]:
    return {
        "title": words.tidy(route.site_name) or "Round",
        "on": route.on.isoformat(),
        "fields": {name: _field(name) for name in FIELD_WORDS},
        "columns": list(dict.fromkeys(CSV_COLUMNS)),
        "stops": [_stop(stop) for stop in route.stops],
    }


def _field(name: str) -> dict[str, Any]:
    column = INPUT_BY_NAME[name]
    known: dict[str, Any] = {"label": FIELD_WORDS[name], "unit": column.unit, "kind": column.kind}
    if column.kind == "number":
        return known | {"low": column.low, "high": column.high, "signed": name in SIGNED}
    own = CHOICE_WORDS.get(name, {})
    return known | {"choices": [[c, own.get(c, c.replace("_", " "))] for c in column.choices]}


def _stop(stop: Stop) -> dict[str, Any]:
    shown = {name: value for name, value in stop.last.items() if name in FIELD_WORDS}
    hours = stop.last.get("hours_per_year")
    return {
        "name": words.tidy(stop.tag),
        "what": what_words(stop),
        "area": words.tidy(stop.area),
        "equipment": words.tidy(stop.equipment),
        "where": ", ".join(words.tidy(part) for part in (stop.equipment, stop.area) if part),
        "station": words.tidy(stop.station),
        "fixed": stop.fittings | ({} if hours is None else {"hours_per_year": hours}),
        "read": list(stop.to_read),
        "last": shown,
        "shown": {name: value_words(name, value) for name, value in shown.items()},
        "seen": stop.last_read.isoformat() if stop.last_read else "",
        "verdict": verdict_words(stop),
        "why": reason_words(stop),
        "note": words.tidy(stop.last.get("note"), 200),
        "steam": round(stop.saturation_f, 1) if stop.saturation_f == stop.saturation_f else None,
    }


def _without_surrogates(text: str) -> str:
    return text.encode("utf-8", "replace").decode("utf-8")


def _safe(text: str) -> Markup:
    return Markup(text)  # noqa: S704  our own files, or JSON with no mark that HTML knows


def _file(name: str) -> str:
    return resources.files("survey.reports").joinpath(name).read_text("utf-8").replace("\r\n", "\n")


def _hash(text: str) -> str:
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"
