"""Check valves: what is read on either side of them, and what that says of their trap."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from diagnosis.conftest import Judged
from diagnosis.rounds import TWO_STATIONS, Plant, made_round
from survey import analyze

AIR_F = 68.0


def backed_up_round(inlet_f: float, outlet_f: float) -> pd.DataFrame:
    """Return a round in which three traps stand back, and the pipe at their check valves reads so.

    Of the check valves only temperatures are known; ``trap`` names the three.
    """
    frame = made_round(Plant(stations=TWO_STATIONS))
    traps = frame[(frame["device"] == "trap") & (frame["truth"] == "working")].iloc[:30:10]
    checks = (frame["device"] == "check_valve") & frame["equipment"].isin(traps["equipment"])
    frame.loc[traps.index, "inlet_temp_f"] = AIR_F + 0.55 * (traps["inlet_temp_f"] - AIR_F)
    frame.loc[traps.index, "outlet_temp_f"] = inlet_f + 3.0
    frame.loc[traps.index, "sound_db"] = frame["background_db"]
    frame.loc[traps.index, ["sound_pattern", "observed"]] = ["quiet", None]
    frame.loc[checks, ["inlet_temp_f", "outlet_temp_f"]] = [inlet_f, outlet_f]
    frame.loc[checks, ["observed", "sound_pattern", "valve_position"]] = None
    frame.loc[checks, ["sound_db", "background_db"]] = np.nan
    frame["trap"] = frame.index.isin(traps.index)
    return frame.assign(check=checks)


def test_a_pipe_that_is_lukewarm_before_and_dead_behind_is_a_stuck_check_valve() -> None:
    frame = backed_up_round(inlet_f=112.0, outlet_f=82.0)
    table = analyze(frame).table
    assert (table.loc[frame["check"], "state"] == "stuck").all()
    stood = table[frame["trap"]]
    assert (stood["state"] == "backed_up").all()
    assert (stood["cause"] == "check_valve").all()
    said = table.loc[frame["check"], "evidence"]
    assert said.str.contains("outlet reads 82 °F and its inlet 112 °F").any()


def test_a_pipe_that_is_alike_on_both_sides_is_no_stuck_check_valve() -> None:
    frame = backed_up_round(inlet_f=112.0, outlet_f=110.0)
    table = analyze(frame).table
    assert (table.loc[frame["check"], "state"] != "stuck").all()
    assert (table.loc[frame["trap"], "cause"] != "check_valve").all()
    dead_behind = analyze(backed_up_round(inlet_f=112.0, outlet_f=82.0)).table
    alike, dead = (each.loc[frame["trap"], "p_backed_up"] for each in (table, dead_behind))
    assert (alike < dead - 0.3).all()


@pytest.mark.parametrize("inlet_f", [112.0, 130.0])
def test_a_pipe_that_is_warmer_behind_is_no_stuck_check_valve(inlet_f: float) -> None:
    for more in (0.5, 3.0, 10.0, 40.0):
        frame = backed_up_round(inlet_f=inlet_f, outlet_f=inlet_f + more)
        assert (analyze(frame).table.loc[frame["check"], "state"] != "stuck").all()


CHECKS = ["C-020", "C-040"]


def chances(judged: Judged, inlet_f: float, outlet_f: float, **noted: object) -> pd.DataFrame:
    """Return the chances of both check valves' states, the calibration as it was."""
    noted = {"observed": None, **noted}
    tidy = judged.changed(CHECKS, inlet_temp_f=inlet_f, outlet_temp_f=outlet_f, **noted)
    return judged.weighed(tidy)[1]["check_valve"].loc[CHECKS]


@pytest.mark.parametrize("observed", [None, "water", "nothing"])
@pytest.mark.parametrize("inlet_f", [90.0, 112.0, 120.0, 138.0, 160.0, 200.0])
def test_a_hotter_pipe_behind_never_speaks_against_passing_back(
    judged: Judged, inlet_f: float, observed: str | None
) -> None:
    each = [
        chances(judged, inlet_f, inlet_f + more, observed=observed)["passing_back"]
        for more in np.arange(-8.0, 60.0, 4.0)
    ]
    # Past its own centre it may lose a little until the outlet is as hot as any.
    assert (pd.concat(each, axis=1).diff(axis=1).iloc[:, 1:] > -0.01).all(axis=None)


@pytest.mark.parametrize("observed", [None, "water"])
def test_a_tenth_of_a_degree_turns_no_verdict_round(
    judged: Judged, observed: str | None
) -> None:
    # Where inlets become too cool to be told beside, and where the pipe behind becomes the warmer.
    steps = [(at, at + more) for more in (-30.0, 3.0, 10.0) for at in np.arange(110.0, 160.0, 2.0)]
    steps += [(at, at) for at in (90.0, 112.0, 138.0, 200.0)]
    for inlet_f, outlet_f in steps:
        before = chances(judged, inlet_f, outlet_f - 0.05, observed=observed)
        after = chances(judged, inlet_f + 0.1, outlet_f + 0.05, observed=observed)
        assert (after - before).abs().max(axis=None) < 0.05


def test_a_lift_out_of_reach_does_not_hide_a_stuck_check_valve() -> None:
    frame = backed_up_round(inlet_f=150.0, outlet_f=88.0)
    frame.loc[frame["trap"], "lift_ft"] = 200.0
    table = analyze(frame).table
    assert (table.loc[frame["trap"], "state"] == "backed_up").all()
    assert (table.loc[frame["check"], "state"] == "stuck").all()


