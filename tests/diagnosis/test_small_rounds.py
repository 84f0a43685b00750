"""Rounds so small or odd that the answer is plain, whatever their calibration makes of it."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from survey.findings import Findings
from survey.pipeline import analyze

TRAP = {"device": "trap", "trap_type": "float_thermostatic", "orifice_in": 0.25,
        "supply_psig": 15.0, "return_psig": 0.0}  # fmt: skip
BLOWN = {**TRAP, "sound_db": 70.0, "sound_pattern": "continuous", "inlet_temp_f": 248.0,
         "outlet_temp_f": 240.0}  # fmt: skip
SOUND = {**TRAP, "sound_db": 34.0, "background_db": 28.0, "sound_pattern": "modulating",
         "inlet_temp_f": 244.0, "outlet_temp_f": 205.0}  # fmt: skip
OFF = {**TRAP, "inlet_temp_f": 75.0, "outlet_temp_f": 72.0}


def judged(rows: list[dict[str, Any]]) -> Findings:
    """Judge rows, each with a tag and, where it names none, a heater of its own."""
    frame = pd.DataFrame(rows)
    frame.insert(0, "tag", [f"X-{n}" for n in range(len(frame))])
    if "equipment" not in frame:
        frame["equipment"] = [f"UH-{n}" for n in range(len(frame))]
    return analyze(frame)


@pytest.mark.parametrize("background", [28.0, np.nan])
@pytest.mark.parametrize("count", [1, 2, 5, 20])
def test_blown_traps_alone_are_no_background(count: int, background: float) -> None:
    table = judged([{**BLOWN, "background_db": background}] * count).table
    assert (table["state"] == "failed_open").all()
    assert (table["steam_loss_lb_per_h"] > 10.0).all()


@pytest.mark.parametrize("count", [1, 20])
def test_sound_traps_alone_are_sound(count: int) -> None:
    for background in (28.0, np.nan):
        table = judged([{**SOUND, "background_db": background}] * count).table
        assert (table["state"] == "working").all()


@pytest.mark.parametrize("vents", [False, True])
def test_a_station_whose_steam_is_off_condemns_nothing_and_blames_no_gauge(vents: bool) -> None:
    rows: list[dict[str, Any]] = [{**OFF, "equipment": f"UH-{n}"} for n in range(20)]
    if vents:
        vent = {"device": "air_vent", "supply_psig": 15.0, "inlet_temp_f": 74.0,
                "valve_position": "open"}  # fmt: skip
        rows += [{**vent, "equipment": f"UH-{n}"} for n in range(20)]
    findings = judged(rows)
    traps = findings.table[findings.table["device"].astype(str) == "trap"]
    assert set(traps["state"]) == {"cold"}
    assert not set(traps["cause"]) & {"trap", "air_vent"}
    assert not traps["action"].str.contains("eplace the trap").any()
    assert not any("gauge" in one["what"] for one in findings.summary["calibration"])


def test_cold_heaters_do_not_make_a_gauge_wrong() -> None:
    rows = [{**TRAP, "inlet_temp_f": 150.0, "outlet_temp_f": 110.0, "equipment": f"UH-{n}"}
            for n in range(40)]  # fmt: skip
    rows += [{"device": "air_vent", "supply_psig": 15.0, "inlet_temp_f": 90.0,
              "valve_position": "closed", "equipment": f"UH-{n}"} for n in range(40)]  # fmt: skip
    findings = judged(rows)
    assert not any("gauge" in one["what"] for one in findings.summary["calibration"])
    traps = findings.table[findings.table["device"].astype(str) == "trap"]
    assert set(traps["cause"]) == {"air_vent"}


@pytest.mark.parametrize("device", ["trap", "check_valve"])
def test_what_is_not_fitted_is_never_said_to_work(device: str) -> None:
    table = judged([{**TRAP, "device": device, "present": "no"}, *[SOUND] * 5]).table
    assert table["state"].iloc[0] == "undecided"
    assert "not fitted" in table["action"].iloc[0]


def test_a_doubtful_working_one_is_to_be_read_again() -> None:
    vent = {"device": "air_vent", "observed": "steam", "supply_psig": 15.0}
    row = judged([vent, *[SOUND] * 5]).table.iloc[0]
    assert row["confidence"] < 0.8
    assert row["action"] != "Nothing to do."


def test_heat_behind_a_closed_valve_is_said_first() -> None:
    row = judged([{**BLOWN, "background_db": 28.0, "valve_position": "closed"}, *[SOUND] * 9])
    first = row.table.iloc[0]
    assert "valve_contradicts_temperature" in first["flags"]
    assert first["action"].startswith("Look at its valve first")


SPOOL = {**SOUND, "sound_db": 28.0, "sound_pattern": "quiet", "outlet_temp_f": 242.0}


@pytest.mark.parametrize(
    ("read", "state"),
    [({**SOUND, "sound_db": 38.0}, "working"), (BLOWN, "failed_open"), (OFF, "undecided"),
     (TRAP, "undecided"), (SPOOL, "undecided")],
)  # fmt: skip
def test_a_trap_that_shows_itself_is_judged_though_noted_as_not_fitted(
    read: dict[str, Any], state: str
) -> None:
    row = judged([{**read, "background_db": 28.0, "present": "no"}, *[SOUND] * 30]).table.iloc[0]
    assert row["state"] == state
    said = "not fitted, and more was read" if state != "undecided" else "nothing to judge"
    assert said in row["action"]


def test_a_trap_that_passes_nothing_behind_a_shut_vent_is_not_scrapped_before_the_vent_is_seen_to():
    trap = {**TRAP, "inlet_temp_f": 166.0, "outlet_temp_f": 80.0, "sound_db": 27.0,
            "sound_pattern": "quiet", "equipment": "UH-1"}  # fmt: skip
    vent = {"device": "air_vent", "supply_psig": 15.0, "inlet_temp_f": 150.0,
            "outlet_temp_f": 75.0, "valve_position": "closed", "equipment": "UH-1"}  # fmt: skip
    row = judged([trap, vent, *[SOUND] * 9]).table.iloc[0]
    assert row["state"] == "failed_closed"
    assert row["action"].startswith("Its air vent seems shut or missing: see to that first")
    vent["valve_position"] = "open"
    row = judged([trap, {**vent, "inlet_temp_f": 235.0, "outlet_temp_f": 130.0}, *[SOUND] * 9])
    assert not row.table["action"].iloc[0].startswith("Its air vent")


def test_a_trap_that_passes_steam_for_sure_is_at_fault_though_undecided_how_much() -> None:
    table = judged([{**SOUND, "sound_db": level, "sound_pattern": "continuous",
                     "outlet_temp_f": outlet, "background_db": 28.0}
                    for level in np.arange(34.0, 64.0, 1.0)
                    for outlet in np.arange(206.0, 236.0, 3.0)]
                   + [SOUND] * 40).table  # fmt: skip
    unsure = table[table["state"].astype(str) == "undecided"]
    passing = unsure["p_leaking"] + unsure["p_failed_open"]
    assert (passing >= 0.6).any()
    assert set(unsure["cause"][passing >= 0.6].astype(str)) == {"trap"}
    assert set(unsure["cause"][passing < 0.6].astype(str)) <= {"unknown"}
