"""Figures inside a sentence, in the units and the decimals of the current manner.

The sentences of a round (evidence, actions, assumptions) are written when it is judged, in US
units. Only a number followed by a unit of a closed table is converted, a range at both its
ends, and a difference of temperatures as a difference: 12 °F below is 6.7 °C below, not -11 °C.
Whatever does not fit the pattern stays as it was written.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable

from survey.reports import manner, measures, numerals

_NUMBER = r"(?:\d{1,3}(?:,\d{3})+|\d+)(?:\.\d+)?"
_SIGNED = rf"[-+−±]?{_NUMBER}"
_FIGURE = re.compile(
    rf"(?<![\w.,/-])(?P<before>(?:within|by|between)\s+)?(?P<first>{_SIGNED})"
    rf"(?:(?P<join> to | and |–|-)(?P<second>{_SIGNED}))?"
    r"(?P<gap>\s?)(?P<unit>°F|psig|psi|lb/h|ft|in)(?![\w/²°])"
    r"(?P<after>\s+(?:below|above|under|over|colder|hotter|cooler|warmer|lower|higher|low|high|"
    r"less|more|short|off|apart|of)\b)?"
)
_BORE_FOLLOWS = re.compile(r"\s+bore\b|[.:;,)]|\s*$")
_PRICE = re.compile(rf"(?<![\w.,/-])(?P<price>{_NUMBER}) per (?P<unit>MMBtu|klb|1000 lb)\b")
_LOOSE = re.compile(rf"(?<![\w.,:/-])(?P<figure>{_NUMBER})(?![\w:/-]|[.,]\d)")
_NAMES = {
    "psig": "supply_psig", "psi": "pressure_psi", "lb/h": measures.FLOW, "ft": "lift_ft",
    "in": "orifice_in",
}
_GJ_PER_MMBTU = measures.KW_PER_BTU_PER_H * 3600
_T_PER_KLB = 0.45359237
_PER = {"MMBtu": ("GJ", _GJ_PER_MMBTU), "klb": ("t", _T_PER_KLB), "1000 lb": ("t", _T_PER_KLB)}
_DIFFERS = ("within", "by")
_DIGIT = re.compile(r"\d")


def spoken(text: str, keep: Iterable[str] = ()) -> str:
    """Return a sentence of a round with its figures as the current manner writes them.

    Parameters
    ----------
    text
        A sentence that this package made.
    keep
        Names of devices and places that may stand in it; they are left as they are.
    """
    if not text or (manner.current().plain and not measures.in_si()):
        return text
    # A name without a digit is no figure, and most sentences hold no name at all.
    there = {name for name in keep if name and name in text and _DIGIT.search(name)}
    names = sorted(there, key=len, reverse=True)
    if not names:
        return _said(text)
    either = "|".join(re.escape(name) for name in names)
    parts = re.split(rf"((?<!\w)(?:{either})(?!\w))", text)
    return "".join(part if at % 2 else _said(part) for at, part in enumerate(parts))


def _said(text: str) -> str:
    if not measures.in_si():
        return _LOOSE.sub(_localised, text)
    parts, end = [], 0
    for found in _FIGURE.finditer(text):
        written = _written(found, text)
        if written is not None:
            parts += [_rest(text[end:found.start()]), written]
            end = found.end()
    return "".join([*parts, _rest(text[end:])])


def _rest(text: str) -> str:
    """Write the prices and the numbers that have no unit to convert."""
    parts, end = [], 0
    for found in _PRICE.finditer(text):
        name, size = _PER[found["unit"]]
        amount = _number(found["price"]) / size
        parts += [_LOOSE.sub(_localised, text[end:found.start()]),
                  f"{numerals.grouped(amount, 2)} per {name}"]
        end = found.end()
    return "".join([*parts, _LOOSE.sub(_localised, text[end:])])


def _written(found: re.Match[str], text: str) -> str | None:
    """Write one figure or range in SI; None where the unit is no unit after all."""
    first, second, unit = found["first"], found["second"], found["unit"]
    before, after = found["before"] or "", found["after"] or ""
    if unit == "in" and not ("." in first and _BORE_FOLLOWS.match(text, found.end())):
        return None
    between = before.startswith("between")
    if found["join"] == " and " and not between:  # whether both have the unit is not told
        return None
    name = _NAMES.get(unit) or _temperature(before, first, after)
    said = _converted(name, first)
    if second:
        said += f"{found['join']}{_converted(name, second)}"
    shown = "bar gauge" if unit == "psig" else measures.unit(name)
    return f"{before}{said}{found['gap']}{shown}{after}"


def _temperature(before: str, first: str, after: str) -> str:
    differs = bool(after) or before.strip() in _DIFFERS or first[0] in "+±"
    return measures.DIFFERENCE if differs else measures.TEMPERATURE


def _converted(name: str, figure: str) -> str:
    value = float(measures.value(name, _number(figure)))
    given = len(figure.partition(".")[2])
    step = abs(measures.value(name, 1.0) - measures.value(name, 0.0))
    places = max(0, given + round(-math.log10(step)))
    if value == 0.0:
        places = 0
    elif name != measures.TEMPERATURE:  # two digits at the least
        places = max(places, 1 - math.floor(math.log10(abs(value))))
    sign = figure[0] if figure[0] in "+±" else ""
    return sign + numerals.grouped(value, places)


def _number(figure: str) -> float:
    return float(figure.replace(",", "").replace("−", "-").lstrip("+±"))


def _localised(found: re.Match[str]) -> str:
    figure = found["figure"]
    if manner.current().plain or ("," not in figure and "." not in figure):
        return figure
    return numerals.grouped(_number(figure), len(figure.partition(".")[2]))