def test_what_is_read_before_a_check_valve_stands_for_its_traps_outlet() -> None:
    frame = made_round(Plant(stations=TWO_STATIONS))
    traps = frame["device"] == "trap"
    checks = frame[frame["device"] == "check_valve"].set_index("equipment")["inlet_temp_f"]
    at_trap = frame.assign(
        outlet_temp_f=frame["equipment"].map(checks).where(traps, frame["outlet_temp_f"])
    )
    at_check = frame.assign(outlet_temp_f=frame["outlet_temp_f"].where(~traps))
    assert at_trap.loc[traps, "outlet_temp_f"].notna().sum() >= 20
    given, taken = (analyze(each).table for each in (at_trap, at_check))
    chances = [name for name in given if name.startswith("p_")]
    pd.testing.assert_frame_equal(given[chances], taken[chances])
    assert taken.loc[traps.to_numpy(), "outlet_temp_f"].isna().all()
    assert taken["evidence"].str.contains("before its check valve the pipe reads").any()


@pytest.mark.parametrize("other", [{"thermometer": "infrared"}, {"ambient_f": 95.0}])
def test_what_was_read_in_another_way_is_not_taken_for_a_traps_outlet(
    other: dict[str, object],
) -> None:
    frame = made_round(Plant(stations=TWO_STATIONS))
    traps, checks = (frame["device"] == name for name in ("trap", "check_valve"))
    frame.loc[traps, "outlet_temp_f"] = np.nan
    without = frame.copy()
    without.loc[checks, "inlet_temp_f"] = np.nan
    for name, value in other.items():
        frame.loc[checks, name] = without.loc[checks, name] = value
    told = analyze(frame).table["evidence"]
    assert not told.str.contains("before its check valve the pipe reads").any()
    assert not analyze(without).table["evidence"].str.contains("before its check valve").any()


def test_what_was_read_at_a_check_valve_raises_no_flag_on_its_trap() -> None:
    frame = made_round(Plant(stations=TWO_STATIONS))
    traps, checks = (frame["device"] == name for name in ("trap", "check_valve"))
    frame.loc[checks, "inlet_temp_f"] = 300.0
    frame.loc[traps, "outlet_temp_f"] = np.nan
    flags = analyze(frame).table.loc[traps.to_numpy(), "flags"].fillna("")
    assert not flags.str.contains("outlet_hotter_than_inlet").any()


def test_air_noted_a_few_degrees_apart_is_the_same_air() -> None:
    frame = made_round(Plant(stations=TWO_STATIONS))
    traps, checks = (frame["device"] == name for name in ("trap", "check_valve"))
    frame.loc[traps, "outlet_temp_f"] = np.nan
    frame.loc[checks, "ambient_f"] = frame.loc[checks, "ambient_f"] + 3.0
    told = analyze(frame).table["evidence"]
    assert told.str.contains("before its check valve the pipe reads").any()


def test_a_traps_outlet_stands_for_what_is_before_its_check_valve() -> None:
    frame = made_round(Plant(stations=TWO_STATIONS))
    traps, checks = (frame["device"] == name for name in ("trap", "check_valve"))
    outlets = frame[traps].set_index("equipment")["outlet_temp_f"]
    at_check = frame["equipment"].map(outlets)
    both = frame.assign(inlet_temp_f=at_check.where(checks, frame["inlet_temp_f"]))
    at_trap = frame.assign(inlet_temp_f=frame["inlet_temp_f"].where(~checks))
    assert both.loc[checks, "inlet_temp_f"].notna().sum() >= 20
    given, taken = (analyze(each).table for each in (both, at_trap))
    chances = [name for name in given if name.startswith("p_")] + ["confidence"]
    pd.testing.assert_frame_equal(given[chances], taken[chances])
    assert taken.loc[checks.to_numpy(), "inlet_temp_f"].isna().all()
    of_checks = taken.loc[checks.to_numpy(), "evidence"]
    assert of_checks.str.contains(r"its outlet reads \d+ °F and its trap's \d+ °F").any()
    assert not taken["evidence"].str.contains("nan").any()


def test_a_check_valve_of_which_nothing_was_read_stays_unread() -> None:
    frame = made_round(Plant(stations=TWO_STATIONS))
    checks = frame["device"] == "check_valve"
    readings = ["inlet_temp_f", "outlet_temp_f", "sound_db", "background_db"]
    frame.loc[checks, readings] = np.nan
    frame.loc[checks, ["sound_pattern", "observed", "valve_position"]] = None
    frame.loc[checks, "present"] = "yes"
    of_checks = analyze(frame).table[checks.to_numpy()]
    assert not of_checks["evidence"].str.contains("(?i)its outlet reads").any()


@pytest.mark.parametrize(
    ("behind_f", "trap", "check", "least"),
    [(96.0, "failed_closed", "working", 0.90), (76.0, "backed_up", "stuck", 0.97)],
)
def test_a_cool_pipe_with_no_step_at_its_check_valve_is_a_shut_traps(
    behind_f: float, trap: str, check: str, least: float
) -> None:
    frame = backed_up_round(inlet_f=98.0, outlet_f=behind_f)
    table = analyze(frame).table
    assert (table.loc[frame["check"], "state"] == check).all()
    assert (table.loc[frame["trap"], f"p_{trap}"] >= least).all()
