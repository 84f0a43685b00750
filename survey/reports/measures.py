"""The units that figures are shown in: US as they are kept, or SI. The one place for both.

Findings are kept in US units; a paper shows them in those of the current `manner`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

from survey.columns import FINDING_COLUMNS, INPUT_COLUMNS
from survey.physics import units as physical
from survey.reports import manner, numerals, words
from survey.reports.heads import HEADS

FLOW = "steam_loss_lb_per_h"
MASS = "annual_loss_klb"
GAUGE = "supply_psig"
PRESSURE = "pressure_psi"
TEMPERATURE = "inlet_temp_f"
DIFFERENCE = "subcooling_f"
BORE = "orifice_in"
HEAT = "heat_back_btu_per_h"
KW_PER_BTU_PER_H = physical.KJ_PER_KG_PER_BTU_PER_LB * physical.KG_PER_LB / 3600
"""Kilowatts in one Btu (International Table) an hour."""
GJ_PER_MMBTU = KW_PER_BTU_PER_H * 3600


@dataclass(frozen=True)
class Measure:
    """A kind of quantity: its unit in US and in SI, and how the one becomes the other.

    Parameters
    ----------
    us, si
        The two units, as they are written.
    size
        One US unit in SI units.
    zero
        The US figure that is zero in SI.
    decimals
        Decimals that a reading deserves in SI.
    """

    us: str
    si: str
    size: float
    zero: float = 0.0
    decimals: int = 2

    def to_si(self, figure: ArrayLike) -> Any:
        """Return a US figure, or many, in SI."""
        return (np.asarray(figure, dtype=float) - self.zero) * self.size


_BAR = physical.KPA_PER_PSI / physical.KPA_PER_BAR
_TEMPERATURE = Measure("°F", "°C", 1 / 1.8, zero=32.0, decimals=1)
_DIFFERENCE = Measure("°F", "°C", 1 / 1.8, decimals=1)
_GAUGE = Measure("psig", "bar (gauge)", _BAR)
_PRESSURE = Measure("psi", "bar", _BAR)
_LENGTH = Measure("ft", "m", physical.M_PER_FT)
_BORE = Measure("in", "mm", physical.MM_PER_IN, decimals=1)
_FLOW = Measure("lb/h", "kg/h", physical.KG_PER_LB)
_MASS = Measure("1000 lb", "t", physical.KG_PER_LB)
_HEAT = Measure("Btu/h", "kW", KW_PER_BTU_PER_H, decimals=1)
MEASURES = {
    BORE: _BORE,
    "supply_psig": _GAUGE,
    "return_psig": _GAUGE,
    "ambient_f": _TEMPERATURE,
    "inlet_temp_f": _TEMPERATURE,
    "outlet_temp_f": _TEMPERATURE,
    "lift_ft": _LENGTH,
    "load_lb_per_h": _FLOW,
    "steam_loss_lb_per_h": _FLOW,
    "steam_loss_low_lb_per_h": _FLOW,
    "steam_loss_high_lb_per_h": _FLOW,
    "annual_loss_klb": _MASS,
    "saturation_f": _TEMPERATURE,
    "return_saturation_f": _TEMPERATURE,
    "subcooling_f": _DIFFERENCE,
    "pressure_psi": _PRESSURE,
    "heat_back_btu_per_h": _HEAT,
}
"""Column -> its measure. A column that is not here has one unit, or none, in both systems."""
_HALF_A_DIGIT = 0.0005
_NEAR_A_64TH_IN = 0.055 / physical.MM_PER_IN
_NEAR_A_TENTH = 0.06
_NUDGE = 1e-9  # 1/4 in is 6.35 mm: 6.4, although in binary it is a hair less
_UNITS = {column.name: column.unit for column in (*INPUT_COLUMNS, *FINDING_COLUMNS)}
_SUFFIXES = ("_lb_per_h", "_psig", "_in", "_db", "_ft", "_klb", "_t", "_f")


def in_si() -> bool:
    """Tell whether figures are shown in SI units just now."""
    return manner.current().units == "si"


def unit(name: str) -> str:
    """Return the unit that a column is shown in, '' where it has none."""
    measure = MEASURES.get(name)
    if measure is None:
        return _UNITS.get(name, "")
    return measure.si if in_si() else measure.us


def unit_in_text(name: str) -> str:
    """Return the unit of a column as a sentence says it: 'bar gauge', without brackets."""
    return unit(name).replace("(gauge)", "gauge")


def value(name: str, figure: Any) -> Any:
    """Return a figure of a column, or a whole column, in the unit it is shown in; NaN stays."""
    measure = MEASURES.get(name)
    if measure is None or not in_si():
        return figure
    if isinstance(figure, pd.Series):
        return pd.Series(measure.to_si(figure), index=figure.index, name=figure.name)
    converted = measure.to_si(figure)
    return float(converted) if np.ndim(figure) == 0 else converted


def head(name: str, currency: str = "") -> str:
    """Return a column's head in words with its unit: 'Inlet temp, °C'."""
    if name not in _UNITS and name not in MEASURES:
        return name
    shown = unit(name)
    stem = name
    for suffix in _SUFFIXES:
        if shown and name.endswith(suffix):
            stem = name.removesuffix(suffix)
            break
    said = words.capital(HEADS.get(name, stem.replace("_", " ")))
    shown = currency if shown == "currency" else shown
    return f"{said}, {shown}" if shown else said


