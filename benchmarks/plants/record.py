"""The round as a technician wrote it down, missing and mistaken entries included."""

from __future__ import annotations

import numpy as np
import pandas as pd

from plants import sounds
from plants.companions import companion_rows
from plants.settings import PlantSettings
from plants.sounds import Meter
from plants.temperatures import Thermometers
from plants.units import BORES_IN, TYPES

ROUND_COLUMNS = (
    "tag", "device", "equipment", "area", "station", "trap_type", "service", "orifice_in",
    "supply_psig", "return_psig", "ambient_f", "inlet_temp_f", "outlet_temp_f", "thermometer",
    "sound_db", "background_db", "sound_pattern", "valve_position", "observed", "present",
    "lift_ft", "hours_per_year", "read_at", "note",
)  # fmt: skip
# Cells that go missing one by one in a plant whose readings went missing at random.
LOSABLE = (
    "trap_type", "orifice_in", "supply_psig", "return_psig", "ambient_f", "inlet_temp_f",
    "outlet_temp_f", "sound_db", "background_db", "sound_pattern", "valve_position", "observed",
    "lift_ft",
)  # fmt: skip
READINGS = (
    "supply_psig", "return_psig", "inlet_temp_f", "outlet_temp_f", "sound_db", "sound_pattern",
    "valve_position", "observed", "present",
)  # fmt: skip
KEPT_SHARE = {  # of entries in an ordinary round: common practice, no source
    "trap_type": 0.97, "orifice_in": 0.85, "return_psig": 0.70, "ambient_f": 0.60,
    "inlet_temp_f": 0.98, "outlet_temp_f": 0.97, "sound_db": 0.96, "sound_pattern": 0.94,
    "valve_position": 0.80, "lift_ft": 0.85, "hours_per_year": 0.80,
}  # fmt: skip
OBSERVED = {
    "working": {"water": 0.76, "steam": 0.18, "nothing": 0.06},
    "leaking": {"steam": 0.68, "water": 0.32},
    "failed_open": {"steam": 0.94, "water": 0.06},
    "failed_closed": {"water": 0.60, "nothing": 0.40},
    "backed_up": {"water": 0.90, "nothing": 0.10},
    "air_vent": {"air": 0.76, "nothing": 0.19, "water": 0.05},
    "valved_off": {"nothing": 0.90, "water": 0.07, "air": 0.03},
}
MISLABELLED_SHARE = 0.04
WRONG_BORE_SHARE = 0.10


