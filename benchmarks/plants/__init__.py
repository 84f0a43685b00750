"""Plants with known truth, made from published physics and field practice.

`simulate(settings, seed)` makes one; `EIGHT` are the settings of the eight unlike plants.
"""

from __future__ import annotations

import zlib
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from plants import sounds, temperatures
from plants.record import record_round
from plants.settings import EIGHT, PlantSettings
from plants.units import build_units

__all__ = ["EIGHT", "Plant", "PlantSettings", "simulate"]


@dataclass(frozen=True)
class Plant:
    """One simulated round: the table a technician hands in, the truth, the site's settings."""

    name: str
    table: pd.DataFrame
    truth: pd.DataFrame
    site: dict[str, Any]


def simulate(settings: PlantSettings, seed: int) -> Plant:
    """Make a plant and a round of it. The same settings and seed give the same plant."""
    rng = np.random.default_rng([seed, zlib.crc32(settings.name.encode())])
    altitude = float(rng.uniform(*settings.altitude_ft))
    units = build_units(rng, settings, float(rng.uniform(*settings.failed_share)), altitude)
    temperatures.add_pipe_temperatures(rng, units)
    sounds.add_sources(rng, units)
    thermometers = temperatures.Thermometers(rng, units, settings.surfaces)
    meter = sounds.Meter(
        rng, float(rng.uniform(*settings.meter_offset_db)), float(rng.uniform(*settings.meter_gain))
    )
    table, truth = record_round(rng, units, settings, thermometers, meter)
    return Plant(settings.name, table, truth, _site(settings, units, altitude))


def _site(settings, units, altitude):
    """What the technician knows of the site: nominal pressures, rounded."""
    stations = {}
    for name, some in units.groupby("station"):
        stations[str(name)] = {
            "supply_psig": float(np.round(some["gauge_psig"].iloc[0] * 2) / 2),
            "return_psig": float(np.round(some["return_nominal_psig"].iloc[0] * 2) / 2),
        }
    return {
        "name": settings.name.replace("_", " "),
        "altitude_ft": round(altitude, -2),
        "hours_per_year": 4900.0,
        "stations": stations,
    }
