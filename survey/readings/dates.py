"""When a reading was taken: ISO 8601 where the cell says so without doubt, else as typed."""

from __future__ import annotations

import re
from datetime import date, datetime, timedelta

_ISO = re.compile(
    r"^(\d{4}-\d{2}-\d{2})(?:[T ](\d{2}:\d{2}(?::\d{2}(?:\.\d{1,9})?)?)\s?(Z|[+-]\d{2}:?\d{2})?)?$"
)
_NUMERIC = re.compile(
    r"^(\d{1,2})[./-](\d{1,2})[./-](\d{4}|\d{2})(?:[ T]+(\d{1,2}:\d{2}(?::\d{2})?))?$"
)
_YEAR_FIRST = re.compile(r"^(\d{4})[./](\d{1,2})[./](\d{1,2})(?:[ T]+(\d{1,2}:\d{2}(?::\d{2})?))?$")
_NAMED = re.compile(
    r"^(?:(\d{1,2})[. -]+([a-z]{3,9})|([a-z]{3,9})\.? (\d{1,2})),?[. -]+(\d{4})$", re.I
)
_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_OLDEST_SHORT = 70  # '70 and later are of the century before
_SERIAL = re.compile(r"^\d{5}(\.\d+)?$")
_SERIAL_ORIGIN = datetime(1899, 12, 30)  # a spreadsheet's day 0, its false leap day allowed for
_SERIAL_RANGE = (20_000.0, 80_000.0)  # 1954 to 2119


def read_time(text: str) -> tuple[str, bool]:
    """Return the time as ISO 8601, or as typed, and whether day and month are in doubt."""
    cell = text.strip()
    iso = _ISO.match(cell)
    if iso:
        day, clock, zone = iso.groups()
        return day + (f"T{clock}{zone or ''}" if clock else ""), False
    if _SERIAL.match(cell) and _SERIAL_RANGE[0] <= float(cell) <= _SERIAL_RANGE[1]:
        return _from_serial(float(cell)), False
    return _from_parts(cell)


def _from_serial(days: float) -> str:
    moment = _SERIAL_ORIGIN + timedelta(seconds=round(days * 86_400))
    return moment.date().isoformat() if days == int(days) else moment.isoformat()


def _from_parts(cell: str) -> tuple[str, bool]:
    if found := _YEAR_FIRST.match(cell):
        return _join(cell, int(found[1]), int(found[2]), int(found[3]), found[4]), False
    if found := _NAMED.match(cell):
        month = (found[2] or found[3])[:3].casefold()
        if month in _MONTHS:
            day = int(found[1] or found[4])
            return _join(cell, int(found[5]), _MONTHS.index(month) + 1, day, None), False
    if found := _NUMERIC.match(cell):
        first, second, year = int(found[1]), int(found[2]), _year(found[3])
        # Where days are written with dots, the day stands first; only slashes and dashes can be
        # read in two ways (date patterns of the Unicode CLDR).
        dotted, short = cell[len(found[1])] == ".", len(found[3]) == 2
        # Of 20/5/25 either end may be the year.
        if dotted or (not short and (first > 12 or first == second)):
            return _join(cell, year, second, first, found[4]), False
        if second > 12 and first <= 12:
            return _join(cell, year, first, second, found[4]), False
        return cell, True
    return cell, False


def _year(digits: str) -> int:
    if len(digits) == 4:
        return int(digits)
    return int(digits) + (1900 if int(digits) >= _OLDEST_SHORT else 2000)


def _join(cell: str, year: int, month: int, day: int, clock: str | None) -> str:
    try:
        text = date(year, month, day).isoformat()
    except ValueError:
        return cell
    return f"{text}T{clock.zfill(8 if clock.count(':') == 2 else 5)}" if clock else text