def record_round(
    rng: np.random.Generator,
    units: pd.DataFrame,
    settings: PlantSettings,
    thermometers: Thermometers,
    meter: Meter,
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """The round (contract columns, missing = NaN) and the truth, row for row."""
    traps = _trap_rows(rng, units, settings, thermometers, meter)
    others, other_truth = companion_rows(rng, units, thermometers, meter)
    table = pd.concat([traps, others], ignore_index=True)
    place = units.iloc[table["unit_row"].to_numpy()].reset_index(drop=True)
    for name in ("area", "station", "thermometer"):
        table[name] = place[name]
    table["equipment"] = _equipment(place)
    step = 1.0 if place["gauge_psig"].max() > 15 else 0.5
    table["supply_psig"] = np.round(place["gauge_psig"] / step) * step
    table["ambient_f"] = np.round(place["ambient_f"])
    no_thermometer = table[["inlet_temp_f", "outlet_temp_f"]].isna().all(axis=1)
    table.loc[no_thermometer, "thermometer"] = None
    told = rng.random(len(table)) < settings.background_share
    table["background_db"] = table["background_db"].where(told)
    minutes = (3 * table["unit_row"]).astype("timedelta64[m]").to_numpy()
    when = np.datetime64("2025-01-13T07:30:00", "m") + minutes
    table["read_at"] = np.datetime_as_string(when, unit="m")
    table["note"] = None
    _forget(rng, table, settings.missing_share)
    order = np.argsort(table["unit_row"].to_numpy(), kind="stable")
    table = table.reindex(columns=list(ROUND_COLUMNS)).iloc[order].reset_index(drop=True)
    truth = pd.concat([_trap_truth(units), other_truth], ignore_index=True)
    return table, truth.iloc[order].reset_index(drop=True)


def _equipment(place):
    kind = place["service"].map(
        {"unit_heater": "heater", "drip": "main", "process": "machine", "tracing": "line"}
    )
    return kind + " " + place["tag"]


def _trap_rows(rng, units, settings, thermometers, meter):
    count = len(units)
    rows = np.arange(count)
    table = pd.DataFrame({"unit_row": rows, "device": "trap", "tag": units["tag"]})
    table["service"] = units["service"]
    table["trap_type"] = _type_as_written(rng, units)
    table["orifice_in"] = _bore_as_written(rng, units)
    slack = rng.normal(0.0, 0.4, count)
    table["return_psig"] = np.maximum(np.round((units["return_psig"] + slack) * 2) / 2, 0.0)
    table["inlet_temp_f"] = thermometers.read(units["inlet_f"].to_numpy(), rows)
    table["outlet_temp_f"] = thermometers.read(units["outlet_f"].to_numpy(), rows)
    swapped = rng.random(count) < 0.005
    pair = table.loc[swapped, ["outlet_temp_f", "inlet_temp_f"]].to_numpy()
    table.loc[swapped, ["inlet_temp_f", "outlet_temp_f"]] = pair
    level = sounds.add_levels(units["source_db"], units["room_db"])
    table["sound_db"] = meter.read(level)
    table["background_db"] = meter.read(units["room_db"])
    table["sound_pattern"] = sounds.patterns(rng, units)
    shut = (units["cause"] == "valved_off").to_numpy() ^ (rng.random(count) < 0.008)
    table["valve_position"] = np.where(shut, "closed", "open")
    table["observed"] = _trap_observed(rng, units, settings.observed_share)
    table["present"] = None
    table["lift_ft"] = np.round(units["lift_ft"] * (1 + rng.normal(0, 0.05, count)))
    table["hours_per_year"] = units["hours_per_year"]
    for name, kept in KEPT_SHARE.items():
        if name in table:
            table[name] = table[name].where(rng.random(count) < kept)
    return table


def _type_as_written(rng, units):
    written = units["trap_type"].to_numpy(dtype=object).copy()
    names = np.array(sorted({t for shares in TYPES.values() for t in shares}), dtype=object)
    wrong = rng.random(len(units)) < MISLABELLED_SHARE
    written[wrong] = rng.choice(names, int(wrong.sum()))
    return written


def _bore_as_written(rng, units):
    number = np.searchsorted(BORES_IN, units["orifice_in"].to_numpy() - 1e-9)
    wrong = rng.random(len(units)) < WRONG_BORE_SHARE
    step = np.where(wrong, rng.choice([-2, -1, 1, 2], len(units)), 0)
    return np.round(BORES_IN[np.clip(number + step, 0, len(BORES_IN) - 1)], 4)


def _trap_observed(rng, units, share):
    keys = np.where(units["state"] == "cold", units["cause"], units["state"])
    words = [rng.choice(list(OBSERVED[k]), p=list(OBSERVED[k].values())) for k in keys]
    hot = units["state"].isin(["working", "leaking", "failed_open"])
    # A cool unit is opened more often: it is what the technician came to look at.
    seen = rng.random(len(units)) < np.where(hot, share, min(1.0, 1.8 * share))
    return np.where(seen, words, None)


def _forget(rng, table, share):
    if share <= 0:
        return
    kept = table[list(READINGS)].copy()
    for name in LOSABLE:
        table[name] = table[name].where(rng.random(len(table)) >= share)
    # A row that lost every reading would not have been written; give it one of its own back.
    for i in np.flatnonzero(table[list(READINGS)].isna().all(axis=1)):
        name = rng.choice([n for n in READINGS if pd.notna(kept[n].iloc[i])])
        table.loc[i, name] = kept[name].iloc[i]


def _trap_truth(units):
    names = [
        "tag", "state", "cause", "steam_loss_lb_per_h", "hours_per_year", "trap_type", "service",
        "orifice_in", "opening", "coefficient", "load_lb_per_h", "supply_psig", "return_psig",
        "lift_ft", "air_share", "inlet_f", "outlet_f", "saturation_f", "source_db", "room_db",
        "vent_state", "check_state", "trap_state",
    ]  # fmt: skip
    truth = units[names].copy()
    truth.insert(1, "device", "trap")
    return truth
