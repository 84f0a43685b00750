"""The words and the figures of every report: one place for text, one place for number formats.

A name that is not listed here is shown as it stands with its underscores opened up, so that a
new state or flag is readable before it has words of its own.
"""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Callable

from survey.plant.wording import capital as capital
from survey.plant.wording import noun_for
from survey.reports import numerals

NOT_KNOWN = "not known"
LONGEST_NAME = 60
LONGEST_PATH = 500
LONGEST_SENTENCE = 600

CAUTION_POINTS = (
    "Steam burns, and so do hot condensate and hot metal; a pipe can be hot long after it is shut.",
    "Let stored pressure down before anything is opened. Two shut valves can trap pressure between "
    "them, and a cooling vessel can pull a vacuum.",
    "Let steam into a cold line slowly and with its drains open: condensate driven by steam (water "
    "hammer) breaks pipes and fittings.",
    "Local codes, the site's own lock-out procedure and the judgement of licensed people come "
    "before anything written here.",
)
CAUTIONS = " ".join(CAUTION_POINTS)

STATES = {
    "working": "working",
    "leaking": "leaking steam",
    "failed_open": "blown open",
    "failed_closed": "stuck shut",
    "backed_up": "water backed up",
    "cold": "cold, no steam reaches it",
    "isolated": "shut off by its valve",
    "passing_water": "passing water",
    "missing": "not fitted",
    "stuck": "stuck",
    "passing_back": "letting water back",
    "undecided": "undecided",
}
STATE_MEANINGS = {
    "working": "It does its job; nothing to do.",
    "leaking": "Live steam gets past it all the time, though it still works in part.",
    "failed_open": "It no longer closes, so live steam runs straight through.",
    "failed_closed": "It no longer opens, so water stays in the heater and the heat stays out.",
    "backed_up": "It cannot drain because of something after it, not because of the trap itself.",
    "cold": "No steam gets to it: something ahead of it is shut or air-bound.",
    "isolated": "Its valve is closed, so it cannot do its job.",
    "passing_water": "Water comes out where only air should.",
    "missing": "There should be one here, and there is none.",
    "stuck": "It no longer moves, so water cannot get out past it.",
    "passing_back": "It lets water run back towards the heater.",
    "undecided": "The readings do not settle it; one more reading would.",
}
GROUPS = {
    "out": "Steam going out",
    "held": "Water, air or heat held back",
    "undecided": "Undecided, one more reading needed",
    "working": "Working",
}
_GROUP_OF_STATE = {
    "working": "working",
    "leaking": "out",
    "failed_open": "out",
    "undecided": "undecided",
}
CAUSES = {
    "none": "nothing wrong",
    "trap": "the trap itself",
    "air_vent": "an air vent",
    "check_valve": "a check valve",
    "lift": "a lift too high for the pressure",
    "valved_off": "a closed valve",
    "unknown": "not known yet",
}
BEHIND_IT = CAUSES | {"vacuum_breaker": "a vacuum breaker"}
"""What is behind a device's state: causes of what traps do, and a breaker's own fault."""
DEVICES = {
    "trap": "steam trap",
    "air_vent": "air vent",
    "vacuum_breaker": "vacuum breaker",
    "check_valve": "check valve",
}
DEVICE_JOBS = {
    "trap": "lets water and air out and keeps steam in",
    "air_vent": "lets air out so that steam can get in",
    "vacuum_breaker": "lets air in when a heater shuts down, so that it can drain",
    "check_valve": "keeps water from running back",
}
TRAP_TYPES = {
    "float_thermostatic": "float and thermostatic",
    "inverted_bucket": "inverted bucket",
    "thermodynamic": "thermodynamic disc",
    "thermostatic": "thermostatic",
    "bimetallic": "bimetallic",
    "fixed_orifice": "fixed orifice",
}
SERVICES = {
    "unit_heater": "unit heater",
    "drip": "drip leg of a main",
    "process": "process",
    "tracing": "tracing",
}
FLAGS = {
    "gauge_doubtful": "the pressure gauge may be wrong",
    "thermometer_reads_low": "the thermometer reads low here",
    "superheat_or_gauge": "hotter than its pressure allows: superheat, or a wrong gauge",
    "no_background": "no background sound was taken to compare with",
    "pattern_contradicts_level": "what was heard and how loud it was do not agree",
}
_EVERY_LIST = (STATES, DEVICES, TRAP_TYPES, SERVICES, FLAGS, CAUSES)


def path_told(path: object) -> str:
    """Return the name of a file as it is said to who asked for it, on one line."""
    return tidy(path, LONGEST_PATH)


def tidy(value: object, longest: int = LONGEST_NAME) -> str:
    """Return one line of text that cannot disguise itself, cut to a length.

    Control, text-direction, zero-width, private-use and unpaired surrogate characters are
    dropped, white space becomes single spaces, and marks stacked on one letter stop at two.
    Missing values (None, NaN, NA) give an empty string.
    """
    if value is None or str(value) in ("nan", "<NA>", "NaT"):
        return ""
    text = str(value)[: 4 * longest + 40]
    if len(text) <= longest and text.isascii() and text.isprintable() and "  " not in text:
        return text.strip()  # nearly every cell, and ten times as fast
    kept: list[str] = []
    stacked = 0
    for mark in text:
        category = unicodedata.category(mark)
        stacked = stacked + 1 if category in ("Mn", "Me") else 0
        if category[0] == "Z" or mark in "\t\n\r\v\f":
            kept.append(" ")
        elif category[0] != "C" and stacked <= 2:
            kept.append(mark)
    line = " ".join("".join(kept).split())
    return line if len(line) <= longest else line[: longest - 1].rstrip() + "…"


