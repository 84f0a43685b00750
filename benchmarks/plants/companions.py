"""Rows of air vents, vacuum breakers and check valves, with their truth."""

from __future__ import annotations

import numpy as np
import pandas as pd

from plants import sounds, steam
from plants.sounds import Meter
from plants.temperatures import Thermometers

# What comes out when the device is opened or watched, by true state: common practice, no source.
OBSERVED = {
    ("air_vent", "working"): {"nothing": 0.72, "air": 0.26, "water": 0.01, "steam": 0.01},
    ("air_vent", "isolated"): {"nothing": 0.98, "air": 0.02},
    ("air_vent", "failed_open"): {"steam": 0.96, "air": 0.02, "water": 0.02},
    ("air_vent", "passing_water"): {"water": 0.96, "steam": 0.02, "nothing": 0.02},
    ("vacuum_breaker", "working"): {"nothing": 0.95, "air": 0.04, "water": 0.01},
    ("vacuum_breaker", "isolated"): {"nothing": 0.99, "air": 0.01},
    ("vacuum_breaker", "leaking"): {"steam": 0.75, "water": 0.22, "nothing": 0.03},
    ("check_valve", "working"): {"nothing": 0.96, "water": 0.03, "steam": 0.01},
    ("check_valve", "passing_back"): {"water": 0.92, "steam": 0.05, "nothing": 0.03},
    ("check_valve", "stuck"): {"nothing": 0.70, "water": 0.30},
}
SUFFIX = {"air_vent": "AV", "vacuum_breaker": "VB", "check_valve": "CV"}
SEEN_SHARE = {"air_vent": 0.85, "vacuum_breaker": 0.85, "check_valve": 0.80}


