"""The words of a route sheet, on paper and on the phone."""

from __future__ import annotations

from survey.reports import manner, measures, numerals
from survey.reports.words import DEVICES, SERVICES, TRAP_TYPES, percent, state_words, tidy
from survey.rounds.route import Stop

FIELD_WORDS = {
    "inlet_temp_f": "Temperature ahead of it",
    "outlet_temp_f": "Temperature after it",
    "sound_db": "Sound on the device",
    "background_db": "Background, on the bare pipe near it",
    "sound_pattern": "What was heard over a minute",
    "valve_position": "Its isolating valve",
    "observed": "What came out when watched",
    "present": "Is it fitted at all",
    "supply_psig": "Gauge ahead of it",
    "return_psig": "Gauge in the return after it",
    "ambient_f": "Air round it",
}
"""What is asked for at a device, in the words of whoever reads it."""
SHORT_WORDS = {
    "inlet_temp_f": "ahead", "outlet_temp_f": "after", "sound_db": "sound",
    "background_db": "background", "sound_pattern": "heard", "valve_position": "valve",
    "observed": "came out", "present": "fitted", "supply_psig": "gauge ahead",
    "return_psig": "gauge after", "ambient_f": "air",
}  # fmt: skip
CHOICE_WORDS = {"present": {"yes": "yes", "no": "no, missing"}}
NEVER_READ = "not read before"
FILE_UNITS = (
    "Readings on this page are in °F and psig, the units of the CSV file that it gives back, "
    "whatever units the other papers are in."
)
SHEET_UNITS = (
    "The CSV of a route has its columns in °F and psig: who types these figures into one names "
    "°C and bar in its heads."
)


def reason_words(stop: Stop) -> str:
    """Return why a device is on the route, in one phrase; '' where it is only its turn."""
    state = state_words(stop.state, stop.device) if stop.state else ""
    if stop.reason == "mend":
        return f"last time {state}: see whether it was mended"
    if stop.reason == "settle":
        return "undecided last time: read all you can" if state else NEVER_READ
    if stop.reason == "unread":
        return "not read last time"
    if stop.reason == "odds":
        return f"likelier to fail than most by then ({percent(stop.chance)})"
    return ""


def what_words(stop: Stop) -> str:
    """Return what a device is: 'steam trap, float and thermostatic, unit heater'."""
    kind = str(stop.fittings.get("trap_type", ""))
    service = str(stop.fittings.get("service", ""))
    parts = [DEVICES.get(stop.device, stop.device), TRAP_TYPES.get(kind, kind),
             SERVICES.get(service, service)]  # fmt: skip
    return ", ".join(tidy(part) for part in parts if part)


def sheet_value_words(column: str, value: object) -> str:
    """Return a reading as a paper shows it: a number in the manner of now, a choice in words."""
    if not isinstance(value, float) or (manner.current().plain and not measures.in_si()):
        return value_words(column, value)
    shown = float(measures.value(column, value))
    measure = measures.MEASURES.get(column)
    if measure is not None and measures.in_si():
        shown = round(shown, measure.decimals)
    return numerals.grouped(shown, len(f"{shown:.6g}".partition(".")[2]))


def value_words(column: str, value: object) -> str:
    """Return a reading as the file has it: a number as it was typed, a choice in plain words."""
    if isinstance(value, float):
        return f"{value:.6g}"
    return CHOICE_WORDS.get(column, {}).get(str(value), tidy(value, 80).replace("_", " "))


def verdict_words(stop: Stop) -> str:
    """Return the last verdict with how sure it was; '' where there is none."""
    if not stop.state:
        return ""
    sure = percent(stop.confidence)
    return f"{state_words(stop.state, stop.device)} ({sure} sure)"
