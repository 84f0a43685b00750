"""Units as people write them: a closed table, and the way to the contract's unit.

Nothing is guessed: a spelling that is not in the table is refused by name. ``mb`` and
``mbar`` are left out on purpose, since a gauge marked so is as often absolute as not.
"""

from __future__ import annotations

import functools
import unicodedata
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from survey.columns import INPUT_COLUMNS

FloatArray = npt.NDArray[np.float64]

_INCH_M = 0.0254  # exact, by definition
_FOOT_M = 0.3048  # exact, by definition
_PSI_PA = 4.4482216152605 / 0.0254**2  # pound-force (NIST SP 811) over the square inch
_BAR_PSI = 1e5 / _PSI_PA
_KPA_PSI = 1e3 / _PSI_PA
_KGF_CM2_PSI = 98066.5 / _PSI_PA  # kilogram-force of 9.80665 N, by definition


@dataclass(frozen=True)
class Unit:
    """One unit: contract value = value * scale + offset, less the atmosphere if absolute."""

    name: str
    dimension: str
    scale: float = 1.0
    offset: float = 0.0
    absolute: bool = False
    assumed_gauge: bool = False


_UNITS: tuple[tuple[Unit, str], ...] = (
    (Unit("°F", "temperature"), "°f f degf degreef degreesf fahrenheit degfahrenheit"),
    (Unit("°C", "temperature", 1.8, 32.0), "°c c degc degreec degreesc celsius degcelsius"),
    (Unit("K", "temperature", 1.8, -459.67), "k kelvin degk"),
    (Unit("psig", "pressure"), "psig psi(g) psi-g psigauge psi(gauge) lb/in2g lb/in²g"),
    (Unit("psig", "pressure", assumed_gauge=True), "psi lb/in2 lb/in² lbf/in2 lbf/in²"),
    (Unit("psia", "pressure", absolute=True), "psia psi(a) psi-a psiabs psi(abs) psiabsolute"),
    (Unit("bar", "pressure", _BAR_PSI), "barg bar(g) bar-g bargauge bar(gauge)"),
    (Unit("bar", "pressure", _BAR_PSI, assumed_gauge=True), "bar bars"),
    (
        Unit("bara", "pressure", _BAR_PSI, absolute=True),
        "bara bar(a) bar-a barabs bar(abs) barabsolute",
    ),
    (Unit("kPa", "pressure", _KPA_PSI), "kpag kpa(g) kpa-g kpagauge kpa(gauge)"),
    (Unit("kPa", "pressure", _KPA_PSI, assumed_gauge=True), "kpa"),
    (Unit("kPaa", "pressure", _KPA_PSI, absolute=True), "kpaa kpa(a) kpa-a kpaabs kpa(abs)"),
    (Unit("MPa", "pressure", _KPA_PSI * 1e3), "mpag mpa(g) mpagauge mpa(gauge)"),
    (Unit("MPa", "pressure", _KPA_PSI * 1e3, assumed_gauge=True), "mpa"),
    (Unit("MPaa", "pressure", _KPA_PSI * 1e3, absolute=True), "mpaa mpa(a) mpaabs mpa(abs)"),
    (
        Unit("kgf/cm²", "pressure", _KGF_CM2_PSI, assumed_gauge=True),
        "kgf/cm2 kgf/cm² kg/cm2 kg/cm² kg/cm2g kg/cm2(g) kgf/cm2g",
    ),
    (Unit("in", "bore"), "in inch inches \" ” ″ ''"),
    (Unit("mm", "bore", 1e-3 / _INCH_M), "mm millimetre millimetres millimeter millimeters"),
    (Unit("ft", "length"), "ft foot feet ' ’ ′"),
    (Unit("m", "length", 1 / _FOOT_M), "m metre metres meter meters mtr"),
    (Unit("in", "length", _INCH_M / _FOOT_M), 'in inch inches " ” ″'),
    (Unit("cm", "length", 1e-2 / _FOOT_M), "cm"),
    (Unit("mm", "length", 1e-3 / _FOOT_M), "mm"),
    (Unit("dB", "level"), "db db(a) dba dbµv dbμv dbuv db(µv) db(μv) db(uv) decibel decibels"),
    (
        Unit("h", "time"),
        "h hr hrs hour hours h/y h/yr h/year h/a hr/yr hrs/yr hrs/year hr/year hours/year"
        " hours/yr hoursperyear hrs/y",
    ),
)

