"""Every column by the words that people head it with, and which of two such headers wins."""

from __future__ import annotations

from pathlib import Path

import pytest

from survey.columns import INPUT_NAMES
from survey.readings.header_notes import LEVELS_UNUSED, assumed_gauge_notes, seems_a_reading
from survey.readings.headers import match_headers
from survey.readings.names import WEAK_PHRASES
from tests.readings.build import read_text
from tests.readings.test_headers import understood

# column: headers that can only mean it, whatever is in the cells
HEADED = {
    "tag": ("Trap No.", "Steam Trap #", "Asset tag", "Item nr", "Ref.", "ID", "Trap ident"),
    "device": ("Device", "Kind of device", "What is it", "Component type"),
    "trap_type": ("Trap type", "Type of trap", "trap kind", "Trap style"),
    "equipment": ("Equipment", "Serves", "Heater no.", "Unit heater", "Equip.", "Unit"),
    "area": ("Area", "Location", "Zone", "Glasshouse", "Hall", "Where"),
    "station": ("Station", "PRV", "Reducing valve", "PRV #", "Pressure reducing station",
                "PRV sta.", "Stn"),
    "service": ("Service", "Duty", "Trap service"),
    "orifice_in": ("Orifice", "Seat bore", "Bore dia.", "orifice diameter", "Seat size"),
    "supply_psig": ("Supply press.", "Steam pressure", "P1", "Line pressure", "inlet pressure",
                    "Reduced pressure", "PRV outlet press."),
    "return_psig": ("Back pressure", "Condensate return press", "P2", "outlet pressure", "Return"),
    "ambient_f": ("Ambient", "Amb. temp", "Room temperature", "Air temp"),
    "inlet_temp_f": ("Trap inlet temp", "Upstream T", "U/S temp", "T1", "Ups. temps",
                     "Pipe temp. in", "T up"),
    "outlet_temp_f": ("Trap outlet temp", "Downstream tmp", "D/S temp", "Temp after the trap",
                      "Pipe temp after the trap", "T down"),
    "thermometer": ("Thermometer", "Probe", "Temp taken with", "Temp method"),
    "sound_db": ("dB", "Ultrasonic dB", "US level", "Sound level", "Trap decibels", "Noise level"),
    "background_db": ("Bkg dB", "Background", "Backgrnd noise", "bgd level", "Ambient noise"),
    "sound_pattern": ("Pattern", "Sound pattern", "Ultrasound pattern", "What was heard"),
    "valve_position": ("Valve", "Iso. valve pos.", "Isolating valve", "Isolation valve"),
    "observed": ("Observed", "Discharge", "What came out", "Visual"),
    "present": ("Present", "Fitted?", "Installed", "Fitted (Y/N)"),
    "lift_ft": ("Lift", "Rise", "Lift height", "Condensate lift", "Vert. lift"),
    "hours_per_year": ("Hours per year", "Hrs/yr", "Operating hours", "h per annum", "Annual hrs",
                       "Op. hours"),
    "read_at": ("Date", "Read on", "Time", "Survey date", "Timestamp"),
    "note": ("Notes", "Remark", "Comments", "comment"),
}  # fmt: skip


@pytest.mark.parametrize(
    ("column", "header"), [(column, header) for column, words in HEADED.items() for header in words]
)
def test_a_header_that_can_mean_one_column_only(column: str, header: str) -> None:
    found, notes = understood(header)
    assert found[header][0] == column
    assert not notes


def test_every_column_but_its_own_name_has_been_tried() -> None:
    assert set(HEADED) == set(INPUT_NAMES)


# header, cells, column
BY_CELLS = [
    ("Trap", ["T-1", "T-2"], "tag"),
    ("Trap", ["F&T", "IB"], "trap_type"),
    ("Type", ["trap", "vent"], "device"),
    ("Kind", ["disc", "bucket"], "trap_type"),
    ("Application", ["Drip leg", "tracing"], "service"),
    ("Application", ["North coil 3", "Dryer 4"], "equipment"),
    ("Sound", ["31", "42"], "sound_db"),
    ("Noise", ["steady", "quiet"], "sound_pattern"),
    ("Heard", ["cycling", "cycling"], "sound_pattern"),
    ("Observation", ["steam", "water"], "observed"),
    ("Observation", ["by the door", "wet floor"], "note"),
    ("Inlet (°F)", ["200"], "inlet_temp_f"),
    ("Inlet psig", ["15"], "supply_psig"),
    ("Outlet °C", ["80"], "outlet_temp_f"),
    ("Outlet (bar)", ["0"], "return_psig"),
    ("bar g", ["1"], "supply_psig"),
    ("dB", ["40"], "sound_db"),
    ("Unit", ["UH-3", "Coil 4"], "equipment"),
    ("Apparatus", ["HX-1", "HX-2"], "equipment"),
    ("Apparatus", ["trap", "check valve"], "device"),
    ("Listening", ["quiet", "cycling"], "sound_pattern"),
    ("Area", ["Bar", "Kitchen"], "area"),
    ("Room", ["12", "14"], "area"),
]


