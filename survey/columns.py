"""The nomenclature: every column of a round and of its findings, with unit and legal range.

This module is the one place where a column is declared. The reader checks cells against it,
the diagnosis and the reports take names, words and units from it, and the documentation is
held against it by a test.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

Kind = Literal["text", "number", "choice", "time"]
Role = Literal["name", "place", "fitting", "reading", "setting", "finding"]

NORMAL_90 = 1.2816
"""Standard deviations from the middle to the 90 % point: every range shown is 10 % to 90 %."""
ABSOLUTE_ZERO_F = -459.67
STANDARD_ATMOSPHERE_PSIA = 14.695949
FT_PER_M = 1 / 0.3048
# The lowest layer of the standard atmosphere: 288.15 K at sea level, 6.5 K less per km.
_LAPSE_PER_FT = 0.0065 / FT_PER_M / 288.15
_EARTH_RADIUS_FT = 6_356_766 * FT_PER_M
_BAROMETRIC_EXPONENT = 9.80665 * 0.0289644 / (8.31432 * 0.0065)


def standard_atmosphere_psia(altitude_ft: Any) -> Any:
    """Return the pressure of the air, psia, at a height over the sea as on a map, ft.

    A float or an array, -5,000 to 36,000 ft; outside that the answer means nothing.
    Source: US Standard Atmosphere 1976, eq. 18 and 33a, lowest layer (the same as ISO 2533).
    """
    geopotential_ft = altitude_ft * _EARTH_RADIUS_FT / (_EARTH_RADIUS_FT + altitude_ft)
    ratio = (1 - _LAPSE_PER_FT * geopotential_ft) ** _BAROMETRIC_EXPONENT
    return STANDARD_ATMOSPHERE_PSIA * ratio


@dataclass(frozen=True)
class Column:
    """One column.

    Parameters
    ----------
    name
        The column's name in files, its unit included.
    meaning
        What it holds, in words a technician reads.
    unit
        Unit as printed; empty for text and choices.
    kind
        How its cells are read: text, number, choice or time (ISO 8601).
    role
        What it is to the diagnosis. Only a ``reading`` makes a row worth judging.
    choices
        Legal words of a choice column, in a fixed order: codes rely on it.
    low, high
        Legal range of a number, both ends legal. A value outside is impossible, not unlikely.
    """

    name: str
    meaning: str
    unit: str = ""
    kind: Kind = "text"
    role: Role = "finding"
    choices: tuple[str, ...] = ()
    low: float | None = None
    high: float | None = None


DEVICES = ("trap", "air_vent", "vacuum_breaker", "check_valve")
TRAP_TYPES = (
    "float_thermostatic",
    "inverted_bucket",
    "thermodynamic",
    "thermostatic",
    "bimetallic",
    "fixed_orifice",
)
SERVICES = ("unit_heater", "drip", "process", "tracing")
THERMOMETERS = ("contact", "infrared")
PATTERNS = ("quiet", "intermittent", "continuous", "modulating")
VALVE_POSITIONS = ("open", "closed")
OBSERVATIONS = ("nothing", "air", "water", "steam")
PRESENCES = ("yes", "no")

TRAP_STATES = ("working", "leaking", "failed_open", "failed_closed", "backed_up", "cold")
VENT_STATES = ("working", "isolated", "failed_open", "passing_water", "missing")
BREAKER_STATES = ("working", "missing", "isolated", "leaking")
CHECK_STATES = ("working", "stuck", "passing_back")
UNDECIDED = "undecided"
STATES_BY_DEVICE: dict[str, tuple[str, ...]] = {
    "trap": TRAP_STATES,
    "air_vent": VENT_STATES,
    "vacuum_breaker": BREAKER_STATES,
    "check_valve": CHECK_STATES,
}
CAUSES = ("none", "trap", "air_vent", "check_valve", "lift", "valved_off", "unknown")

# 0.1 psi above a perfect vacuum at sea level; the reader tightens it with the site's altitude.
_LOWEST_PSIG = -STANDARD_ATMOSPHERE_PSIA
_HIGHEST_PSIG = 3000.0  # under the critical point of water, 3185 psig
_TEMPERATURE_HIGH_F = 1500.0  # past any steam line; a thermometer reads no such thing here

INPUT_COLUMNS: tuple[Column, ...] = (
    Column("tag", "the device's own number, unique within a round", role="name"),
    Column("device", "what it is", kind="choice", role="fitting", choices=DEVICES),
    Column("equipment", "what it serves; devices of one heater share it", role="place"),
    Column("area", "where it is", role="place"),
    Column("station", "which pressure reducing station feeds it", role="place"),
    Column("trap_type", "how the trap works", kind="choice", role="fitting", choices=TRAP_TYPES),
    Column("service", "what the trap drains", kind="choice", role="fitting", choices=SERVICES),
    Column("orifice_in", "seat bore", "in", "number", "fitting", low=1e-3, high=2.0),
    Column(
        "supply_psig",
        "gauge pressure ahead of the device",
        "psig",
        "number",
        "reading",
        low=_LOWEST_PSIG,
        high=_HIGHEST_PSIG,
    ),
    Column(
        "return_psig",
        "gauge pressure in the return after it",
        "psig",
        "number",
        "reading",
        low=_LOWEST_PSIG,
        high=_HIGHEST_PSIG,
    ),
    Column(
        "ambient_f",
        "temperature of the air round the device",
        "°F",
        "number",
        "setting",
        low=-100.0,
        high=250.0,
    ),
    Column(
        "inlet_temp_f",
        "surface temperature ahead of the device",
        "°F",
        "number",
        "reading",
        low=ABSOLUTE_ZERO_F,
        high=_TEMPERATURE_HIGH_F,
    ),
    Column(
        "outlet_temp_f",
        "surface temperature after the device",
        "°F",
        "number",
        "reading",
        low=ABSOLUTE_ZERO_F,
        high=_TEMPERATURE_HIGH_F,
    ),
    Column(
        "thermometer",
        "what the temperatures were read with",
        kind="choice",
        role="setting",
        choices=THERMOMETERS,
    ),
    Column(
        "sound_db",
        "ultrasonic level on the device, on the meter's own reference",
        "dB",
        "number",
        "reading",
        low=-200.0,
        high=200.0,
    ),
    Column(
        "background_db",
        "ultrasonic level on the bare pipe near it",
        "dB",
        "number",
        "setting",
        low=-200.0,
        high=200.0,
    ),
    Column(
        "sound_pattern",
        "what was heard over about a minute",
        kind="choice",
        role="reading",
        choices=PATTERNS,
    ),
    Column(
        "valve_position",
        "the isolating valve of the device",
        kind="choice",
        role="reading",
        choices=VALVE_POSITIONS,
    ),
    Column(
        "observed",
        "what came out when it was opened or watched",
        kind="choice",
        role="reading",
        choices=OBSERVATIONS,
    ),
    Column("present", "is it fitted at all", kind="choice", role="reading", choices=PRESENCES),
    Column(
        "lift_ft",
        "rise from the trap to the highest point of its return",
        "ft",
        "number",
        "fitting",
        low=-1000.0,
        high=1000.0,
    ),
    Column(
        "hours_per_year",
        "hours under steam",
        "h",
        "number",
        "setting",
        low=0.0,
        high=8784.0,
    ),
    Column("read_at", "when it was read", kind="time", role="setting"),
    Column("note", "free text", role="place"),
)

FINDING_COLUMNS: tuple[Column, ...] = (
    Column("state", "the verdict"),
    Column("confidence", "probability of the state", kind="number"),
    Column("p_working", "probability that the trap works", kind="number"),
    Column("p_leaking", "probability that the trap leaks live steam", kind="number"),
    Column("p_failed_open", "probability that the trap has blown open", kind="number"),
    Column("p_failed_closed", "probability that the trap no longer opens", kind="number"),
    Column("p_backed_up", "probability that condensate stands back", kind="number"),
    Column("p_cold", "probability that no steam reaches the trap", kind="number"),
    Column("cause", "what brought it about"),
    Column("steam_loss_lb_per_h", "expected live-steam loss", "lb/h", "number"),
    Column("steam_loss_low_lb_per_h", "live-steam loss, 10 % point", "lb/h", "number"),
    Column("steam_loss_high_lb_per_h", "live-steam loss, 90 % point", "lb/h", "number"),
    Column("annual_loss_klb", "steam lost in a year", "1000 lb", "number"),
    Column("annual_cost", "expected cost of the loss in a year", "currency", "number"),
    Column("annual_cost_low", "cost in a year, 10 % point", "currency", "number"),
    Column("annual_cost_high", "cost in a year, 90 % point", "currency", "number"),
    Column("annual_co2_t", "carbon dioxide of the loss in a year", "t", "number"),
    Column("rank", "1 costs most; blank where nothing is to be done", kind="number"),
    Column("action", "what to do"),
    Column("evidence", "why, with the numbers that decided it"),
    Column("saturation_f", "saturation temperature at the supply pressure", "°F", "number"),
    Column("return_saturation_f", "saturation temperature at the return", "°F", "number"),
    Column("subcooling_f", "saturation less the inlet's corrected temperature", "°F", "number"),
    Column("sound_over_background_db", "sound less its background", "dB", "number"),
    Column("flags", "semicolon-separated doubts about the readings"),
)

INPUT_BY_NAME: dict[str, Column] = {column.name: column for column in INPUT_COLUMNS}
INPUT_NAMES: tuple[str, ...] = tuple(INPUT_BY_NAME)
FINDING_NAMES: tuple[str, ...] = tuple(column.name for column in FINDING_COLUMNS)
READING_NAMES: tuple[str, ...] = tuple(c.name for c in INPUT_COLUMNS if c.role == "reading")
REJECT_NAMES: tuple[str, ...] = ("row", "column", "value", "reason")