def word(name: object) -> str:
    """Return the plain words for a state, device, trap type, service or flag.

    A cause has words of its own in `CAUSES`: it may bear the name of a device.
    """
    key = tidy(name)
    for words in _EVERY_LIST:
        if key in words:
            return words[key]
    return key.replace("_", " ")


def state_words(state: object, device: object = "trap") -> str:
    """Return a state in plain words, as it is said of this kind of device."""
    if device == "air_vent" and state == "failed_open":
        return "stuck open"
    if device == "vacuum_breaker" and state == "leaking":
        return "leaking"
    if device == "air_vent" and state == "isolated":
        return "shut off, air cannot leave"
    return STATES.get(str(state), word(state))


def group_of(state: object, device: object = "trap") -> str:
    """Return the key in `GROUPS` that a state belongs to."""
    if device == "vacuum_breaker" and state == "leaking":
        return "out"
    return _GROUP_OF_STATE.get(str(state), "held")


def counted(number: int, noun: str, plural: str = "") -> str:
    """Return a count with its noun, as the locale groups it: '1 device', '1,204 devices'."""
    return f"{numerals.grouped(number)} {noun_for(number, noun, plural)}"


def listed(items: list[str], last: str = "and") -> str:
    """Return items as a phrase: 'a', 'a and b', 'a, b and c'."""
    if len(items) < 2:
        return "".join(items)
    return f"{', '.join(items[:-1])} {last} {items[-1]}"


def figure(value: float, digits: int = 3) -> str:
    """Return a number to so many significant digits, thousands set off by commas."""
    if not math.isfinite(value):
        return NOT_KNOWN
    if value == 0:
        return "0"
    rounded = _significant(value, digits)
    places = digits - 1 - math.floor(math.log10(abs(rounded)))
    return numerals.grouped(rounded, max(0, places))


def whole(value: float) -> str:
    """Return a number to the unit, thousands set off by commas."""
    return numerals.grouped(value) if math.isfinite(value) else NOT_KNOWN


def plain(value: float) -> str:
    """Return a reading as it was typed, to four digits: '60', '2.5', '1,204'."""
    if not abs(value) < 1000:
        return whole(value)
    typed = f"{value:.4g}"
    if "e" in typed:  # under a ten-thousandth: no reading, but it may be typed
        return typed
    return numerals.grouped(float(typed), len(typed.partition(".")[2]))


def ranged(value: float, low: float, high: float, unit: str) -> str:
    """Return a figure with its unit and range: '197 lb/h (120 to 310)'."""
    return f"{figure(value)} {unit} {span(value, low, high)}".strip()


def money(value: float, currency: str, low: float = math.nan, high: float = math.nan) -> str:
    """Return money with its range where there is one: 'USD 12,400 (9,100 to 16,000)'."""
    known = math.isfinite(value)
    amount = priced(value, currency) if known else f"{tidy(currency, 12)} {NOT_KNOWN}"
    return f"{amount} {span(value, low, high, coins)}".strip()


def priced(value: float, currency: str) -> str:
    """Return a finite amount of money to three digits: 'USD 12,400', or as the locale does."""
    return numerals.priced(_coins(value), tidy(currency, 12))


def coins(value: float, digits: int = 3) -> str:
    """Return money to so many significant digits, and never less than one unit of it."""
    if not math.isfinite(value):
        return NOT_KNOWN
    return whole(_coins(value, digits))


def _coins(value: float, digits: int = 3) -> float:
    # Rounded once: from cents to a significant digit to the unit would be twice.
    return _significant(value, digits) if abs(value) >= 10**digits else value


def span(
    value: float, low: float, high: float, shown: Callable[[float, int], str] = figure
) -> str:
    """Return a figure's range in brackets, '' where it has none."""
    if not (math.isfinite(low) and math.isfinite(high)):
        return ""
    return "({} to {})".format(*ends(value, low, high, shown))


def ends(
    value: float, low: float, high: float, shown: Callable[[float, int], str] = figure
) -> tuple[str, str]:
    """Return the two ends of a figure's range in words, rounded as the range deserves."""
    # Two digits are all a range deserves, unless they would put the figure outside it.
    kept = (low <= value) == (_significant(low, 2) <= value)
    kept = kept and (value <= high) == (value <= _significant(high, 2))
    return shown(low, 2 if kept else 3), shown(high, 2 if kept else 3)


def percent(share: float) -> str:
    """Return a share of one as a percentage that never claims certainty it does not have."""
    if not math.isfinite(share):
        return NOT_KNOWN
    if 0 < share < 0.01:
        return "under 1 %"
    if 0.99 < share < 1:
        return "over 99 %"
    return f"{100 * share:.0f} %"


def sureness(confidence: float) -> str:
    """Return how sure a verdict is, in words with the figure."""
    if not math.isfinite(confidence):
        return ""
    degree = "likely"
    if confidence >= 0.75:
        degree = "very sure" if confidence >= 0.95 else "fairly sure"
    return f"{degree} ({percent(confidence)})"


def _significant(value: float, digits: int) -> float:
    return value if value == 0 else round(value, digits - 1 - math.floor(math.log10(abs(value))))