@pytest.mark.parametrize(("header", "cells", "column"), BY_CELLS)
def test_a_header_of_two_meanings_goes_by_its_unit_or_its_cells(
    header: str, cells: list[str], column: str
) -> None:
    found, notes = understood(header, samples={header: cells})
    assert found[header][0] == column
    assert not notes


@pytest.mark.parametrize(
    ("header", "cells"),
    [("Inlet", ["200"]), ("Temp", ["200"]), ("Surface temp °F", ["200"]), ("°F", ["200"]),
     ("Sound", ["loud", "31", "shrill", "hm"]), ("Type", ["a", "b"]), ("Outlet", [])],
)
def test_where_neither_tells_a_person_is_asked(header: str, cells: list[str]) -> None:
    found, notes = understood(header, samples={header: cells})
    assert found[header][0] is None
    assert len(notes) == 1
    assert " may be " in notes[0]
    assert notes[0].endswith("say which column it is with a header map")


# Short words that mean a reading beside its unit, and nothing without one.
BESIDE_A_UNIT = [
    ("In °C", "inlet_temp_f", "°C"),
    ("Out (°F)", "outlet_temp_f", "°F"),
    ("In F", "inlet_temp_f", "°F"),
    ("°C in", "inlet_temp_f", "°C"),
    ("Before, °F", "inlet_temp_f", "°F"),
    ("After the trap °C", "outlet_temp_f", "°C"),
    ("Trap inlet (°F)", "inlet_temp_f", "°F"),
    ("Trap out °F", "outlet_temp_f", "°F"),
    ("Out psig", "return_psig", "psig"),
    ("Steam [bar g]", "supply_psig", "bar"),
    ("Steam psi", "supply_psig", "psig"),
    ("Condensate kPa", "return_psig", "kPa"),
    ("Room °F", "ambient_f", "°F"),
    ("dB trap", "sound_db", "dB"),
    ("dB(A) at trap", "sound_db", "dB"),
    ("Trap dBA", "sound_db", "dB"),
    ("Running h/a", "hours_per_year", "h"),
    ("dB pipe", "background_db", "dB"),
    ("dB on the bare pipe", "background_db", "dB"),
]


@pytest.mark.parametrize(("header", "column", "unit"), BESIDE_A_UNIT)
def test_a_short_word_means_a_reading_by_the_unit_beside_it(
    header: str, column: str, unit: str
) -> None:
    found, notes = understood(header)
    assert found[header] == (column, unit, "by name and unit")
    assert not notes


@pytest.mark.parametrize("under", ["°F", "psig"])
def test_a_short_word_goes_by_the_unit_under_it(under: str) -> None:
    column = {"°F": "inlet_temp_f", "psig": "supply_psig"}[under]
    assert understood("In", units={"In": under})[0]["In"][0] == column
    rooms = understood("Room", units={"Room": under})[0]["Room"][0]
    assert rooms == {"°F": "ambient_f", "psig": "area"}[under]


@pytest.mark.parametrize(
    "header", ["In", "Out", "Before", "Steam", "Steam in", "Trap in", "Air", "Running"]
)
def test_a_short_word_alone_means_nothing(header: str) -> None:
    assert understood(header)[0][header][0] is None


GIVES_WAY = [
    ("Steam psi", "Steam pressure", "supply_psig"),
    ("Steam psi", "Supply psi", "supply_psig"),
    ("Condensate psig", "Return (psig)", "return_psig"),
    ("Before °F", "Temp in", "inlet_temp_f"),
    ("dB pipe", "Background", "background_db"),
    ("Unit", "Heater", "equipment"),
    ("Heater no.", "Equipment", "equipment"),
    ("Floor", "Room", "area"),
    ("Regulator", "PRV", "station"),
    ("Date inspected", "Date", "read_at"),
    ("Device name", "Tag", "tag"),
    ("Regulated psi", "Supply psi", "supply_psig"),
    ("Pipe temp in", "Inlet temp", "inlet_temp_f"),
]


