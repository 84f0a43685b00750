"""Headers as people write them: a closed table from phrase to column.

A header is brought to a phrase first: no case, no punctuation, usual short forms written
out (`phrase`). A phrase that may mean several columns lists them all; its unit or its cells
decide, and where they do not, the header is kept as it is and a person is asked.
"""

from __future__ import annotations

import re
import unicodedata

_SHORT_FORMS = {
    "temp": "temperature temp temps tmp temperatures t",
    "pressure": "pressure press pres prs. p",
    "no": "no num number nr nos numbers",
    "background": "background bkg bkgd bkgnd backgd bgd bg bgnd backgrnd",
    "hours": "hours hour hrs hr h",
    "year": "year yr y annum annual yearly",
    "ultrasound": "ultrasound ultrasonic us ultrasonics",
    "inlet": "inlet upstream ups",
    "outlet": "outlet downstream dns",
    "diameter": "diameter dia diam",
    "ambient": "ambient amb",
    "isolating": "isolating isolation iso isol",
    "id": "id ident",
    "note": "note notes comment comments remark remarks",
    "db": "db dbs decibels decibel",
    "position": "position pos",
    "station": "station stn sta",
}
_FULL_FORM = {word: full for full, words in _SHORT_FORMS.items() for word in words.split()}
_FILLERS = frozenset({"the", "reading", "measured", "per", "of", "a"})

_PHRASES: dict[tuple[str, ...], str] = {
    ("tag",): "tag, tag no, tag id, trap no, trap id, trap tag, id, no, asset no, asset id, asset, "
    "device no, device id, device tag, item no, item, ref, reference, unit no, trap ref, "
    "trap tag no, steam trap no, steam trap id, steam trap tag, asset tag, st no, st id",
    ("tag", "trap_type"): "trap",
    ("device",): "device, device type, kind device, device kind, what, what is it, what it is, "
    "component, component type, item type",
    ("trap_type", "device"): "type, kind",
    ("trap_type",): "trap type, type trap, trap kind, steam trap type, trap style, style trap",
    ("equipment",): "equipment, equipment served, serves, equipment no, equipment id, heater, "
    "unit heater, appliance, machine, served equipment, equip",
    ("area",): "area, location, building, zone, room, department, hall, glasshouse, house, bay, "
    "place, where, shed, block, wing",
    ("station",): "station, prv, prv station, pressure reducing station, reducing station, "
    "pressure station, supply station, fed from, fed by, steam from, reducing set",
    ("service",): "service, duty, trap service",
    ("service", "equipment"): "application",
    ("orifice_in",): "orifice, orifice size, orifice diameter, seat bore, bore, seat, "
    "seat diameter, seat size, orifice bore, trap orifice, bore size, bore diameter",
    ("supply_psig",): "supply pressure, steam pressure, line pressure, inlet pressure, pressure, "
    "pressure inlet, pressure in, supply, supply steam pressure, operating pressure, "
    "working pressure, p1, steam line pressure, pressure supply, pressure steam",
    ("return_psig",): "return pressure, back pressure, backpressure, condensate pressure, "
    "condensate return pressure, outlet pressure, pressure outlet, pressure out, return, "
    "return line pressure, p2, pressure return, pressure back",
    ("ambient_f",): "ambient, ambient temp, air temp, room temp, surroundings, temp ambient, "
    "temp air, surrounding temp",
    ("inlet_temp_f",): "inlet temp, temp inlet, temp in, temp before, t1, tin, "
    "inlet surface temp, temp in inlet, in temp, temp before trap, temp ahead, trap inlet temp, "
    "temp trap inlet, inlet pipe temp, inlet skin temp, surface temp in, surface temp inlet, "
    "u s temp",
    ("outlet_temp_f",): "outlet temp, temp outlet, temp out, temp after, t2, tout, "
    "outlet surface temp, out temp, temp after trap, trap outlet temp, temp trap outlet, "
    "outlet pipe temp, outlet skin temp, surface temp out, surface temp outlet, d s temp",
    ("inlet_temp_f", "supply_psig"): "inlet",
    ("outlet_temp_f", "return_psig"): "outlet",
    ("inlet_temp_f", "outlet_temp_f", "ambient_f"): "temp, surface temp",
    ("thermometer",): "thermometer, probe, temp probe, temp instrument, thermometer type, "
    "temp method, probe type, temp taken with, ir or contact, contact or ir, "
    "contact or infrared, infrared or contact, gun or contact, "
    "contact or gun",
    ("sound_db",): "db, ultrasound, ultrasound db, sound db, sound level, ultrasound level, "
    "noise level, noise db, db level, level db, trap db, ultrasound sound level, "
    "sound level db",
    ("sound_db", "sound_pattern"): "sound, noise, heard, listening",
    ("background_db",): "background, background db, background level, background noise, "
    "background sound, background ultrasound, background sound level, pipe db, ambient db, "
    "ambient noise, background sound db, ultrasound background, db background",
    ("sound_pattern",): "pattern, sound pattern, sound type, sound character, noise pattern, "
    "ultrasound pattern, what was heard",
    ("valve_position",): "valve, valve position, isolating valve, isolating valve position, "
    "isolator, stop valve, valve open closed, valve open, open closed, open or closed",
    ("observed",): "observed, discharge, seen, observed discharge, what came out, "
    "visual, visual discharge",
    ("observed", "note"): "observation, observations",
    ("present",): "present, fitted, installed, is it fitted, fitted y n, present y n, in place",
    ("lift_ft",): "lift, rise, condensate lift, lift height, return lift, lift to return, "
    "height lift",
    ("hours_per_year",): "hours year, hours, operating hours, run hours, hours under steam, "
    "steam hours, operating hours year, hours operation, year hours, run hours year, "
    "hours on, year operating hours, hours run, running hours, running hours year",
    ("read_at",): "read at, read on, date, date read, time, when, survey date, date time, "
    "timestamp, date survey, read date, surveyed on, date surveyed, read, test date, "
    "inspection date",
    ("note",): "note",
    # A header that is a unit and nothing else; the unit decides.
    ("supply_psig", "sound_db", "inlet_temp_f", "outlet_temp_f", "ambient_f"): "",
}

