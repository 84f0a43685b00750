from __future__ import annotations

import datetime as dt
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from survey.columns import INPUT_BY_NAME
from survey.readings.cells import Number, convert_one, digits_to_float, read_number
from survey.readings.dates import read_time
from survey.readings.texts import clean_word
from survey.readings.units import find_unit
from survey.readings.words import CHOICE_WORDS, is_missing, read_choice

ESTIMATE = "an estimate or a bound, not a reading"
WHEN = "a date or a time, not a reading (spreadsheets turn 1/4 into one)"


@pytest.mark.parametrize(
    ("typed", "column", "decimal", "value"),
    [
        ("180", "inlet_temp_f", ".", 180.0),
        (" 180.5 ", "inlet_temp_f", ".", 180.5),
        ("+5", "sound_db", ".", 5.0),
        ("−5", "sound_db", ".", -5.0),
        (".5", "lift_ft", ".", 0.5),
        ("12.", "lift_ft", ".", 12.0),
        ("1e2", "inlet_temp_f", ".", 100.0),
        ("1/8", "orifice_in", ".", 0.125),
        ('3/16"', "orifice_in", ".", 0.1875),
        ("1 1/4", "orifice_in", ".", 1.25),
        ("1-1/4 in", "orifice_in", ".", 1.25),
        ("1½", "orifice_in", ".", 1.5),
        ("½ in.", "orifice_in", ".", 0.5),
        ("6'", "lift_ft", ".", 6.0),
        ("1,250", "hours_per_year", ".", 1250.0),
        ("1,250", "hours_per_year", ",", 1.25),
        ("1.250", "hours_per_year", ",", 1250.0),
        ("1.250", "hours_per_year", ".", 1.25),
        ("12,5", "inlet_temp_f", ".", 12.5),
        ("12,5", "inlet_temp_f", ",", 12.5),
        ("0,125", "orifice_in", ".", 0.125),
        ("1.250,5", "hours_per_year", ".", 1250.5),
        ("1,250.5", "hours_per_year", ",", 1250.5),
        ("6 000", "hours_per_year", ".", 6000.0),
        ("6'000", "hours_per_year", ".", 6000.0),
        ("-1/8", "lift_ft", ".", -0.125),
        ("1.234.567", "hours_per_year", ".", 1234567.0),
        ("1,234,567.5", "hours_per_year", ",", 1234567.5),
        ("0.125", "orifice_in", ",", 0.125),
        ("1234,567", "hours_per_year", ".", 1234.567),
        ("1" + "0" * 63, "inlet_temp_f", ".", 1e63),
        ("⅜", "orifice_in", ".", 0.375),
        ("2 ⅔ ft", "lift_ft", ".", 2 + 2 / 3),
        ("7⁄64", "orifice_in", ".", 7 / 64),  # as word processors write a fraction
    ],
)
def test_a_number_as_typed(typed, column, decimal, value):
    read = read_number(typed, column, decimal)
    assert (read.value, read.reason) == (value, "")


@pytest.mark.parametrize(
    ("typed", "column", "value"),
    [
        ("180 F", "inlet_temp_f", 180.0),
        ("80 °C", "inlet_temp_f", 176.0),
        ("80ºC", "inlet_temp_f", 176.0),
        ("3.175 mm", "orifice_in", 0.125),
        ("2 m", "lift_ft", 2 / 0.3048),
        ("6000 h", "hours_per_year", 6000.0),
        ("1 kg/cm²", "supply_psig", 98066.5 / 6894.757293168),
        ("1 bar", "supply_psig", 14.503773773),  # NIST SP 811: 1 psi is 6894.757 Pa
        ("14.695949 psia", "supply_psig", 0.0),
        ("200 kPa(g)", "supply_psig", 29.007547546),
    ],
)
def test_a_unit_in_the_cell_is_converted(typed, column, value):
    read = read_number(typed, column, ".")
    assert read.reason == ""
    assert convert_one(read, 14.695949, None) == pytest.approx(value, rel=1e-9, abs=1e-9)