@pytest.mark.parametrize(("short", "fuller", "column"), GIVES_WAY)
def test_what_means_a_column_by_little_gives_way_to_every_other_header_of_it(
    short: str, fuller: str, column: str
) -> None:
    assert understood(short)[0][short][0] == column
    for headers in ((short, fuller), (fuller, short)):
        found, notes = understood(*headers)
        assert (found[fuller][0], found[short][0]) == (column, None)
        assert [note for note in notes if note.startswith(f"{short!r} also looks like {column}")]


@pytest.mark.parametrize("header", ["Line psi", "Station (psig)", "PRV psig", "Gauge (psig)",
                                    "System psi"])
def test_a_pressure_that_may_be_of_before_the_reducing_valve_is_not_taken(header: str) -> None:
    assert understood(header)[0][header][0] is None


DESCRIBED = [
    ("Equipment Description", "equipment"), ("Location Description", "area"),
    ("Date inspected", "read_at"), ("Survey date 2024", "read_at"), ("Tag ID Number", "tag"),
    ("PRV Station No", "station"), ("Heater name", "equipment"), ("Area code", "area"),
]  # fmt: skip


@pytest.mark.parametrize(
    "header", ["Baseline dB", "Ref dB", "Max dB", "Peak dB", "Service hours", "Hours in use"]
)
def test_an_earlier_level_a_limit_and_a_counter_are_no_reading_of_today(header: str) -> None:
    assert understood(header)[0][header][0] is None


@pytest.mark.parametrize(("header", "column"), DESCRIBED)
def test_words_that_only_describe_leave_a_name_what_it_is_and_are_said(
    header: str, column: str
) -> None:
    found, notes = understood(header)
    assert found[header][0] == column
    assert notes == [f"{header!r} was taken as {column}, by its first words"]


@pytest.mark.parametrize("header", [
    "Valve type", "Seen by technician", "Device condition", "Thermometer tag", "Pattern code",
    "Installed 2019", "Heater type", "Date installed", "Area technician", "Service technician",
    "Trap condition", "Trap tested", "Tag type", "Equipment condition", "Building condition",
    "Area checked", "Station type", "Location type", "Valve description", "Trap type code",
])  # fmt: skip
def test_what_is_written_after_a_known_word_makes_another_thing_of_it(header: str) -> None:
    assert understood(header, samples={header: ["Joe", "A1"]})[0][header][0] is None


@pytest.mark.parametrize(("header", "under", "column"), [
    ("Station (bar)", "", None), ("Room", "°F", "area"), ("Trap", "dB", "tag"),
])  # fmt: skip
def test_words_under_a_short_header_are_no_reading_whatever_its_unit(
    header: str, under: str, column: str | None
) -> None:
    cells = {header: ["North", "T-2"]}
    assert understood(header, samples=cells, units={header: under})[0][header][0] == column


NOTHING_READS = [
    ("Valve", ["ball", "gate"]), ("Installed", ["2015-06-01", "2016"]), ("Probe", ["Mk 2", "Mk 2"]),
    ("Discharge", ["To drain", "To return"]), ("Ultrasound", ["continuous", "cycling"]),
    ("Return", ["pumped", "gravity"]), ("Steam pressure", ["LP", "HP"]), ("Seat", ["worn", "good"]),
    ("Lift", ["Y", "N"]), ("Hours", ["24", "24"]), ("Hours", ["24/7", "24/7"]),
]  # fmt: skip


@pytest.mark.parametrize(("header", "cells"), NOTHING_READS)
def test_a_column_of_which_nothing_reads_so_is_asked_about_and_costs_no_row(
    header: str, cells: list[str]
) -> None:
    found, notes = understood(header, samples={header: cells})
    assert found[header][0] is None
    assert len(notes) == 1
    assert "but nothing under it reads so" in notes[0]


def test_one_cell_that_reads_so_or_one_alone_tells_nothing_against_it() -> None:
    for cells in (["gate", "shut"], ["gate"], ["n/a", "?"], []):
        assert understood("Valve", samples={"Valve": cells})[0]["Valve"][0] == "valve_position"
    hours = {"Hours": ["24", "8760"]}
    assert understood("Hours", samples=hours)[0]["Hours"][0] == "hours_per_year"
    kinds = {"Device type": ["F&T", "IB"]}
    assert understood("Device type", samples=kinds)[0]["Device type"][0] == "device"


def test_a_pressure_in_words_leaves_its_column_to_one_in_figures() -> None:
    samples = {"Steam pressure": ["LP", "HP"], "PSIG": ["5", "60"]}
    found, _ = understood("Steam pressure", "PSIG", samples=samples)
    assert (found["Steam pressure"][0], found["PSIG"][0]) == (None, "supply_psig")


