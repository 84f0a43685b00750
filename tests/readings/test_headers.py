from __future__ import annotations

import pytest

from survey.columns import INPUT_COLUMNS
from survey.readings.headers import match_headers
from survey.readings.units import CONTRACT_UNIT, UNITS, VARIANTS, find_unit, to_contract


def understood(*headers, samples=None, units=None, header_map=None):
    claims, notes = match_headers(headers, samples or {}, units=units, header_map=header_map)
    return {c.match.header: (c.match.column, c.match.unit, c.match.how) for c in claims}, notes


BY_NAME = "by name and unit"


@pytest.mark.parametrize(
    ("header", "column", "unit", "how"),
    [
        ("Inlet Temp (°F)", "inlet_temp_f", "°F", BY_NAME),
        ("T in °C", "inlet_temp_f", "°C", BY_NAME),
        ("T in", "inlet_temp_f", "°F", "unit assumed"),
        ("Outlet temperature, degC", "outlet_temp_f", "°C", BY_NAME),
        ("outlet_temp_degC", "outlet_temp_f", "°C", BY_NAME),
        ("Upstream temp", "inlet_temp_f", "°F", "unit assumed"),
        ("Inlet (K)", "inlet_temp_f", "K", BY_NAME),
        ("Inlet (kPa a)", "supply_psig", "kPaa", BY_NAME),
        ("Steam pressure [bar g]", "supply_psig", "bar", BY_NAME),
        ("Steam pressure bara", "supply_psig", "bara", BY_NAME),
        ("Back pressure", "return_psig", "psig", "unit assumed"),
        ("Supply (MPa)", "supply_psig", "MPa", BY_NAME),
        ("psig", "supply_psig", "psig", BY_NAME),
        ("dB", "sound_db", "dB", BY_NAME),
        ("US dB", "sound_db", "dB", BY_NAME),
        ("Bkg dB", "background_db", "dB", BY_NAME),
        ("Bkgnd dB", "background_db", "dB", BY_NAME),
        ("Trap No.", "tag", "", BY_NAME),
        ("Trap ID", "tag", "", BY_NAME),
        ("TAG", "tag", "", BY_NAME),
        ("#", "tag", "", BY_NAME),
        ("Location", "area", "", BY_NAME),
        ("Orifice", "orifice_in", "in", "unit assumed"),
        ("Seat bore mm", "orifice_in", "mm", BY_NAME),
        ('Bore (")', "orifice_in", "in", BY_NAME),
        ("Hrs/yr", "hours_per_year", "h", BY_NAME),
        ("Lift (m)", "lift_ft", "m", BY_NAME),
        ("Remarks", "note", "", BY_NAME),
        ("Isolating valve", "valve_position", "", BY_NAME),
        ("inlet_temp_c", "inlet_temp_f", "°C", "exact"),
        ("supply_kpaa", "supply_psig", "kPaa", "exact"),
    ],
)
def test_headers_as_people_write_them(header, column, unit, how):
    found, notes = understood(header)
    assert found[header] == (column, unit, how)
    assert not notes


@pytest.mark.parametrize(
    "header",
    [
        "c",
        "State",
        "Serial",
        "Steam",
        "Price",
        "Pipe size",
        "p_working",
        "return_saturation_f",
        "Check in",
        "Manufacturer",
        "Inletx",
        "hours worked by hand",
    ],
)
def test_other_headers_are_kept_without_a_word(header):
    found, notes = understood(header)
    assert found[header] == (None, "", "kept as it is")
    assert not notes


def test_an_ambiguous_header_is_kept_and_asked_about():
    found, notes = understood("Downstream", "Temp")
    assert [column for column, _, _ in found.values()] == [None, None]
    assert notes == [
        "'Downstream' may be outlet_temp_f or return_psig; kept as it is: say which column it is "
        "with a header map",
        "'Temp' may be inlet_temp_f or outlet_temp_f or ambient_f; kept as it is: say which "
        "column it is with a header map",
    ]


def test_downstream_follows_its_partner():
    found, notes = understood("Upstream temp (°C)", "Downstream")
    assert found["Downstream"] == ("outlet_temp_f", "°C", "unit assumed")
    assert notes == ["'Downstream' was taken as outlet_temp_f, like its partner"]