@pytest.mark.parametrize(
    ("typed", "reason"),
    [
        ("~180", ESTIMATE),
        (">200", ESTIMATE),
        ("≤ 200", ESTIMATE),
        ("approx 180", ESTIMATE),
        ("180-190", "a range, not a reading"),
        ("180 to 190", "a range, not a reading"),
        ("inf", "infinite, not a reading"),
        ("-Infinity", "infinite, not a reading"),
        ("1e999", "infinite, not a reading"),
        ("hot", "not a number"),
        ("1/8", "not a number"),
        ("1.2.3", "not a number"),
        ("٣", "not a number"),
        ("1_000", "the unit '_000' is not one this column can have"),
        ("85%", "the unit '%' is not one this column can have"),
        ("10 psig", "the unit 'psig' is not one this column can have"),
        ("9" * 400, "not a number"),
        ("#REF!", "a spreadsheet error (#REF!), not a reading"),
        # What spreadsheets show where a formula failed: ISO/IEC 29500-1, 18.17.3; #SPILL! is newer.
        *((word, f"a spreadsheet error ({word}), not a reading") for word in (
            "#DIV/0!", "#NAME?", "#NULL!", "#NUM!", "#VALUE!", "#SPILL!")),
        ("≈180", ESTIMATE),
        ("about 180", ESTIMATE),
        ("180..190", "a range, not a reading"),
        ("180 – 190 F", "a range, not a reading"),
        ("1/0", "not a number"),
        ("--5", "not a number"),
        ("1.#INF", "infinite, not a reading"),
        ("1" * 65, "not a number"),
        # The mark of a footnote is no digit of the figure.
        ("24²", "not a number"),
        ("18.5①", "not a number"),
        ("2025-11-04", WHEN),
        ("2025-11-04T08:00:00", WHEN),
        ("12:30:00", WHEN),
    ],
)
def test_what_is_no_reading_has_its_reason(typed, reason):
    read = read_number(typed, "inlet_temp_f", ".")
    assert math.isnan(read.value)
    assert read.reason == reason


def test_a_bore_that_divides_by_nothing_is_no_number():
    assert read_number("1/0", "orifice_in", ".").reason == "not a number"
    assert read_number("1/8 psi", "orifice_in", ".").reason.startswith("the unit 'psi' is not one")


def test_the_unit_of_a_cell_wins_over_that_of_its_column():
    bar, psig = find_unit("bar", "supply_psig"), find_unit("psig", "supply_psig")
    assert convert_one(read_number("15 psi", "supply_psig", "."), 14.7, bar) == 15.0
    assert convert_one(read_number("1", "supply_psig", "."), 14.7, bar) == pytest.approx(14.503774)
    assert convert_one(read_number("1 bar", "supply_psig", "."), 14.7, psig) > 14.0
    assert convert_one(read_number("7", "supply_psig", "."), 14.7, None) == 7.0


def test_a_millibar_is_refused_by_name():
    assert read_number("900 mbar", "supply_psig", ".").reason == (
        "the unit 'mbar' is not one this column can have"
    )
    assert read_number("0.2 mPa", "supply_psig", ".").reason == (
        "the unit 'mPa' is not one this column can have"
    )


@pytest.mark.parametrize(
    "typed", ["", " ", "-", "—", "n/a", "N/A", "NR", "?", "NaN", "null", "#N/A", "not taken"]
)
def test_missing_is_no_fault(typed):
    assert is_missing(typed)
    read = read_number(typed, "inlet_temp_f", ".")
    assert math.isnan(read.value)
    assert read.reason == ""


@pytest.mark.parametrize(
    ("typed", "letter"),
    [("23o", "o"), ("2O0", "O"), ("l45", "l"), ("21I", "I"), ("2S0.5", "S"), ("2l2 psig", "l")],
)
def test_a_letter_in_the_place_of_a_digit_is_a_slip(typed, letter):
    reason = f"not a number: a typing slip, it seems, {letter!r} in a digit's place"
    assert read_number(typed, "supply_psig", ".").reason == reason


@pytest.mark.parametrize("typed", ["hot", "12oz", "Io", "5 S", "SO", "45 lbs", "loss"])
def test_other_letters_are_no_slip(typed):
    reason = read_number(typed, "supply_psig", ".").reason
    assert reason
    assert "slip" not in reason


@given(
    st.text(max_size=80), st.sampled_from([".", ","]), st.sampled_from(["orifice_in", "sound_db"])
)
def test_any_text_gives_a_finite_number_or_none(text, decimal, column):
    read = read_number(text, column, decimal)
    assert math.isfinite(read.value) or math.isnan(read.value)
    assert not (read.reason and math.isfinite(read.value))


@given(st.floats(-1e6, 1e6))
def test_digits_read_back_what_was_written(value):
    assert digits_to_float(repr(value), ".") == value
    assert digits_to_float(f"{value:,.4f}", ".") == pytest.approx(value, abs=6e-5)