def test_in_before_a_word_is_no_inch() -> None:
    assert understood("In lift")[0]["In lift"][0] is None


def test_a_name_is_of_a_device_or_of_its_kind_by_its_cells() -> None:
    kinds = {"Device name": ["Steam trap", "Air vent", "Steam trap"]}
    assert understood("Device name", "Tag", samples=kinds)[0]["Device name"][0] == "device"


@pytest.mark.parametrize("header", ["Trap loss", "Trap pressure drop", "Area foo", "Trap size"])
def test_a_known_word_does_not_carry_what_is_written_after_it(header: str) -> None:
    assert understood(header, samples={header: ["12", "14"]})[0][header][0] is None


@pytest.mark.parametrize(("header", "is_one"), [
    ("dB by the door", True), ("Coil leaving (°C)", True), ("Design psig", True),
    ("steam_f", False), ("Pipe size (in)", False), ("Serial", False), ("Inlet temp (°F)", False),
    ("saturation_f", False), ("°F", False), ("Grade B", False),
])  # fmt: skip
def test_a_header_that_is_not_understood_may_still_name_a_reading(
    header: str, is_one: bool
) -> None:
    assert seems_a_reading(header) is is_one


def test_two_backgrounds_and_no_level_are_told_as_what_they_cost(tmp_path: Path) -> None:
    def warned(*headers: str) -> list[str]:
        top = ",".join(("Tag", "In °F", *headers))
        read = read_text(tmp_path, f"{top}\nT-1,290{',40' * len(headers)}\n")
        return [note for note in read.notes if LEVELS_UNUSED in note]

    (note,) = warned("Bkgd dB", "dB on pipe")
    assert note.startswith("'dB on pipe' and 'Bkgd dB' both look like background_db")
    assert not warned("Bkgd dB", "dB on pipe", "Trap dB")
    assert not warned("Bkgd dB")
    assert not warned("dB on pipe")


@pytest.mark.parametrize("cells", [["psig", "°F"], ["F", "", "F"], ["psig", "lb/h", "n/a"]])
def test_a_column_of_units_is_no_equipment(cells: list[str]) -> None:
    assert understood("Unit", samples={"Unit": cells})[0]["Unit"][0] is None


def test_six_cells_in_ten_decide_and_missing_ones_do_not_count() -> None:
    def column(words: list[str]) -> str | None:
        return understood("Sound", samples={"Sound": words})[0]["Sound"][0]

    assert column(["quiet"] * 6 + ["loud"] * 4) == "sound_pattern"
    assert column(["quiet"] * 5 + ["loud"] * 5) is None
    assert column(["quiet"] * 6 + ["loud"] * 4 + ["n/a"] * 20) == "sound_pattern"


FULLER = {
    "tag": "Trap tag", "trap_type": "Trap type", "supply_psig": "Supply pressure",
    "return_psig": "Return pressure", "sound_db": "Sound level", "inlet_temp_f": "Inlet temp",
    "equipment": "Equipment served", "area": "Location", "read_at": "Survey date",
    "valve_position": "Valve position", "hours_per_year": "Operating hours",
}  # fmt: skip
WEAK = [
    ("dB", "sound_db"), ("Type", "trap_type"), ("No", "tag"), ("ID", "tag"), ("Item", "tag"),
    ("Item no", "tag"), ("Ref", "tag"), ("Reference", "tag"), ("Asset", "tag"), ("Unit no", "tag"),
    ("Pressure", "supply_psig"), ("Sound", "sound_db"), ("Noise", "sound_db"),
    ("Heater", "equipment"), ("Machine", "equipment"),
    ("Where", "area"), ("House", "area"),
    ("Room", "area"), ("Read", "read_at"), ("Time", "read_at"), ("Valve", "valve_position"),
    ("Supply", "supply_psig"), ("Return", "return_psig"), ("Hours", "hours_per_year"),
    ("psig", "supply_psig"),
]  # fmt: skip


@pytest.mark.parametrize(("weak", "column"), WEAK)
def test_a_loose_word_gives_way_to_a_full_header_wherever_it_stands(weak: str, column: str) -> None:
    samples = {"Type": ["IB", "F&T"], "Sound": ["31", "32"], "Noise": ["31", "32"]}
    full = FULLER[column]
    for headers in ((weak, full), (full, weak)):
        found, notes = understood(*headers, samples=samples)
        assert found[full][0] == column
        assert found[weak][0] is None
        assert len(notes) == 1
        assert notes[0].startswith(f"{weak!r} also looks like {column}, which {full!r} fills")
    # Alone it is taken all the same.
    assert understood(weak, samples=samples)[0][weak][0] == column


