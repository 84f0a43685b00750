"""Words as people write them in cells: closed tables of the trade's plain speech."""

from __future__ import annotations

import re
import unicodedata

from survey.columns import INPUT_BY_NAME

NO_RESULT = "(formula without a result)"
"""Put where a workbook holds a formula and no result of it: some programs save none."""
NO_RESULT_REASON = (
    "a formula whose result was not saved: open the workbook in a spreadsheet program and save it"
)

_MISSING = (
    "-, --, ---, –, —, ―, ., .., ?, ??, ???, /, n/a, na, n.a., n/a., nr, n/r, n.r., nm, n/m, nan, "
    "-nan, null, none, nil, <na>, blank, unknown, unk, tbd, tbc, #n/a, not read, not taken, "
    "no reading, not measured, not available, not known, not recorded, no access"
)
MISSING_WORDS = frozenset({"", NO_RESULT, *_MISSING.split(", ")})
"""Cells that say there is no reading. Compared trimmed and without case."""

NO_LIFT = frozenset({"nil", "no lift", "level", "flat"})
"""Cells of a column of lifts that say there is none; 'none' may also say that none is known."""

SHEET_ERRORS = frozenset({"#ref!", "#div/0!", "#value!", "#name?", "#num!", "#null!", "#spill!"})
"""What a spreadsheet writes where a formula failed."""

NOTED_CHOICES = ("trap_type", "service")
"""Choices whose unknown words are only noted: makers have names without end for what a device is,
and a row can be judged without. An unknown word of the others may be evidence against its verdict,
and sets its row aside."""
SLIPS_TAKEN = (*NOTED_CHOICES, "thermometer", "sound_pattern", "observed")
"""Choices of which a word with one typing slip is taken for the known one, and noted.

Not of the others. `device` decides how all of the row is judged. `valve_position` and `present` say
that there is nothing to judge: a valve that was misread as open would send somebody to mend a
device that is only shut off.
"""
_SHORTEST_SLIP = 4

_CHOICES: dict[str, dict[str, str]] = {
    "device": {
        "trap": "trap, steam trap, traps, st",
        "air_vent": "air vent, vent, thermostatic air vent, airvent, steam air vent, vents, av, "
        "air vents, autovent, auto vent",
        "vacuum_breaker": "vacuum breaker, breaker, vac breaker, vacuum break, vb, vac brk, "
        "vacuum breakers, vac breakers",
        "check_valve": "check valve, check, cv, non return valve, nrv, nonreturn valve, "
        "chk valve, chk, ck valve, check valves, swing check, check vlv, chk vlv, non return",
    },
    "trap_type": {
        "float_thermostatic": "float thermostatic, float and thermostatic, f and t, ft, f t, "
        "float, ball float, float trap, f t trap, f and t trap",
        "inverted_bucket": "inverted bucket, bucket, ib, inv bucket, bucket trap, inverted, ibt",
        "thermodynamic": "thermodynamic, td, disc, disk, thermo dynamic, thermodynamic disc, "
        "disc trap, disk trap, thermodynamic disk",
        "thermostatic": "thermostatic, bellows, balanced pressure, bp, balanced pressure "
        "thermostatic, thermostatic bellows, capsule, thermostatic capsule, "
        "balanced pressure capsule, radiator trap, wafer",
        "bimetallic": "bimetallic, bimetal, bi metal, bi metallic, bm",
        "fixed_orifice": "fixed orifice, orifice, orifice trap, venturi, orifice plate",
    },
    "service": {
        "unit_heater": "unit heater, uh, heater, unit heaters",
        "drip": "drip, drip leg, main drip, line drip, drip trap, steam main, main drain",
        "process": "process, heat exchanger, hx, exchanger, coil, process heat, calorifier, "
        "sterilizer, steriliser, autoclave, kettle, jacketed kettle",
        "tracing": "tracing, tracer, trace, steam tracing, trace heating",
    },
    "thermometer": {
        "contact": "contact, contact probe, probe, surface probe, thermocouple, tc, touch",
        "infrared": "infrared, ir, ir gun, infrared gun, gun, non contact, laser gun, infra red",
    },
    "sound_pattern": {
        "quiet": "quiet, silent, none, nothing, no sound, silence",
        "intermittent": "intermittent, cycling, cycles, cyclic, on off, on and off, "
        "opens and closes, cycle, clicks, clicking, comes and goes, stop start, starts and stops",
        "continuous": "continuous, cont, constant, steady, non stop, without a pause, steady hiss, "
        "constant hiss, continuous hiss",
        "modulating": "modulating, mod, modulates, varying, rising and falling",
    },
    "valve_position": {
        "open": "open, opened, o, fully open, on, opn, open fully",
        "closed": "closed, shut, c, valved off, isolated, off, fully closed, shut off, close, "
        "clsd, cl, shut in",
    },
    "observed": {
        "nothing": "nothing, none, no discharge, dry, nil",
        "air": "air",
        "water": "water, condensate, hot water, cold water",
        "steam": "steam, live steam, steam blowing, blowing steam",
    },
    "present": {
        "yes": "yes, y, true, 1, x, ok, present, fitted, t, ✓, ✔",
        "no": "no, n, false, 0, none, missing, absent, not fitted, f",
    },
}


def plain(word: str) -> str:
    """Return a word as the tables key it: no case, '&' as 'and', punctuation as space."""
    word = unicodedata.normalize("NFKC", word).casefold().replace("&", " and ")
    bare = " ".join(re.sub(r"[^\w✓✔]|_", " ", word).split())
    return bare or word.strip()


CHOICE_WORDS: dict[str, dict[str, str]] = {
    column: {
        plain(word): choice
        for choice, words in table.items()
        for word in (choice, *words.split(","))
    }
    for column, table in _CHOICES.items()
}


def slip_of(text: str, column: str) -> str | None:
    """Return the known word that a cell is one typing slip away from, if it can be no other.

    A slip is one letter wrong, missing, too many, or two swapped. Short words are too near to
    one another; and a word that any column knows is no slip: it stands in the wrong column.
    """
    typed = plain(text)
    if column not in SLIPS_TAKEN or any(typed in known for known in CHOICE_WORDS.values()):
        return None
    if typed.startswith("not "):  # no slip of 'hot', though it looks like one
        return None
    if len(typed) < _SHORTEST_SLIP or any(map(str.isdecimal, typed)):
        return None
    from rapidfuzz.distance import OSA

    near = [
        word for word in CHOICE_WORDS[column]
        if len(word) > _SHORTEST_SLIP and abs(len(word) - len(typed)) <= 1
        and OSA.distance(typed, word, score_cutoff=1) == 1
    ]  # fmt: skip
    meant = {CHOICE_WORDS[column][word] for word in near}
    if len(meant) != 1:
        return None
    own = plain(meant.pop())
    return own if own in near else min(near)


def is_missing(text: str) -> bool:
    """Say whether a cell's text stands for no reading."""
    return text.strip().casefold() in MISSING_WORDS


def read_choice(text: str, column: str) -> tuple[str | None, str]:
    """Return the choice a cell stands for, or None, and the reason if its word is unknown."""
    found = CHOICE_WORDS[column].get(plain(text))
    if text == NO_RESULT:
        return None, "" if column in NOTED_CHOICES else NO_RESULT_REASON
    if found is not None or is_missing(text):
        return found, ""
    *most, last = INPUT_BY_NAME[column].choices
    return None, f"expected {', '.join(most)} or {last}"
