"""Part of the round as someone might keep it in a spreadsheet, with most things that go wrong."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Any

import pandas as pd
import xlsxwriter

AREAS = ("Glasshouse B", "Packing hall 1")
TITLES = (
    "Nursery, steam trap round of November",
    "Read by hand; contact thermometer. Typed up in the evening, so please check.",
    "",
)
# Header as typed, what the units row says under it, the column it holds, how it is converted.
FIELDS = (
    ("Tag No.", "", "tag", str),
    ("Device", "", "device", None),
    ("Equipment", "", "equipment", None),
    ("Area", "", "area", None),
    ("Station", "", "station", None),
    ("Trap type", "", "trap_type", None),
    ("Orifice", "mm", "orifice_in", lambda inches: round(inches * 25.4, 2)),
    ("Steam pressure [bar g]", "bar g", "supply_psig", lambda psi: round(psi / 14.5038, 2)),
    ("Return pressure", "bar g", "return_psig", lambda psi: round(psi / 14.5038, 2)),
    ("Ambient (°C)", "°C", "ambient_f", lambda f: round((f - 32) / 1.8)),
    ("Inlet Temp (°C)", "°C", "inlet_temp_f", lambda f: round((f - 32) / 1.8, 1)),
    ("Outlet Temp (°C)", "°C", "outlet_temp_f", lambda f: round((f - 32) / 1.8, 1)),
    ("dB", "dB", "sound_db", float),
    ("Background dB", "dB", "background_db", float),
    ("Sound pattern", "", "sound_pattern", None),
    ("Valve position", "", "valve_position", None),
    ("Observed", "", "observed", None),
    ("Present", "", "present", None),
    ("Lift (m)", "m", "lift_ft", lambda feet: round(feet * 0.3048, 1)),
    ("Fitter's job", "", "", None),
)
HEADERS = [header for header, *_ in FIELDS]
_TYPED = {
    "trap": "Steam trap", "air_vent": "Air vent", "vacuum_breaker": "Vac breaker",
    "check_valve": "NRV", "float_thermostatic": "F&T", "inverted_bucket": "Bucket",
    "thermodynamic": "Disc", "closed": "Shut", "quiet": "Silent", "intermittent": "On / off",
}
"""Words as this person types them; the rest as in the round."""
_REPEAT_EVERY = 30
_CREATED = datetime(2025, 11, 5, 18, 30)  # fixed: the file is the same each time it is made
NOTES = (
    "Notes of the day",
    "Packing hall 1 was cooler than usual: doors open.",
    "=this line starts like a formula and is not one",
    "Ask about the vents in Glasshouse B.",
)


def write(table: pd.DataFrame, path: Path) -> None:
    """Write the untidy workbook."""
    part = table[table["area"].isin(AREAS)]
    lines = [[title] for title in TITLES]
    lines += [HEADERS, [unit for _, unit, *_ in FIELDS]]
    lines += _body(part)
    options = {"strings_to_formulas": False, "strings_to_numbers": False}
    with xlsxwriter.Workbook(path, options) as book:
        book.set_properties({"created": _CREATED})
        _fill(book.add_worksheet("Round"), lines)
        _fill(book.add_worksheet("Notes"), [[note] for note in NOTES])


def _body(part: pd.DataFrame) -> list[list[Any]]:
    rows = [_row(record, place) for place, record in enumerate(part.to_dict("records"))]
    _spoil(rows)
    lines: list[list[Any]] = []
    area = ""
    for place, row in enumerate(rows):
        if place and place % _REPEAT_EVERY == 0:
            lines += [[], HEADERS]
        # Merged cells come out as one filled cell and blanks under it.
        where = HEADERS.index("Area")
        row[where], area = ("" if row[where] == area else row[where]), row[where] or area
        lines.append(row)
    total = ["Total", *[""] * (len(FIELDS) - 2), f"{len(rows)} jobs"]
    return [*lines, [], total]


def _row(record: dict[str, Any], place: int) -> list[Any]:
    cells: list[Any] = []
    for _, _, column, convert in FIELDS:
        value = record.get(column)
        if column == "":
            cells.append(f"J{1000 + place}")
        elif value is None or value != value:
            cells.append("")
        elif convert is None:
            cells.append(_TYPED.get(str(value), str(value)))
        else:
            cells.append(convert(value))
    return cells


def _spoil(rows: list[list[Any]]) -> None:
    """Plant what people type: units in cells, decimal commas, dashes, and what cannot be."""
    place = {header: position for position, header in enumerate(HEADERS)}
    inlet, outlet = place["Inlet Temp (°C)"], place["Outlet Temp (°C)"]
    supply, bore = place["Steam pressure [bar g]"], place["Orifice"]
    rows[0][inlet] = f"{rows[0][inlet]} °C"
    rows[4][inlet] = str(rows[4][inlet]).replace(".", ",")
    rows[4][supply] = f"{str(rows[4][supply]).replace('.', ',')} bar"
    rows[5][outlet] = "-"
    rows[6][outlet] = "n/a"
    rows[8][inlet] = "  " + str(rows[8][inlet]) + " "
    rows[12][inlet] = -300.0          # below absolute zero
    rows[16][bore] = 80.0             # a bore of over three inches
    rows[20][supply] = -5.0           # less than no pressure at all
    rows[24][inlet] = "hot"           # a word where a number belongs
    rows[28][place["Valve position"]] = "OPEN "
    rows[36][place["Valve position"]] = "half"  # neither open nor closed
    rows[32][place["Tag No."]] = ""   # no tag
    rows[41] = list(rows[40])         # the same line typed twice
    rows[44][outlet] = f"{rows[44][outlet]:.1f}°C"


def _fill(sheet: Any, lines: list[list[Any]]) -> None:
    for line, cells in enumerate(lines):
        for position, value in enumerate(cells):
            if value != "":
                sheet.write(line, position, value)
    sheet.set_column(0, len(FIELDS), 14)
