"""Made rounds: readings from the physics of steam plus noise, with the fault of each device known.

The numbers that are not physics (how loud a trap is, how hot a failed one) are common practice,
no source. They are made for asking whether verdicts behave, not for scoring them.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from survey.columns import TRAP_TYPES
from survey.physics.orifice import steam_flow_lb_per_h
from survey.physics.saturation import saturation_f
from survey.physics.units import absolute_psia

AMBIENT_F = 68.0
BACKGROUND_DB = 26.0
BORE_IN = 0.1875
FAULTS = ("leaking", "failed_open", "failed_closed", "cold", "backed_up")
SUBCOOLING_F = {
    "float_thermostatic": 3.0,
    "inverted_bucket": 3.0,
    "thermodynamic": 5.0,
    "thermostatic": 15.0,
    "bimetallic": 30.0,
    "fixed_orifice": 4.0,
}
"""How far a working trap holds its inlet under saturation; live steam at the seat ends it."""
COOL_INLET = {"failed_closed": 0.45, "cold": 0.10, "air_bound": 0.25, "backed_up": 0.68}
"""Share of the way from the air to saturation; an open or a working trap is near 1."""
OUTLET_AT_RETURN = {
    "working": 0.93, "leaking": 0.97, "failed_open": 1.12,
    "failed_closed": 0.28, "cold": 0.10, "air_bound": 0.28, "backed_up": 0.58,
}  # fmt: skip
SOURCE_DB = {"working": 8.0, "leaking": 19.0, "failed_open": 28.0}
PATTERN = {"working": "intermittent", "leaking": "continuous", "failed_open": "continuous"}
OBSERVED = {"working": "water", "leaking": "steam", "failed_open": "steam", "backed_up": "water"}


@dataclass(frozen=True)
class Station:
    """A pressure reducing station of a made round.

    `gauge_off_psi` is added to what its gauge should read; `share` is what its thermometer
    reads of the way from the air to the true temperature.
    """

    supply_psig: float
    return_psig: float
    heaters: int = 20
    gauge_off_psi: float = 0.0
    share: float = 0.97
    thermometer: str = "contact"


TWO_STATIONS = {"Hill": Station(60.0, 3.0), "Dell": Station(15.0, 1.0)}


@dataclass
class Plant:
    """What a made round is made from; every `faults_every`th heater has the next fault."""

    stations: dict[str, Station] = field(default_factory=lambda: dict(TWO_STATIONS))
    seed: int = 7
    meter_db: float = 0.0
    with_background: bool = True
    companions: bool = True
    faults_every: int = 4


def made_round(plant: Plant | None = None) -> pd.DataFrame:
    """Return a round in contract columns; `truth` is an extra column the judge does not know."""
    plant = plant or Plant()
    random = np.random.default_rng(plant.seed)
    rows: list[dict[str, object]] = []
    number = 0
    for name, station in plant.stations.items():
        for position in range(station.heaters):
            number += 1
            fault = "working"
            if plant.faults_every and position % plant.faults_every == plant.faults_every - 1:
                fault = FAULTS[position // plant.faults_every % len(FAULTS)]
            rows += _heater(number, name, station, fault, plant, random)
    return pd.DataFrame(rows)


def _heater(
    number: int,
    name: str,
    station: Station,
    fault: str,
    plant: Plant,
    random: np.random.Generator,
) -> list[dict[str, object]]:
    trap_type = TRAP_TYPES[number % len(TRAP_TYPES)]
    shared = {
        "equipment": f"UH-{number:03d}",
        "area": f"House {number % 3}",
        "station": name,
        "ambient_f": AMBIENT_F,
        "thermometer": station.thermometer,
        "valve_position": "open",
        "present": "yes",
    }
    reads = _Reads(station, plant, random)
    trap = shared | {
        "tag": f"T-{number:03d}",
        "device": "trap",
        "trap_type": trap_type,
        "service": "unit_heater",
        "orifice_in": BORE_IN,
        "supply_psig": round(station.supply_psig + station.gauge_off_psi, 1),
        "return_psig": station.return_psig,
        "inlet_temp_f": reads.inlet(_inlet_way(fault, trap_type, reads)),
        "outlet_temp_f": reads.outlet(OUTLET_AT_RETURN[fault]),
        "sound_pattern": PATTERN.get(fault, "quiet"),
        "observed": OBSERVED.get(fault, "nothing") if number % 5 == 0 else None,
        "valve_position": "closed" if fault == "cold" else "open",
        "lift_ft": 4.0,
        "truth": fault,
        **reads.sound(SOURCE_DB.get(fault, -9.0)),
    }
    return [trap, *(_companions(number, shared, reads, fault) if plant.companions else [])]


def _inlet_way(fault: str, trap_type: str, reads: _Reads) -> float:
    if fault in COOL_INLET:
        return COOL_INLET[fault]
    kept = {"working": 1.0, "leaking": 0.4}.get(fault, 0.0)
    return 1.0 - kept * SUBCOOLING_F[trap_type] / (reads.hot_f - AMBIENT_F)


def _companions(
    number: int, shared: dict[str, object], reads: _Reads, fault: str
) -> list[dict[str, object]]:
    alive = 0.1 if fault in ("cold", "failed_closed") else 1.0
    # Steam still comes to the top of a heater that its shut trap floods, and leaves it lukewarm.
    top = 0.6 if fault == "failed_closed" else alive
    stuck = fault == "backed_up"
    return [
        shared
        | {
            "tag": f"V-{number:03d}",
            "device": "air_vent",
            "inlet_temp_f": reads.inlet(0.93 * top),
            "outlet_temp_f": reads.inlet(0.40 * top),
            "sound_pattern": "quiet",
            "truth": "working",
            **reads.sound(-6.0),
        },
        shared
        | {
            "tag": f"C-{number:03d}",
            "device": "check_valve",
            "inlet_temp_f": reads.inlet((0.48 if stuck else 0.62) * alive),
            "outlet_temp_f": reads.inlet((0.18 if stuck else 0.58) * alive),
            "sound_pattern": "quiet",
            "truth": "stuck" if stuck else "working",
            **reads.sound(-9.0),
        },
    ]


class _Reads:
    """The instruments of a station: a true share of the way to saturation in, a reading out."""

    def __init__(self, station: Station, plant: Plant, random: np.random.Generator) -> None:
        self.station, self.plant, self.random = station, plant, random
        self.hot_f = _saturation(station.supply_psig)
        self.return_f = _saturation(station.return_psig)

    def inlet(self, way: float) -> float:
        return self._shown(AMBIENT_F + way * (self.hot_f - AMBIENT_F))

    def outlet(self, way: float) -> float:
        return self._shown(AMBIENT_F + way * (self.return_f - AMBIENT_F))

    def _shown(self, true_f: float) -> float:
        noise = self.random.normal(0.0, 0.012) * (self.hot_f - AMBIENT_F)
        return round(AMBIENT_F + self.station.share * (true_f - AMBIENT_F + noise), 1)

    def sound(self, source_db: float) -> dict[str, float]:
        background = BACKGROUND_DB + self.plant.meter_db + self.random.normal(0.0, 2.0)
        source = BACKGROUND_DB + self.plant.meter_db + source_db + self.random.normal(0.0, 2.5)
        level = 10.0 * np.log10(10.0 ** (background / 10.0) + 10.0 ** (source / 10.0))
        heard = {"sound_db": round(float(level), 1)}
        if self.plant.with_background:
            heard["background_db"] = round(float(background), 1)
        return heard


def _saturation(gauge_psig: float) -> float:
    absolute = absolute_psia(gauge_psig=gauge_psig, altitude_ft=0.0)
    return float(saturation_f(pressure_psia=absolute))


def full_bore_lb_per_h(supply_psig: float, return_psig: float = 0.0) -> float:
    """Return the dry steam through a trap's whole bore, coefficient 0.65."""
    up, down = (absolute_psia(gauge_psig=p, altitude_ft=0.0) for p in (supply_psig, return_psig))
    return float(
        steam_flow_lb_per_h(
            bore_in=BORE_IN, upstream_psia=up, downstream_psia=down, discharge_coefficient=0.65
        )
    )