def companion_rows(
    rng: np.random.Generator, units: pd.DataFrame, thermometers: Thermometers, meter: Meter
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Readings and truth of every companion, in the order of the units."""
    makers = {"air_vent": _vent, "vacuum_breaker": _breaker, "check_valve": _check}
    states = {
        "air_vent": "vent_state", "vacuum_breaker": "breaker_state", "check_valve": "check_state"
    }  # fmt: skip
    tables, truths = [], []
    for device, maker in makers.items():
        rows = np.flatnonzero(units[states[device]] != "")
        some = units.iloc[rows]
        state = some[states[device]].to_numpy(dtype=object)
        temps, level, heard = maker(rng, some, state)
        read = pd.DataFrame({"unit_row": rows, "device": device}, index=None)
        read["tag"] = some["tag"].to_numpy() + "-" + SUFFIX[device]
        for name, values in temps.items():
            told = rng.random(len(rows)) < 0.85
            read[name] = np.where(told, thermometers.read(values, rows), np.nan)
        told = rng.random(len(rows)) < 0.6
        room = some["room_db"].to_numpy()
        read["sound_db"] = np.where(told, meter.read(sounds.add_levels(level, room)), np.nan)
        read["sound_pattern"] = np.where(told, heard, None)
        read["background_db"] = np.where(told, meter.read(room), np.nan)
        _looked_at(rng, read, device, state)
        tables.append(read)
        truths.append(pd.DataFrame({"tag": read["tag"], "device": device, "state": state}))
    return pd.concat(tables, ignore_index=True), pd.concat(truths, ignore_index=True)


def _looked_at(rng, read, device, state):
    count = len(read)
    shares = [OBSERVED.get((device, s), {"nothing": 1.0}) for s in state]
    words = [rng.choice(list(s), p=list(s.values())) for s in shares]
    read["observed"] = np.where(rng.random(count) < SEEN_SHARE[device], words, None)
    fitted = state != "missing"
    if device != "check_valve":
        shut = state == "isolated"
        wrong = rng.random(count) < 0.01
        told = rng.random(count) < np.where(shut, 0.95, 0.85)
        position = np.where(shut ^ wrong, "closed", "open")
        read["valve_position"] = np.where(told, position, None)
    else:
        read["valve_position"] = None
    told = (rng.random(count) < 0.9) | ~fitted
    read["present"] = np.where(told, np.where(fitted, "yes", "no"), None)
    for name in ("observed", "valve_position", "sound_pattern"):
        read[name] = read[name].where(fitted, None)
    for name in ("inlet_temp_f", "outlet_temp_f", "sound_db", "background_db"):
        if name in read:
            read[name] = read[name].where(fitted)


def _share_of(units, warm):
    ambient = units["ambient_f"].to_numpy()
    return ambient + warm * (units["saturation_f"].to_numpy() - ambient)


def _vent(rng, units, state):
    """A vent sits high on the heater: hot with the heater, cool where it is shut."""
    count = len(units)
    hot_states = ["working", "leaking", "failed_open", "failed_closed"]
    heater_hot = units["state"].isin(hot_states).to_numpy()
    warm = np.where(heater_hot, rng.beta(30, 1.5, count), rng.beta(4, 4, count))
    warm = np.where(state == "isolated", rng.beta(2, 6, count), warm)
    warm = np.where(state == "failed_open", rng.beta(60, 1.2, count), warm)
    warm = np.where(units["cause"] == "valved_off", rng.beta(1.2, 10, count), warm)
    after = warm * rng.uniform(0.15, 0.5, count)
    after = np.where(state == "failed_open", rng.uniform(0.6, 0.9, count) * warm, after)
    after = np.where(state == "passing_water", rng.uniform(0.5, 0.9, count) * warm, after)
    p1 = (units["supply_psig"] + units["atmosphere_psia"]).to_numpy()
    air = units["atmosphere_psia"].to_numpy()
    bore = rng.choice([1 / 16, 3 / 32, 1 / 8], count)
    blown = 0.65 * np.pi / 4 * bore**2 * steam.flux_lb_per_h_in2(p1, air)
    level = np.where(state == "failed_open", sounds.jet_db(blown, p1, air), -10.0)
    level = np.where(state == "passing_water", sounds.jet_db(2.0, p1, air), level)
    heard = np.where(state == "failed_open", "continuous", "quiet")
    heard = np.where(state == "passing_water", rng.choice(["modulating", "continuous"], count),
                     heard)
    temps = {"inlet_temp_f": _share_of(units, warm), "outlet_temp_f": _share_of(units, after)}
    return temps, level, heard


def _breaker(rng, units, state):
    """A breaker is on a cool siphon off the heater; a leaking one is hot and hisses."""
    count = len(units)
    warm = np.where(state == "leaking", rng.beta(20, 2, count), rng.beta(4, 3, count))
    warm = np.where(units["state"] == "cold", rng.beta(1.5, 6, count), warm)
    p1 = (units["supply_psig"] + units["atmosphere_psia"]).to_numpy()
    air = units["atmosphere_psia"].to_numpy()
    level = np.where(state == "leaking", sounds.jet_db(rng.uniform(0.5, 6, count), p1, air), -10.0)
    heard = np.where(state == "leaking", "continuous", "quiet")
    return {"inlet_temp_f": _share_of(units, warm)}, level, heard


def _check(rng, units, state):
    """A check valve has the trap's outlet ahead of it and the return behind."""
    count = len(units)
    ambient = units["ambient_f"].to_numpy()
    before = ambient + rng.uniform(0.93, 1.0, count) * (units["outlet_f"].to_numpy() - ambient)
    after = ambient + rng.uniform(0.93, 1.0, count) * (before - ambient)
    back = ambient + rng.uniform(0.3, 0.8, count) * (
        units["return_saturation_f"].to_numpy() - ambient
    )
    steamy = units["return_steamy"].to_numpy()
    cut_off = ambient + rng.uniform(0.05, 0.4, count) * (before - ambient)
    cut_off = np.where(steamy & (rng.random(count) < 0.5), back, cut_off)
    after = np.where(state == "stuck", cut_off, after)
    running = units["state"].isin(["working", "leaking", "failed_open"]).to_numpy()
    flow = units["source_db"].to_numpy() - rng.uniform(6, 12, count)
    level = np.where(running & (state != "stuck"), flow, -10.0)
    level = np.where(state == "passing_back", sounds.add_levels(level, rng.uniform(12, 26, count)),
                     level)
    heard = np.where(level > units["room_db"], rng.choice(["intermittent", "modulating"], count),
                     "quiet")
    return {"inlet_temp_f": before, "outlet_temp_f": after}, level, heard