# Phrases that give way to all others for the same column.
_LAST_PHRASES: dict[tuple[str, ...], str] = {
    ("tag",): "tag name, trap name",
    ("device", "tag"): "device name",
    ("device", "equipment"): "apparatus",
    ("equipment",): "unit, unit name, heater no, unit heater no, on unit",
    ("area",): "floor, floor no, area served",
    ("station",): "reducing valve, pressure reducing valve, regulator, regulator station, "
    "reg station, prv no",
    ("service",): "service type, type service",
    ("supply_psig",): "reduced pressure, regulated pressure, prv outlet pressure, "
    "pressure after prv",
    ("inlet_temp_f",): "pipe temp in, pipe temp before, pipe temp inlet, line temp in, temp up, "
    "pipe temp before trap",
    ("outlet_temp_f",): "pipe temp out, pipe temp after, pipe temp outlet, line temp out, "
    "temp down, pipe temp after trap",
    ("lift_ft",): "vertical lift, vert lift, condensate rise, riser height, vertical rise",
    ("hours_per_year",): "op hours, op hours year",
}

# Words after the name of a text column that leave it what it is.
_DESCRIBING = frozenset({"description", "desc", "name", "id", "no", "code"})
_DESCRIBED = ("tag", "equipment", "area", "station")
_WHEN = re.compile(r"inspected|tested|checked|surveyed|(?:19|20)\d\d")

# Words too short to mean a column by themselves: with a unit beside or under them they do.
_PHRASES_BESIDE_A_UNIT: dict[tuple[str, ...], str] = {
    ("inlet_temp_f", "supply_psig"): "in, before, before trap, ahead, ahead trap, inlet trap, "
    "trap inlet, trap in",
    ("outlet_temp_f", "return_psig"): "out, after, after trap, outlet trap, trap outlet, "
    "trap out",
    ("supply_psig",): "steam, steam supply, steam in, prv outlet, after prv, reduced, "
    "regulated",
    ("return_psig",): "condensate, condensate return, return line, cond",
    ("ambient_f",): "room, air, surroundings, hall",
    ("hours_per_year",): "running, under steam, in use",
    ("sound_db",): "trap, on trap, at trap, device, on device, at device",
    ("background_db",): "pipe, on pipe, at pipe, bare pipe, on bare pipe, ambient",
}

WEAK_PHRASES = frozenset(
    {
        "",
        "db",
        "type",
        "no",
        "id",
        "item",
        "item no",
        "ref",
        "reference",
        "asset",
        "unit no",
        "pressure",
        "sound",
        "noise",
        "temp",
        "heater",
        "machine",
        "where",
        "house",
        "room",
        "read",
        "time",
        "valve",
        "supply",
        "return",
        "hours",
    }
)
"""Phrases that give way to a fuller one for the same column, wherever they stand."""


def phrase(header: str) -> str:
    """Return a header as the table keys it."""
    text = unicodedata.normalize("NFKC", header).replace("dB", "db").replace("#", " no ")
    text = re.sub(r"(?<=[a-z]{2})(?=[A-Z][a-z])", " ", text).casefold().replace("&", " and ")
    words = re.sub(r"[^\w]|_", " ", text).split()
    kept = [_FULL_FORM.get(word, word) for word in words if word not in _FILLERS]
    return " ".join(kept)


def _keyed(tables: dict[tuple[str, ...], str]) -> dict[str, tuple[str, ...]]:
    return {
        phrase(words.strip()): columns
        for columns, table in tables.items()
        for words in table.split(",")
    }


LAST_PHRASES = frozenset(_keyed(_LAST_PHRASES))
COLUMNS_BY_PHRASE = _keyed(_LAST_PHRASES) | _keyed(_PHRASES)

COLUMNS_BESIDE_A_UNIT = _keyed(_PHRASES_BESIDE_A_UNIT)
"""Columns of phrases that mean one by their unit alone: 'In °C', 'Steam psi', 'dB on pipe'."""


def column_by_first_words(name: str) -> str:
    """Return the text column that a phrase means without what only describes, at its end; or ''.

    Names of places and devices, and days on which they were read: what else is written after a
    name, 'Valve type' or 'Date installed', makes another thing of it.
    """
    words = name.split()
    while len(words) > 1 and (words[-1] in _DESCRIBING or _WHEN.fullmatch(words[-1])):
        last = words.pop()
        columns = COLUMNS_BY_PHRASE.get(" ".join(words), ())
        wanted = _DESCRIBED if last in _DESCRIBING else ("read_at",)
        if len(columns) == 1 and columns[0] in wanted:
            return columns[0]
    return ""
