"""Where a plant has its vents, breakers and check valves, and how its traps were sized: its own.

What is read on a device of a cold heater hangs on where it sits. These rounds are made up; only
that a plant is believed in what all of its heaters show is held here.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from survey import Site, analyze
from survey.columns import TRAP_TYPES
from survey.diagnosis.holding_up import chances_of_air
from survey.diagnosis.model import Model
from survey.diagnosis.verdict import calibrate_round
from survey.readings import round_from_frame

SATURATION_F, AIR_F = 287.0, 70.0  # 40 psig, steam tables
NOISE = np.random.default_rng(7)


def shares(centre: float, spread: float, count: int) -> np.ndarray:
    return AIR_F + (SATURATION_F - AIR_F) * NOISE.normal(centre, spread, count)


def heaters(count: int, **trap: Any) -> pd.DataFrame:
    """Return working traps under steam at 40 psig."""
    quiet = NOISE.normal(26.0, 1.0, count)
    return pd.DataFrame(
        {
            "tag": [f"T-{n}" for n in range(count)], "device": "trap", "supply_psig": 40.0,
            "return_psig": 1.0, "equipment": [f"UH-{n}" for n in range(count)],
            "ambient_f": AIR_F, "trap_type": "inverted_bucket", "orifice_in": 0.1875,
            "background_db": quiet, "sound_db": quiet + NOISE.normal(9.0, 2.0, count),
            "sound_pattern": "intermittent", "inlet_temp_f": shares(0.96, 0.01, count),
            "outlet_temp_f": shares(0.62, 0.03, count), **trap,
        }
    )  # fmt: skip


def on(frame: pd.DataFrame, device: str, letter: str, **read: Any) -> pd.DataFrame:
    """Return a device of each trap's equipment."""
    kept = frame[["equipment", "supply_psig", "return_psig", "ambient_f"]]
    tags = frame["tag"].str.replace("T-", letter)
    return kept.assign(tag=tags, device=device, present="yes", valve_position="open", **read)


def cool(frame: pd.DataFrame, where: slice, inlet: float, outlet: float) -> None:
    count = len(frame.loc[where])
    frame.loc[where, "inlet_temp_f"] = shares(inlet, 0.05, count)
    frame.loc[where, "outlet_temp_f"] = shares(outlet, 0.03, count)
    frame.loc[where, "sound_pattern"] = "quiet"
    frame.loc[where, "sound_db"] = frame.loc[where, "background_db"]


def test_breakers_that_are_hot_on_every_cold_heater_speak_against_no_victim() -> None:
    # They sit where steam comes in: hot on heaters that are shut off, flooded and full of air.
    traps = heaters(120)
    bound, shut, off = slice(0, 9), slice(10, 21), slice(22, 31)
    cool(traps, bound, 0.36, 0.16)
    cool(traps, shut, 0.44, 0.09)
    cool(traps, off, 0.10, 0.05)
    traps.loc[off, "valve_position"] = "closed"
    vents = on(traps, "air_vent", "V-", inlet_temp_f=shares(0.90, 0.02, 120), outlet_temp_f=110.0)
    vents.loc[bound, ["valve_position", "inlet_temp_f"]] = ["closed", AIR_F + 80.0]
    vents.loc[50:, ["valve_position", "outlet_temp_f"]] = ["closed", 80.0]  # most are shut
    hot = shares(0.88, 0.02, 120)
    breakers = on(traps, "vacuum_breaker", "B-", inlet_temp_f=hot, outlet_temp_f=105.0)
    frame = pd.concat([traps, vents, breakers], ignore_index=True)
    table = analyze(frame).table
    assert (table.loc[bound, "cause"] == "air_vent").mean() >= 0.9
    assert (table.loc[shut, "state"] == "failed_closed").mean() >= 0.8


def test_larger_traps_that_are_louder_all_over_a_plant_are_not_leaking() -> None:
    bore = np.resize([0.09375, 0.125, 0.1875, 0.25, 0.375], 200)
    traps = heaters(200, orifice_in=bore)
    traps["sound_db"] += 16.0 * np.log10(bore / 0.1875)
    table = analyze(traps).table
    assert (table["state"] == "working").mean() >= 0.98
    assert table.loc[np.isclose(bore, 0.375), "p_working"].mean() >= 0.98
    learnt = calibrate_round(round_from_frame(traps).table, site=Site())[1].model
    assert learnt.working_db_per_bore_decade == pytest.approx(16.0, abs=4.0)


def test_a_vent_that_is_hot_before_and_cold_behind_where_others_are_warm_is_shut() -> None:
    # Steam stands before some valves that are noted as closed, and nothing comes past them.
    traps = heaters(150)
    read = {"inlet_temp_f": shares(0.90, 0.02, 150), "outlet_temp_f": shares(0.28, 0.04, 150)}
    vents = on(traps, "air_vent", "V-", **read)
    noted, blank = slice(0, 29), slice(30, 41)
    for some in (noted, blank):
        vents.loc[some, "outlet_temp_f"] = shares(0.05, 0.02, len(vents.loc[some]))
    vents.loc[noted, "valve_position"] = "closed"
    vents.loc[blank, "valve_position"] = None
    vents.loc[60:90, "valve_position"] = None
    table = analyze(pd.concat([traps, vents], ignore_index=True)).table.iloc[150:]
    table.index = vents.index
    assert (table.loc[blank, "state"] == "isolated").mean() >= 0.9
    assert (table.loc[60:90, "state"] == "working").all()


def test_air_binds_the_less_the_higher_the_pressure() -> None:
    # Dalton: the air that was there takes up 14.7 psi of whatever pressure comes.
    code = np.full(5, TRAP_TYPES.index("thermostatic"))
    chances = chances_of_air(Model(), code, np.array([17.0, 30.0, 45.0, 75.0, 115.0]))
    assert (np.diff(chances, axis=0) < 0).all()
    unknown = chances_of_air(Model(), code[:1], np.array([np.nan]))
    assert unknown == pytest.approx(chances[[2]])
