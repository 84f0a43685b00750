"""Each unit as people write it: what it is called, and what one of it comes to.

Factors are exact by NIST SP 811 (2008): 1 psi = 6894.757 293 168 Pa (from its definition by pound
and inch), 1 in = 25.4 mm, 1 ft = 0.3048 m, 1 kgf = 9.806 65 N.
"""

from __future__ import annotations

import pytest

from survey.readings.units import VARIANTS, find_unit, is_unit, spelling
from tests.readings.test_headers import understood

PSI_PA = 0.45359237 * 9.80665 / 0.0254**2
AIR_PSIA = 14.0
BAR = 1e5 / PSI_PA
KGF = 98_066.5 / PSI_PA

# spellings, column, what the unit is called, and what 3 of it are in the column's own unit
WRITTEN = [
    (("°F", "F", "degF", "deg. F", "Fahrenheit", "º F", "℉"), "inlet_temp_f", "°F", 3.0),
    (("°C", "C", "deg C", "Celsius", "˚C", "℃"), "inlet_temp_f", "°C", 37.4),
    (("K", "Kelvin"), "inlet_temp_f", "K", 3 * 1.8 - 459.67),
    (("psig", "PSI(G)", "psi g", "psi", "lb/in²", "lbf/in2"), "supply_psig", "psig", 3.0),
    (("psia", "psi(a)", "PSI abs", "psi_a"), "supply_psig", "psia", 3.0 - AIR_PSIA),
    (("bar", "barg", "bar(g)", "bar g"), "supply_psig", "bar", 3 * BAR),
    (("bara", "bar(a)", "bar abs"), "supply_psig", "bara", 3 * BAR - AIR_PSIA),
    (("kPa", "kPag", "kPa(g)"), "supply_psig", "kPa", 3 * BAR / 100),
    (("kPaa", "kPa(abs)", "kPa a"), "supply_psig", "kPaa", 3 * BAR / 100 - AIR_PSIA),
    (("MPa", "MPa(g)"), "supply_psig", "MPa", 30 * BAR),
    (("MPaa", "MPa(abs)"), "supply_psig", "MPaa", 30 * BAR - AIR_PSIA),
    (("kgf/cm²", "kg/cm2", "kg/cm2(g)"), "supply_psig", "kgf/cm²", 3 * KGF),
    (("in", "inch", '"', "″"), "orifice_in", "in", 3.0),
    (("mm", "millimetres"), "orifice_in", "mm", 3 / 25.4),
    (("ft", "feet", "'", "′"), "lift_ft", "ft", 3.0),
    (("m", "metres", "mtr."), "lift_ft", "m", 3 / 0.3048),
    (("in", "inches", '"'), "lift_ft", "in", 0.25),
    (("cm",), "lift_ft", "cm", 0.03 / 0.3048),
    (("mm",), "lift_ft", "mm", 0.003 / 0.3048),
    (("dB", "dBµV", "decibels"), "sound_db", "dB", 3.0),
    (("h", "hrs/yr", "hours per year", "h/a"), "hours_per_year", "h", 3.0),
]


@pytest.mark.parametrize(
    ("word", "column", "name", "value"),
    [(word, *rest) for words, *rest in WRITTEN for word in words],
)
def test_a_unit_as_written(word: str, column: str, name: str, value: float) -> None:
    unit = find_unit(word, column)
    assert unit is not None
    assert unit.name == name
    assert is_unit(word)
    three = 3 * unit.scale + unit.offset - (AIR_PSIA if unit.absolute else 0.0)
    assert three == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize("word", ["mPa", "mbar", "", "lb", "rank", "%", "mmHg", "inHg"])
def test_what_the_table_has_not_is_no_pressure(word: str) -> None:
    assert find_unit(word, "supply_psig") is None


def test_a_pressure_without_gauge_or_absolute_is_taken_as_gauge_and_known_to_be() -> None:
    for bare, gauge in (("psi", "psig"), ("bar", "barg"), ("kPa", "kPag"), ("MPa", "MPag")):
        one, other = find_unit(bare, "supply_psig"), find_unit(gauge, "supply_psig")
        assert one is not None
        assert other is not None
        assert (one.name, one.scale, one.absolute) == (other.name, other.scale, other.absolute)
        assert (one.assumed_gauge, other.assumed_gauge) == (True, False)


@pytest.mark.parametrize(("header", "unit"), [
    ("Supply psia", "psia"), ("Supply (kPag)", "kPa"), ("Supply MPa(a)", "MPaa"),
    ("Supply kg/cm²", "kgf/cm²"), ("Lift (cm)", "cm"), ("Lift in", "in"), ("Bore, mm", "mm"),
])  # fmt: skip
def test_a_header_carries_its_unit(header: str, unit: str) -> None:
    found, _ = understood(header)
    assert found[header][1:] == (unit, "by name and unit")


@pytest.mark.parametrize(("name", "column", "unit"), [
    ("inlet_temp_c", "inlet_temp_f", "°C"), ("ambient_c", "ambient_f", "°C"),
    ("supply_psia", "supply_psig", "psia"), ("return_bar", "return_psig", "bar"),
    ("supply_bara", "supply_psig", "bara"), ("supply_kpa", "supply_psig", "kPa"),
    ("return_kpaa", "return_psig", "kPaa"), ("orifice_mm", "orifice_in", "mm"),
    ("lift_m", "lift_ft", "m"),
])  # fmt: skip
def test_a_column_name_in_another_unit(name: str, column: str, unit: str) -> None:
    found, its = VARIANTS[name]
    assert (found, its.name, its.assumed_gauge) == (column, unit, False)


def test_case_spaces_and_dots_do_not_tell_units_apart_but_letters_do() -> None:
    assert spelling(" Deg. C ") == spelling("degC") == spelling("deg_c")
    assert spelling("bara") != spelling("barg")
