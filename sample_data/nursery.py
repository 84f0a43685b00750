"""An invented plant nursery: its devices, the faults planted in it, and what a round reads.

Readings follow `survey.physics` where there is physics to follow (saturation, the flow through
a bore, levels adding in power); what a fault looks like beyond that is common practice, no
source, and made up for this demonstration.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from random import Random

from survey.physics.orifice import steam_flow_lb_per_h
from survey.physics.saturation import saturation_f
from survey.physics.sound import add_two_levels_db
from survey.physics.units import absolute_psia

ALTITUDE_FT = 600
PRESSURES_PSIG = {"North": (60.0, 3.0), "South": (15.0, 1.0)}
THERMOMETER_READS = {"contact": 0.965, "infrared": 0.88}
"""Share of the way from the air to the true temperature that the thermometer shows."""

# Areas: station, unit heaters in it, air °F, usual ultrasonic background dB.
AREAS = {
    "Propagation house": ("South", 10, 74, 27),
    "Glasshouse A": ("South", 12, 66, 26),
    "Glasshouse B": ("South", 12, 66, 26),
    "Glasshouse C": ("South", 8, 64, 27),
    "Packing hall 1": ("North", 6, 60, 33),
    "Packing hall 2": ("North", 4, 58, 34),
    "Laundry": ("North", 4, 84, 38),
}
# Other traps: what they drain, service, area, station, how many, trap types taken in turn.
OTHER_TRAPS = (
    ("North main drip", "drip", "Boiler house", "North", 20, ("thermodynamic", "inverted_bucket")),
    ("South main drip", "drip", "Glasshouse A", "South", 14, ("inverted_bucket", "thermodynamic")),
    ("South far drip", "drip", "Glasshouse C", "South", 8, ("inverted_bucket", "fixed_orifice")),
    ("Ironer", "process", "Laundry", "North", 16, ("float_thermostatic", "inverted_bucket")),
    ("Drier", "process", "Laundry", "North", 10, ("float_thermostatic", "thermostatic")),
    ("Soil steamer", "process", "Propagation house", "South", 8, ("thermostatic",)),
    ("Frost line", "tracing", "Packing hall 2", "North", 18, ("bimetallic", "thermodynamic")),
)
BORES_IN = {
    "float_thermostatic": {"North": 0.166, "South": 0.25},
    "inverted_bucket": {"North": 0.125, "South": 0.1875},
    "thermodynamic": {"North": 0.125, "South": 0.1875},
    "thermostatic": {"North": 0.1875, "South": 0.25},
    "bimetallic": {"North": 0.125, "South": 0.1875},
    "fixed_orifice": {"North": 0.0625, "South": 0.078125},
}
SUBCOOLING_F = {
    "float_thermostatic": 3.0, "inverted_bucket": 4.0, "thermodynamic": 6.0,
    "thermostatic": 15.0, "bimetallic": 30.0, "fixed_orifice": 5.0,
}
STEADY_TYPES = ("float_thermostatic", "fixed_orifice")

# The planted faults: tag -> (state, cause). Everything else works.
FAULTS: dict[str, tuple[str, str]] = {
    "T-004": ("failed_open", "trap"), "T-017": ("failed_open", "trap"),
    "T-045": ("failed_open", "trap"), "T-103": ("failed_open", "trap"),
    "T-112": ("failed_open", "trap"), "T-121": ("failed_open", "trap"),
    "T-146": ("failed_open", "trap"), "T-160": ("failed_open", "trap"),
    "T-011": ("leaking", "trap"), "T-022": ("leaking", "trap"), "T-039": ("leaking", "trap"),
    "T-049": ("leaking", "trap"), "T-107": ("leaking", "trap"), "T-118": ("leaking", "trap"),
    "T-126": ("leaking", "trap"), "T-150": ("leaking", "trap"), "T-156": ("leaking", "trap"),
    "T-007": ("failed_closed", "trap"), "T-052": ("failed_closed", "trap"),
    "T-115": ("failed_closed", "trap"), "T-153": ("failed_closed", "trap"),
    "T-178": ("failed_closed", "trap"),
    "T-014": ("backed_up", "check_valve"), "T-026": ("backed_up", "check_valve"),
    "T-033": ("backed_up", "check_valve"), "T-047": ("backed_up", "check_valve"),
    "T-019": ("backed_up", "lift"), "T-029": ("backed_up", "lift"), "T-036": ("backed_up", "lift"),
    "T-002": ("cold", "air_vent"), "T-009": ("cold", "air_vent"), "T-024": ("cold", "air_vent"),
    "T-031": ("cold", "air_vent"), "T-043": ("cold", "air_vent"),
    "T-012": ("cold", "valved_off"), "T-040": ("cold", "valved_off"),
    "T-130": ("cold", "valved_off"), "T-190": ("cold", "valved_off"),
    "V-002": ("isolated", "valved_off"), "V-009": ("isolated", "valved_off"),
    "V-024": ("isolated", "valved_off"), "V-031": ("isolated", "valved_off"),
    "V-043": ("isolated", "valved_off"), "V-016": ("isolated", "valved_off"),
    "V-021": ("failed_open", "air_vent"), "V-050": ("failed_open", "air_vent"),
    "V-035": ("passing_water", "air_vent"), "V-038": ("missing", "air_vent"),
    "B-006": ("missing", "unknown"), "B-020": ("missing", "unknown"),
    "B-042": ("missing", "unknown"), "B-028": ("isolated", "valved_off"),
    "B-010": ("leaking", "unknown"), "B-048": ("leaking", "unknown"),
    "C-014": ("stuck", "check_valve"), "C-026": ("stuck", "check_valve"),
    "C-033": ("stuck", "check_valve"), "C-047": ("stuck", "check_valve"),
    "C-005": ("passing_back", "check_valve"), "C-037": ("passing_back", "check_valve"),
}
WORKING = ("working", "none")

# Not mended before the second round: parts on order, and a lift that needs pipework.
NOT_MENDED = ("T-019", "T-029", "T-036", "T-118", "T-153", "B-042", "V-035")
NEWLY_FAILED = {"T-134": ("failed_open", "trap")}

LIFTS_FT = {"T-019": 46.0, "T-029": 44.0, "T-036": 48.0}
"""Rises that 15 psig cannot make; other lifts are low."""


@dataclass(frozen=True)
class Device:
    """One device of the nursery. ``number`` is that of the heater or trap it belongs to."""

    tag: str
    device: str
    equipment: str
    area: str
    station: str
    trap_type: str = ""
    service: str = ""
    lift_ft: float | None = None


def plant() -> list[Device]:
    """Return every device, in the order in which one walks past it."""
    devices: list[Device] = []
    number = 0
    for area, (station, heaters, _, _) in AREAS.items():
        for _ in range(heaters):
            number += 1
            devices += _heater(number, area, station)
    number = 100
    for equipment, service, area, station, count, types in OTHER_TRAPS:
        for place in range(count):
            number += 1
            devices.append(Device(
                f"T-{number:03d}", "trap", f"{equipment} {place + 1}", area, station,
                types[place % len(types)], service, 4.0 if service == "drip" else None,
            ))
    return devices


def _heater(number: int, area: str, station: str) -> list[Device]:
    equipment = f"UH-{number:03d}"
    kind = "inverted_bucket" if number % 5 == 0 else "float_thermostatic"
    trap = Device(f"T-{number:03d}", "trap", equipment, area, station, kind, "unit_heater")
    return [
        replace(trap, lift_ft=LIFTS_FT.get(trap.tag, 6.0 + number % 4)),
        Device(f"V-{number:03d}", "air_vent", equipment, area, station),
        Device(f"B-{number:03d}", "vacuum_breaker", equipment, area, station),
        Device(f"C-{number:03d}", "check_valve", equipment, area, station),
    ]


def truth(*, repaired: bool) -> dict[str, tuple[str, str]]:
    """Return what is really the matter with each tag, before or after the repair."""
    faults = FAULTS
    if repaired:
        faults = {tag: FAULTS[tag] for tag in NOT_MENDED} | NEWLY_FAILED
    return {device.tag: faults.get(device.tag, WORKING) for device in plant()}


# What is seen of each state: inlet and outlet as shares of the way to saturation (a second
# number in a pair is the outlet's own; None stands for the return's saturation), the level of
# its own sound in dB, and what is heard over about a minute.
_TRAP_SHOWS: dict[str, tuple[float, float | None, float | None, tuple[str, ...]]] = {
    "working": (1.0, None, 36.0, ()),
    "leaking": (1.0, None, None, ("continuous", "continuous", "modulating")),
    "failed_open": (1.0, None, None, ("continuous",)),
    "failed_closed": (0.48, 0.20, 12.0, ("quiet",)),
    "backed_up": (0.64, 0.42, 14.0, ("quiet", "quiet", "intermittent")),
    "cold": (0.14, 0.09, 10.0, ("quiet",)),
}
_AIR_BOUND_INLET, _AIR_BOUND_OUTLET = 0.33, 0.22
_OTHERS_SHOW: dict[tuple[str, str], tuple[float, float, float, str, str]] = {
    ("air_vent", "working"): (0.93, 0.40, 18.0, "air", "quiet"),
    ("air_vent", "isolated"): (0.36, 0.10, 10.0, "", "quiet"),
    ("air_vent", "failed_open"): (0.99, 0.88, 46.0, "steam", "continuous"),
    ("air_vent", "passing_water"): (0.74, 0.62, 28.0, "water", "intermittent"),
    ("vacuum_breaker", "working"): (0.82, 0.16, 10.0, "nothing", "quiet"),
    ("vacuum_breaker", "isolated"): (0.50, 0.10, 10.0, "", "quiet"),
    ("vacuum_breaker", "leaking"): (0.97, 0.80, 41.0, "steam", "continuous"),
    ("check_valve", "working"): (0.62, 0.58, 22.0, "", "intermittent"),
    ("check_valve", "stuck"): (0.46, 0.14, 10.0, "nothing", "quiet"),
    ("check_valve", "passing_back"): (0.66, 0.65, 34.0, "water", "continuous"),
}
_CLOSED_STATES = (("cold", "valved_off"), ("isolated", "valved_off"))
_OBSERVED_TRAP = {"working": "water", "leaking": "steam", "failed_open": "steam",
                  "failed_closed": "nothing", "backed_up": "water", "cold": "nothing"}


def read(device: Device, state: str, cause: str, dice: Random) -> dict[str, object]:
    """Return what a technician writes down at one device, in the columns of a round."""
    _, _, air_f, usual_db = AREAS.get(device.area, ("", 0, 78, 36))
    row: dict[str, object] = {
        "tag": device.tag, "device": device.device, "equipment": device.equipment,
        "area": device.area, "station": device.station,
        "trap_type": device.trap_type, "service": device.service,
        "present": "no" if state == "missing" else "yes", "lift_ft": device.lift_ft,
    }
    if state == "missing":
        return row | {"note": "none fitted"}
    thermometer = "infrared" if device.area == "Glasshouse C" else "contact"
    ambient_f = round(air_f + dice.gauss(0, 2))
    background_db = round(usual_db + dice.gauss(0, 1.8), 1)
    row |= {"ambient_f": ambient_f, "thermometer": thermometer, "background_db": background_db,
            "valve_position": "closed" if (state, cause) in _CLOSED_STATES else "open"}
    shows = _trap_shows if device.device == "trap" else _other_shows
    inlet_f, outlet_f, source_db, told = shows(device, state, cause, ambient_f, dice)
    sound_db = float(add_two_levels_db(level_db=source_db, other_db=background_db))
    share = THERMOMETER_READS[thermometer]
    row |= told | {
        "inlet_temp_f": _shown(inlet_f, ambient_f, share, dice),
        "outlet_temp_f": _shown(outlet_f, ambient_f, share, dice),
        "sound_db": round(sound_db + dice.gauss(0, 1.0), 1),
    }
    return _with_gaps(row, dice)


def _trap_shows(
    device: Device, state: str, cause: str, ambient_f: float, dice: Random
) -> tuple[float, float, float, dict[str, object]]:
    supply_psig, return_psig = PRESSURES_PSIG[device.station]
    supply_psia = float(absolute_psia(gauge_psig=supply_psig, altitude_ft=ALTITUDE_FT))
    return_psia = float(absolute_psia(gauge_psig=return_psig, altitude_ft=ALTITUDE_FT))
    hot_f = float(saturation_f(pressure_psia=supply_psia))
    back_f = float(saturation_f(pressure_psia=return_psia))
    inlet, outlet, source_db, heard = _TRAP_SHOWS[state]
    if cause == "air_vent":
        inlet, outlet = _AIR_BOUND_INLET, _AIR_BOUND_OUTLET
    bore_in = BORES_IN[device.trap_type][device.station]
    told: dict[str, object] = {
        "orifice_in": bore_in, "supply_psig": round(supply_psig + dice.gauss(0, 0.6), 1),
        "return_psig": round(max(0.0, return_psig + dice.gauss(0, 0.3)), 1),
    }
    if outlet is None:
        # Live steam keeps the outlet hotter than the return's own saturation.
        past = {"working": 0.02, "leaking": 0.14, "failed_open": 0.4}[state]
        subcooling_f = SUBCOOLING_F[device.trap_type] if state == "working" else 2.0
        inlet_f = hot_f - subcooling_f
        outlet_f = min(inlet_f, back_f - (10.0 if state == "working" else 1.0)
                       + past * (hot_f - back_f))
    else:
        inlet_f = ambient_f + (inlet + dice.gauss(0, 0.06)) * (hot_f - ambient_f)
        outlet_f = ambient_f + (outlet + dice.gauss(0, 0.05)) * (hot_f - ambient_f)
    if source_db is None:
        opening = 0.12 + 0.1 * dice.random() if state == "leaking" else 0.7 + 0.25 * dice.random()
        flow_lb_per_h = opening * float(steam_flow_lb_per_h(
            bore_in=bore_in, upstream_psia=supply_psia, downstream_psia=return_psia,
            discharge_coefficient=0.65,
        ))
        source_db = 38.0 + 10.0 * math.log10(flow_lb_per_h)
    told["sound_pattern"] = _pattern(device.trap_type, heard, dice)
    if dice.random() < 0.2:
        told["observed"] = _OBSERVED_TRAP[state]
    return inlet_f, outlet_f, source_db + dice.gauss(0, 2.0), told


def _pattern(trap_type: str, heard: tuple[str, ...], dice: Random) -> str:
    if heard:
        return dice.choice(heard)
    if trap_type in STEADY_TYPES:
        return dice.choice(("modulating", "modulating", "continuous", "quiet"))
    return dice.choice(("intermittent",) * 6 + ("quiet",))


def _other_shows(
    device: Device, state: str, _cause: str, ambient_f: float, dice: Random
) -> tuple[float, float, float, dict[str, object]]:
    supply_psia = float(absolute_psia(
        gauge_psig=PRESSURES_PSIG[device.station][0], altitude_ft=ALTITUDE_FT
    ))
    span_f = float(saturation_f(pressure_psia=supply_psia)) - ambient_f
    inlet, outlet, source_db, observed, pattern = _OTHERS_SHOW[device.device, state]
    inlet_f = ambient_f + (inlet + dice.gauss(0, 0.05)) * span_f
    outlet_f = ambient_f + (outlet + dice.gauss(0, 0.06)) * span_f
    told: dict[str, object] = {"sound_pattern": pattern}
    if dice.random() < 0.7:  # the others were not opened
        told["observed"] = observed
    return inlet_f, min(outlet_f, inlet_f), source_db + dice.gauss(0, 2.0), told


def _shown(true_f: float, ambient_f: float, share: float, dice: Random) -> float:
    return round(ambient_f + (share + dice.gauss(0, 0.010)) * (true_f - ambient_f), 1)


def _with_gaps(row: dict[str, object], dice: Random) -> dict[str, object]:
    # A round is never complete: now and then a reading was not taken.
    for name in ("outlet_temp_f", "background_db", "sound_pattern"):
        if dice.random() < 0.04:
            row[name] = None
    return row