def said(name: str, figure: float) -> str:
    """Return a reading with its unit, in words: '303 °F', '150.6 °C', '3.2 mm (1/8 in)'."""
    said = f"{_rounded(name, figure)} {unit(name)}".strip()
    return f"{said}{_as_made(name, figure)}"


def reading(name: str, figure: float) -> str:
    """Return a reading without its unit: as it was typed, or in SI to what its digits allow."""
    return f"{_rounded(name, figure)}{_as_made(name, figure)}"


def _rounded(name: str, figure: float) -> str:
    shown = value(name, figure)
    measure = MEASURES.get(name)
    if measure is None or not in_si() or not math.isfinite(shown):
        return words.plain(shown)
    return words.plain(round(shown + _NUDGE, measure.decimals))


def bore_in_si(figures: Sequence[float], join: str) -> str:
    """Return a bore, or both ends of its range, in millimetres and inches: '3.2 mm (1/8 in)'."""
    mm = join.join(numerals.grouped(value(BORE, size) + _NUDGE, 1) for size in figures)
    made = [inches(size).removesuffix(" in") for size in figures]
    return f"{mm} mm ({join.join(made)} in)" if all(made) else f"{mm} mm"


def _as_made(name: str, figure: float) -> str:
    made = inches(figure) if name == BORE and in_si() and math.isfinite(figure) else ""
    return f" ({made})" if made else ""


def inches(figure: float) -> str:
    """Return a bore as the trade says it: '1/8 in', or '0.15 in' where it is no 64th.

    Seats are made and stamped in inches, so in SI this stands beside the millimetres. One that was
    written down in millimetres, 6.4 mm, is the 64th that rounds to them, or has no inches at all.
    """
    in_64ths = round(64 * figure)
    tenths_mm = 10 * physical.MM_PER_IN * figure
    typed_in_mm = abs(tenths_mm - round(tenths_mm)) < _NEAR_A_TENTH
    near = _NEAR_A_64TH_IN if typed_in_mm else _HALF_A_DIGIT
    if in_64ths and abs(figure - in_64ths / 64) < near:
        part = Fraction(in_64ths, 64)
        whole = f"{part.numerator // part.denominator} " if part >= 1 else ""
        rest = part % 1
        return f"{whole}{f'{rest} ' if rest else ''}in"
    return "" if typed_in_mm else f"{words.plain(figure)} in"


def figured(name: str, figure: float, digits: int = 3) -> str:
    """Return a figure with its unit, to so many significant digits: '23.5 psig', '1.62 bar'."""
    if not math.isfinite(figure):
        return words.NOT_KNOWN
    return f"{words.figure(value(name, figure), digits)} {unit_in_text(name)}"


def to_places(name: str, figure: float, places: int) -> str:
    """Return a figure without its unit, to so many decimals or, in SI, to as fine a step."""
    if not math.isfinite(figure):
        return words.NOT_KNOWN
    return numerals.grouped(value(name, figure), as_fine(name, places))


def as_fine(name: str, places: int) -> int:
    """Return how many decimals of the unit shown are as fine as so many of the US unit."""
    step = abs(value(name, 1.0) - value(name, 0.0))
    return max(0, places + round(-math.log10(step)))


LEAST_FLOW_LB_PER_H = 0.05
"""Less steam than this is not told to its digits: nothing measures so little."""
UNDER = "under {}"


def flow(figures: tuple[float, ...]) -> str:
    """Return steam lost with its unit, and its range where three figures are given."""
    if 0.0 < max(figures) < LEAST_FLOW_LB_PER_H:
        return UNDER.format(figured(FLOW, LEAST_FLOW_LB_PER_H, 1))
    shown = [value(FLOW, figure) for figure in figures]
    low, high = shown[1:] if len(shown) == 3 else (math.nan, math.nan)
    return words.ranged(shown[0], low, high, unit(FLOW))


def grouped(number: int) -> str:
    """Return a count, its thousands set off."""
    return numerals.grouped(number)