# One capital apart from a unit in the table, and a thousand million apart in size.
_REFUSED_AS_WRITTEN = frozenset({"mPa", "mpA"})

_DIMENSIONS = {
    "°F": "temperature",
    "psig": "pressure",
    "in": "bore",
    "ft": "length",
    "dB": "level",
    "h": "time",
}


def spelling(text: str) -> str:
    """Return a unit as the table keys it: no case, spaces, dots or underscores."""
    text = text.replace("º", "°").replace("˚", "°").replace("℃", "°C").replace("℉", "°F")
    text = unicodedata.normalize("NFC", text).casefold()
    return "".join(c for c in text if not c.isspace() and c not in "._")


UNITS: dict[tuple[str, str], Unit] = {
    (unit.dimension, spelling(word)): unit for unit, words in _UNITS for word in words.split()
}
_SPELLINGS = frozenset(word for _, word in UNITS)

DIMENSION_OF: dict[str, str] = {
    column.name: _DIMENSIONS[column.unit] for column in INPUT_COLUMNS if column.unit
}
"""Dimension of each input column that has a unit."""

CONTRACT_UNIT: dict[str, Unit] = {
    name: UNITS[dimension, spelling(unit)]
    for unit, dimension in _DIMENSIONS.items()
    for name, its in DIMENSION_OF.items()
    if its == dimension
}
"""The unit each input column is kept in."""


@functools.lru_cache(maxsize=1024)  # a column spells its unit a few ways, in millions of cells
def find_unit(text: str, column: str) -> Unit | None:
    """Return the unit that ``text`` spells for this column, or None if the table has none."""
    if text.strip() in _REFUSED_AS_WRITTEN or column not in DIMENSION_OF:
        return None
    return UNITS.get((DIMENSION_OF[column], spelling(text)))


def is_unit(text: str) -> bool:
    """Say whether ``text`` spells a unit of any column."""
    return text.strip() not in _REFUSED_AS_WRITTEN and spelling(text) in _SPELLINGS


def is_of_a_reading(unit_text: str) -> bool:
    """Say whether a text is a unit of temperature, pressure or level, and no single letter."""
    return len(unit_text) > 1 and any(
        find_unit(unit_text, column) for column in ("inlet_temp_f", "supply_psig", "sound_db")
    )


def to_contract(values: FloatArray, unit: Unit, atmosphere_psia: float) -> FloatArray:
    """Convert values in ``unit`` to the contract's unit; NaN stays NaN.

    Parameters
    ----------
    values
        Any shape, in `unit`.
    unit
        From the table of units.
    atmosphere_psia
        Pressure of the air at the site, taken off absolute pressures.
    """
    if unit.scale == 1.0 and unit.offset == 0.0 and not unit.absolute:
        return values
    converted = values * unit.scale + unit.offset
    return converted - atmosphere_psia if unit.absolute else converted


def _variants() -> dict[str, tuple[str, Unit]]:
    suffixes = {
        "temperature": ("_f", {"_c": "c"}),
        "pressure": (
            "_psig",
            {"_psia": "psia", "_bar": "barg", "_bara": "bara", "_kpa": "kpag", "_kpaa": "kpaa"},
        ),
        "bore": ("_in", {"_mm": "mm"}),
        "length": ("_ft", {"_m": "m"}),
    }
    found = {}
    for column, dimension in DIMENSION_OF.items():
        own, others = suffixes.get(dimension, ("", {}))
        for suffix, word in others.items():
            found[column.removesuffix(own) + suffix] = (column, UNITS[dimension, word])
    return found


VARIANTS: dict[str, tuple[str, Unit]] = _variants()
"""Contract names in other units, such as inlet_temp_c: to column and unit."""