@pytest.mark.parametrize(
    ("typed", "column", "choice"),
    [
        ("F&T", "trap_type", "float_thermostatic"),
        ("IB", "trap_type", "inverted_bucket"),
        ("Bucket", "trap_type", "inverted_bucket"),
        ("disc", "trap_type", "thermodynamic"),
        ("TD", "trap_type", "thermodynamic"),
        ("Unit heater", "service", "unit_heater"),
        ("shut", "valve_position", "closed"),
        ("valved off", "valve_position", "closed"),
        ("Y", "present", "yes"),
        ("x", "present", "yes"),
        ("cont.", "sound_pattern", "continuous"),
        ("cycling", "sound_pattern", "intermittent"),
        ("None", "observed", "nothing"),
        ("air vent", "device", "air_vent"),
        ("IR gun", "thermometer", "infrared"),
    ],
)
def test_trade_words_are_choices(typed, column, choice):
    assert read_choice(typed, column) == (choice, "")


def test_unknown_words_name_what_was_expected():
    assert read_choice("ajar", "valve_position") == (None, "expected open or closed")
    assert read_choice("hissing", "sound_pattern") == (
        None,
        "expected quiet, intermittent, continuous or modulating",
    )


def test_every_word_stands_for_a_legal_choice_and_each_choice_for_itself():
    for column, words in CHOICE_WORDS.items():
        assert set(words.values()) == set(INPUT_BY_NAME[column].choices)
        for choice in INPUT_BY_NAME[column].choices:
            assert read_choice(choice, column) == (choice, "")


@pytest.mark.parametrize(
    ("typed", "kept", "doubtful"),
    [
        ("2025-11-03", "2025-11-03", False),
        ("2025-11-03 14:05", "2025-11-03T14:05", False),
        ("2025-11-03T14:05:06Z", "2025-11-03T14:05:06Z", False),
        ("25/12/2025", "2025-12-25", False),
        ("12/25/2025", "2025-12-25", False),
        ("12/25/25", "2025-12-25", False),
        ("25.12.25", "2025-12-25", False),
        ("25.12.98", "1998-12-25", False),
        ("12/11/25", "12/11/25", True),
        ("25/12/20", "25/12/20", True),
        ("03/04/2025", "03/04/2025", True),
        ("03-04-2025", "03-04-2025", True),
        ("03.04.2025", "2025-04-03", False),
        ("12.13.2025", "12.13.2025", False),
        ("3 Nov 2025", "2025-11-03", False),
        ("November 3, 2025", "2025-11-03", False),
        ("45964", "2025-11-03", False),
        ("45964.5", "2025-11-03T12:00:00", False),
        ("after lunch", "after lunch", False),
        ("31/31/2025", "31/31/2025", False),
        ("05.05.2025 7:30", "2025-05-05T07:30", False),
        ("25-12-2025 07:30:09", "2025-12-25T07:30:09", False),
        ("12/25/2025 7:30", "2025-12-25T07:30", False),
        ("13/13/2025", "13/13/2025", False),
        ("12/13/2025", "2025-12-13", False),
        ("13/12/2025", "2025-12-13", False),
        ("2025/11/3", "2025-11-03", False),
        ("2025.11.03 9:05:01", "2025-11-03T09:05:01", False),
        ("2025/13/3", "2025/13/3", False),
        ("12 Dec 2025", "2025-12-12", False),
        ("Jan. 1, 2025", "2025-01-01", False),
        ("3 Foo 2025", "3 Foo 2025", False),
        ("2025-11-03 14:05+01:00", "2025-11-03T14:05+01:00", False),
        ("20000", "1954-10-03", False),
        ("19999", "19999", False),
        ("80000", "2119-01-11", False),
        ("80001", "80001", False),
        ("45964.25", "2025-11-03T06:00:00", False),
    ],
)
def test_times(typed, kept, doubtful):
    assert read_time(typed) == (kept, doubtful)


def test_hidden_characters_are_dropped_from_names():
    assert clean_word("T\u202e-0\x001\t 7\n") == "T-01 7"
    assert clean_word("two\r\nlines\x1b[31m", one_line=False) == "two\nlines[31m"


@pytest.mark.parametrize("sign", ["-", "\u2212", "\u2012", "\ufe63", "\uff0d"])
def test_a_minus_of_any_make_is_a_minus(sign):
    assert read_number(f"{sign}5.5", "ambient_f", ".").value == -5.5


def test_every_month_by_its_short_and_its_full_name():
    for month in range(1, 13):
        day = dt.date(2025, month, 9)
        for typed in (f"9 {day:%b} 2025", f"{day:%B} 9, 2025", f"9-{day:%b}-2025".upper()):
            assert read_time(typed) == (day.isoformat(), False)


@pytest.mark.parametrize("typed", ["No lift", "nil", "level"])
def test_a_lift_that_is_none_is_no_lift_and_not_an_unknown_one(typed):
    assert read_number(typed, "lift_ft", ".") == Number(0.0)
    assert read_number("nil", "supply_psig", ".").value != 0.0
    # As scripts write what they do not have.
    assert all(math.isnan(read_number(word, "lift_ft", ".").value) for word in ("None", "n/a"))