def test_every_loose_word_has_been_tried() -> None:
    tried = {weak.lower() for weak, _ in WEAK} | {"", "temp"}  # '' is a bare unit: psig above
    assert tried >= WEAK_PHRASES


def test_of_two_equal_headers_the_first_fills_the_column_and_a_unit_beats_none() -> None:
    found, _ = understood("Location", "Building")
    assert (found["Location"][0], found["Building"][0]) == ("area", None)
    found, _ = understood("Inlet temp", "Temp in °F")
    assert (found["Inlet temp"][0], found["Temp in °F"][0]) == (None, "inlet_temp_f")


def test_a_bare_downstream_follows_its_partner_and_only_where_that_is_taken() -> None:
    found, notes = understood("Upstream (°C)", "Downstream")
    assert found["Downstream"] == ("outlet_temp_f", "°C", "unit assumed")
    assert notes == ["'Downstream' was taken as outlet_temp_f, like its partner"]
    found, _ = understood("Upstream psig", "Downstream")
    assert found["Downstream"][0] is None
    found, _ = understood("Inlet temp", "Outlet temp", "Downstream")
    assert found["Downstream"][0] is None


@pytest.mark.parametrize(("header", "unit"), [
    ("Pressure; kPa", "kPa"), ("Supply pressure – bar g", "bar"), ("Supply: psia", "psia"),
    ("Steam pressure kg per cm2", None), ("Lift / m", "m"), ("Bore{mm}", "mm"),
])  # fmt: skip
def test_a_unit_stands_behind_any_mark(header: str, unit: str | None) -> None:
    found, _ = understood(header)
    assert (found[header][1] or None) == unit


def test_a_map_names_the_column_and_the_header_its_unit() -> None:
    def mapped(header: str, column: str, under: str = "") -> tuple[str | None, str, str]:
        found, _ = understood(header, header_map={header: column}, units={header: under})
        return found[header]

    assert mapped("Hot (°C)", "inlet_temp_f") == ("inlet_temp_f", "°C", "set by map")
    assert mapped("Hot", "inlet_temp_f", "°C") == ("inlet_temp_f", "°C", "set by map")
    assert mapped("Hot", "inlet_temp_f") == ("inlet_temp_f", "°F", "set by map")
    assert mapped("Hot (°F)", "inlet_temp_c") == ("inlet_temp_f", "°C", "set by map")
    assert mapped("Hot (bar)", "inlet_temp_f") == ("inlet_temp_f", "°F", "set by map")
    assert mapped("tag", "") == (None, "", "set by map")
    # A map wins over a header that bears the name itself.
    found, _ = understood("note", "Say", header_map={"Say": "note"})
    assert (found["note"][0], found["Say"][0]) == (None, "note")


def test_gauge_is_said_where_it_was_assumed_and_only_there() -> None:
    claims, _ = match_headers(["Supply (bar)", "Return (psig)", "Lift"], {})
    assert assumed_gauge_notes(claims) == [
        "'Supply (bar)' was taken as gauge pressure, not absolute"
    ]


@pytest.mark.parametrize("header", ["state", "rank", "saturation_f", "evidence", "confidence"])
def test_a_finding_of_an_earlier_round_is_no_reading(header: str) -> None:
    found, notes = understood(header)
    assert found[header] == (None, "", "kept as it is")
    assert not notes


def test_a_unit_under_a_header_must_be_one_that_its_column_can_have() -> None:
    found, notes = understood("Supply pressure", units={"Supply pressure": "°C"})
    assert found["Supply pressure"][0] is None
    assert notes == ["'Supply pressure' has the unit '°C', which it cannot be read in; kept as it "
                     "is: say which column it is with a header map"]
    # A column that has no unit is no less itself for one under it.
    found, notes = understood("Area", units={"Area": "ft"})
    assert (found["Area"][0], notes) == ("area", [])


def test_units_that_no_header_names_are_said_to_be_assumed(tmp_path):
    text = "Tag,Temp after,Seat,Steam (psig),dB\n" + "ST-1,200,0.25,60,31\n" * 2
    notes = read_text(tmp_path, text).notes
    [said] = [note for note in notes if note.startswith("no unit is given")]
    assert said == (
        "no unit is given, so it was assumed: 'Temp after' as °F, 'Seat' as in; where that is "
        "wrong, set it with a header map"
    )
    settled = read_text(
        tmp_path, text, header_map={"Temp after": "outlet_temp_c", "Seat": "orifice_mm"}
    )
    assert not [note for note in settled.notes if "assumed" in note]
