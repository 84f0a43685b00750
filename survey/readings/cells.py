"""One cell's text to a number, as technicians type numbers; no tables here."""

from __future__ import annotations

import math
import re
import unicodedata
from typing import NamedTuple

from survey.readings.units import Unit, find_unit
from survey.readings.words import MISSING_WORDS, NO_LIFT, NO_RESULT, NO_RESULT_REASON, SHEET_ERRORS

_LONGEST_NUMBER = 64
_UNDECIDED = re.compile(r"^(~|≈|±|>|<|≥|≤|=|ca\.?\s|c\.\s|approx|about|abt|circa|over|under)", re.I)
_RANGE = re.compile(r"^-?[\d.,]+\s*(?:-|–|—|to|\.\.+|/(?=\s))\s*-?[\d.,]+\D*$", re.I)
_FRACTION = re.compile(
    r"^([+-]?)(?:(\d{1,4})[\s-]+)?(\d{1,4})\s*/\s*(\d{1,4})(?!\s*\d)\s*(.*)$", re.S
)
_NUMBER = re.compile(
    r"^([+-]?(?:\d(?:[\d.,]|['’\u00a0\u202f ](?=\d))*|[.,]\d+)(?:[eE][+-]?\d{1,4})?)\s*(\D.*)?$",
    re.S,
)
# Digits with a letter among them that looks like one, as in '23o', '2O0' or 'l45'.
_SLIP = re.compile(
    r"^[+-]?[\d.,oOlIS]*(?:\d([oOlIS])|([oOlIS])\d)[\d.,oOlIS]*(?![^\W\d_])"
)
_INFINITE = re.compile(r"^[+-]?(inf|infinity|∞|1\.#inf)$", re.I)
_VULGAR = {c: unicodedata.normalize("NFKC", c).replace("⁄", "/") for c in "¼½¾⅛⅜⅝⅞⅓⅔⅙⅚⅕⅖⅗⅘"}
_MINUS = str.maketrans("−‒⁄", "--/")  # the others are made plain by NFKC
# A small digit after another marks a footnote: made plain, '24²' would be read as 242.
_FOOTNOTE = re.compile(r"(?:^|[\d.,])[²³¹⁰⁴-⁹₀-₉①-⓿]")
_WHEN = re.compile(r"^\d{4}-\d{2}-\d{2}(?!\d)|^\d{1,2}:\d{2}(?!\d)")


class Number(NamedTuple):
    """A cell read: the value in `unit` (None: the column's own), or the reason it is none.

    A NaN value with no reason is a missing reading.
    """

    value: float = math.nan
    unit: Unit | None = None
    reason: str = ""


MISSING = Number()
_NOT_A_NUMBER = Number(reason="not a number")


def read_number(text: str, column: str, decimal: str) -> Number:
    """Read one cell of a number column.

    Parameters
    ----------
    text
        As typed.
    column
        The contract column it belongs to, which says which units may stand in the cell.
    decimal
        '.' or ',': the decimal mark where a cell alone does not tell.
    """
    cell = text.strip()
    word = cell.casefold()
    if cell == NO_RESULT:
        return Number(reason=NO_RESULT_REASON)
    if column == "lift_ft" and word in NO_LIFT:
        return Number(0.0)
    if word in MISSING_WORDS:
        return MISSING
    if word in SHEET_ERRORS:
        return Number(reason=f"a spreadsheet error ({cell.upper()}), not a reading")
    if len(cell) > _LONGEST_NUMBER:
        return _NOT_A_NUMBER
    if _WHEN.match(cell):
        return Number(reason="a date or a time, not a reading (spreadsheets turn 1/4 into one)")
    if not cell.isascii():
        if _FOOTNOTE.search(cell):
            return _NOT_A_NUMBER
        cell = "".join(f" {_VULGAR[c]}" if c in _VULGAR else c for c in cell).strip()
        cell = unicodedata.normalize("NFKC", cell.replace("º", "°").replace("˚", "°"))
        cell = cell.translate(_MINUS)
    return _read_tidy_number(cell, column, decimal)


def _read_tidy_number(cell: str, column: str, decimal: str) -> Number:
    starts_a_number = cell[:1].isdecimal()
    if not starts_a_number or "#" in cell:
        if _INFINITE.match(cell):
            return Number(reason="infinite, not a reading")
        if _UNDECIDED.match(cell):
            return Number(reason="an estimate or a bound, not a reading")
        if not starts_a_number and cell[:1] not in "+-.,":
            return _no_number(cell)
    fraction = "/" in cell and _FRACTION.match(cell)
    if fraction:
        return _from_fraction(fraction, column)
    if _RANGE.match(cell):
        return Number(reason="a range, not a reading")
    found = _NUMBER.match(cell)
    value = digits_to_float(found[1].strip(), decimal) if found else None
    if found is None or value is None:
        return _no_number(cell)
    if math.isinf(value):
        return Number(reason="infinite, not a reading")
    read = _with_unit(value, (found[2] or "").strip(), column)
    return _no_number(cell) if read.reason and _SLIP.match(cell) else read


def _no_number(cell: str) -> Number:
    """Return why a cell is no number: a letter in the place of a digit is named."""
    slip = _SLIP.match(cell)
    if slip is None:
        return _NOT_A_NUMBER
    letter = slip[1] or slip[2]
    return Number(reason=f"not a number: a typing slip, it seems, {letter!r} in a digit's place")


def _with_unit(value: float, word: str, column: str) -> Number:
    if not word:
        return Number(value)
    unit = find_unit(word, column)
    if unit is None:
        return Number(reason=f"the unit {word[:20]!r} is not one this column can have")
    return Number(value, unit)


def _from_fraction(found: re.Match[str], column: str) -> Number:
    if column not in ("orifice_in", "lift_ft"):
        return _NOT_A_NUMBER
    sign, whole, over, under, word = found.groups()
    if int(under) == 0:
        return _NOT_A_NUMBER
    value = int(whole or 0) + int(over) / int(under)
    return _with_unit(-value if sign == "-" else value, word.strip(), column)


def digits_to_float(digits: str, decimal: str) -> float | None:
    """Turn digits with grouping and either decimal mark into a float; None if they make none.

    A mark that stands twice, or before groups of three where the other is the decimal mark,
    groups thousands; '12,5' and '0,125' can only be decimals.
    """
    if digits.isascii() and digits.isdecimal():
        return float(digits)
    digits = re.sub(r"(?<=\d)['’\u00a0\u202f ](?=\d{3}(?!\d))", "", digits)
    for mark, other in ((",", "."), (".", ",")):
        if _groups_thousands(digits, mark, other, decimal):
            digits = digits.replace(mark, "").replace(other, ".")
            break
    else:
        digits = digits.replace(",", ".")
    try:
        return float(digits) if "_" not in digits and digits.isascii() else None
    except ValueError:
        return None


def _groups_thousands(digits: str, mark: str, other: str, decimal: str) -> bool:
    if not re.match(rf"^[+-]?[1-9]\d{{0,2}}(\{mark}\d{{3}})+(\{other}\d*)?$", digits):
        return False
    return digits.count(mark) > 1 or other in digits or decimal == other


def convert_one(number: Number, atmosphere_psia: float, own: Unit | None) -> float:
    """Return the number in the contract's unit; its own unit wins over the column's."""
    unit = number.unit or own
    if unit is None:
        return number.value
    value = number.value * unit.scale + unit.offset
    return value - atmosphere_psia if unit.absolute else value
