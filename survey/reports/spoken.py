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
from datetime import date

from survey.reports import manner, measures, numerals

_NUMBER = r"(?:\d{1,3}(?:,\d{3})+|\d+)(?:\.\d+)?"
_SIGNED = rf"[-+−±]?{_NUMBER}"
_DIFFERENCES = "(?:difference|rise|drop|fall|spread|margin|gap|subcooling|superheat|error|step)"
_HEDGE = r"(?:(?:about|some|up to|at least|at most|only|roughly|nearly|over)\s+)?"
_FIGURE = re.compile(
    rf"(?<![\w.,/-])(?P<before>(?:within|by|between|\b{_DIFFERENCES} of)\s+{_HEDGE})?"
    rf"(?P<first>{_SIGNED})"
    rf"(?:(?P<join> to | and |–|-)(?P<second>{_SIGNED}))?"
    r"(?P<gap>\s?)(?P<unit>°F|psig|psi|lb/h|ft|in)(?![\w/²°])"
    r"(?P<after>\s+(?:too\s+(?:cold|cool|warm|hot|low|high)|below|above|under|over|beyond|colder|"
    r"hotter|cooler|warmer|lower|higher|low|high|less|more|short|off|apart|away|wide|wider|of|"
    r"subcooling|difference|rise|drop)\b)?"
)
# Pressures of one list with the unit said at the first alone: it is said at each in SI.
_LIST = re.compile(
    rf"(?P<first>psi, its check valve {_NUMBER})(?P<second>, its trap {_NUMBER})(?=,)"
)
_UNIT_FOLLOWS = r"\s?(?:°F|psig?\b|lb/h|ft\b)"
_A_FOOT = re.compile(r"\ba foot\b")
_BORE_FOLLOWS = re.compile(r"\s+bore\b|[.:;,)]|\s*$")
_PER = re.compile(
    rf"(?<![\w.,/-])(?P<much>{_NUMBER})(?P<of> kg of CO2)? per (?P<unit>MMBtu|klb|1000 lb)\b"
)
_LOOSE = re.compile(rf"(?<![\w.,:/-])(?P<figure>{_NUMBER})(?![\w:/-]|[.,]\d)")
_NAMES = {
    "psig": "supply_psig", "psi": "pressure_psi", "lb/h": measures.FLOW, "ft": "lift_ft",
    "in": measures.BORE,
}
_T_PER_KLB = 0.45359237
_PER_WHAT = {
    "MMBtu": ("GJ", measures.GJ_PER_MMBTU),
    "klb": ("t", _T_PER_KLB),
    "1000 lb": ("t", _T_PER_KLB),
}
_DIFFERS = ("within", "by")
_DAY = re.compile(r"(?<![\w-])(\d{4}-\d{2}-\d{2})(?![\w-])")
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
    # A name of digits alone is a figure after all where it is part of one, or has a unit.
    parts = re.split(rf"((?<!\w)(?<!\d[.,])(?:{either})(?!\w|[.,]\d|{_UNIT_FOLLOWS}))", text)
    return "".join(part if at % 2 else _said(part) for at, part in enumerate(parts))


def _said(text: str) -> str:
    if manner.current().plain:  # a day stays as it was written, too
        return _measured(text)
    parts = _DAY.split(text)
    return "".join(_on(part) if at % 2 else _measured(part) for at, part in enumerate(parts))


def _on(day: str) -> str:
    try:
        return numerals.short_day(date.fromisoformat(day))
    except ValueError:
        return day


def _measured(text: str) -> str:
    if not measures.in_si():
        return _LOOSE.sub(_localised, text)
    text = _A_FOOT.sub("1.0 ft", text).replace("the whole pound", "the whole kilogram")
    text = _LIST.sub(r"\g<first> psi\g<second> psi", text)
    parts, end = [], 0
    for found in _FIGURE.finditer(text):
        written = _written(found, text)
        if written is not None:
            parts += [_rest(text[end:found.start()]), written]
            end = found.end()
    return "".join([*parts, _rest(text[end:])])


def _rest(text: str) -> str:
    """Write prices, what burns of a unit of heat, and the numbers that have no unit to convert."""
    parts, end = [], 0
    for found in _PER.finditer(text):
        name, size = _PER_WHAT[found["unit"]]
        amount = _number(found["much"]) / size
        parts += [_LOOSE.sub(_localised, text[end:found.start()]),
                  f"{numerals.grouped(amount, 2)}{found['of'] or ''} per {name}"]
        end = found.end()
    return "".join([*parts, _LOOSE.sub(_localised, text[end:])])


def _written(found: re.Match[str], text: str) -> str | None:
    """Write one figure or range in SI; None where the unit is no unit after all."""
    first, second, unit = found["first"], found["second"], found["unit"]
    before, after = found["before"] or "", found["after"] or ""
    if unit == "in" and not _is_bore(first, text[found.end():]):
        return None
    between = before.startswith("between")
    if found["join"] == " and " and not between:  # whether both have the unit is not told
        return None
    if unit == "in":
        return _bore(found)
    name = _NAMES.get(unit) or _temperature(before, first, after)
    said = _converted(name, first)
    if second:
        said += f"{found['join']}{_converted(name, second)}"
    return f"{before}{said}{found['gap']}{measures.unit_in_text(name)}{after}"


def _bore(found: re.Match[str]) -> str:
    sizes = [_number(size) for size in (found["first"], found["second"]) if size]
    said = measures.bore_in_si(sizes, found["join"] or "")
    return f"{found['before'] or ''}{said}{found['after'] or ''}"


def _is_bore(figure: str, after: str) -> bool:
    """Tell an inch from the word: '0.15 in.', '1 in bore', but not '4 in all' or '12 in.'."""
    follows = _BORE_FOLLOWS.match(after)
    return follows is not None and ("." in figure or "bore" in follows[0])


def _temperature(before: str, first: str, after: str) -> str:
    differs = bool(after) or before.startswith(_DIFFERS) or " of " in before or first[0] in "+±"
    return measures.DIFFERENCE if differs else measures.TEMPERATURE


def _converted(name: str, figure: str) -> str:
    value = float(measures.value(name, _number(figure)))
    places = measures.as_fine(name, len(figure.partition(".")[2]))
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