def test_an_unknown_unit_is_refused_by_name():
    found, notes = understood("Supply (mbar)", "Steam pressure (mPa)")
    assert found["Supply (mbar)"][0] is None
    assert found["Steam pressure (mPa)"][0] is None
    assert notes[0] == (
        "'Supply (mbar)' has 'mbar' where a unit was expected, which is not in the table of "
        "units; kept as it is: say which column it is with a header map"
    )


def test_cells_decide_between_columns_of_unlike_kind():
    samples = {"Type": ["F&T", "IB"], "Sound": ["quiet", "cont."]}
    found, _ = understood("Type", "Sound", samples=samples)
    assert (found["Type"][0], found["Sound"][0]) == ("trap_type", "sound_pattern")
    samples = {"Type": ["trap", "air vent"], "Sound": ["31", "42.5"]}
    found, _ = understood("Type", "Sound", samples=samples)
    assert (found["Type"][0], found["Sound"][0]) == ("device", "sound_db")


def test_one_column_has_one_header():
    found, notes = understood("Inlet Temp (°F)", "inlet_temp_f", "No.", "Trap ID")
    assert found["Inlet Temp (°F)"][0] is None
    assert found["inlet_temp_f"] == ("inlet_temp_f", "°F", "exact")
    assert (found["No."][0], found["Trap ID"][0]) == (None, "tag")
    assert notes == [
        "'Inlet Temp (°F)' also looks like inlet_temp_f, which 'inlet_temp_f' fills; it was kept "
        "as it is",
        "'No.' also looks like tag, which 'Trap ID' fills; it was kept as it is",
    ]


def test_a_units_row_counts_and_must_not_contradict():
    found, _ = understood("Inlet Temp", units={"Inlet Temp": "°C"})
    assert found["Inlet Temp"] == ("inlet_temp_f", "°C", BY_NAME)
    found, notes = understood("inlet_temp_f", units={"inlet_temp_f": "°C"})
    assert found["inlet_temp_f"][0] is None
    assert notes == [
        "'inlet_temp_f' has the unit '°C' under it, which contradicts its name; kept as it is: "
        "say which column it is with a header map"
    ]


def test_a_map_rules():
    named = {"Surface": "inlet_temp_c", "dB": "", "Line (bar)": "supply_psig"}
    found, _ = understood("Surface", "dB", "Line (bar)", header_map=named)
    assert found["Surface"] == ("inlet_temp_f", "°C", "set by map")
    assert found["dB"] == (None, "", "set by map")
    assert found["Line (bar)"] == ("supply_psig", "bar", "set by map")


def test_every_contract_name_and_variant_is_exact():
    for name in [c.name for c in INPUT_COLUMNS] + list(VARIANTS):
        found, notes = understood(name)
        assert found[name][2] == "exact"
        assert not notes
    assert len(VARIANTS) == 3 + 2 * 5 + 1 + 1


def test_every_unit_converts_its_own_zero_and_back_is_linear():
    import numpy as np

    for unit in UNITS.values():
        zero, one, two = to_contract(np.array([0.0, 1.0, 2.0]), unit, 14.7)
        assert two - one == pytest.approx(one - zero)
        assert one > zero


def test_contract_units_change_no_bit():
    import numpy as np

    values = np.array([0.1, 1 / 3, 296.7])
    for unit in CONTRACT_UNIT.values():
        assert to_contract(values, unit, 14.7) is values


def test_units_of_one_column_are_not_units_of_another():
    assert find_unit("°C", "inlet_temp_f")
    assert find_unit("°C", "supply_psig") is None
    assert find_unit("in", "tag") is None


def test_a_unit_behind_every_number_is_in_the_file():
    cells = {"Temp in": ["147 °C", "n/a", "151,5 °C"], "Pressure": ["4 bar", "4 bar", ""]}
    found, notes = understood(*cells, samples=cells)
    assert found["Temp in"] == ("inlet_temp_f", "°C", BY_NAME)
    assert found["Pressure"] == ("supply_psig", "bar", BY_NAME)
    assert not notes


@pytest.mark.parametrize("cells", [["147 °C", "151"], ["147 °C", "300 °F"], ["n/a", ""]])
def test_a_unit_behind_some_numbers_is_no_unit_of_the_column(cells):
    found, _ = understood("Temp in", samples={"Temp in": cells})
    assert found["Temp in"] == ("inlet_temp_f", "°F", "unit assumed")


@pytest.mark.parametrize(("header", "column"), [("Fed from", "station"), ("Shed", "area")])
def test_places_as_people_call_them(header, column):
    assert understood(header)[0][header][0] == column
