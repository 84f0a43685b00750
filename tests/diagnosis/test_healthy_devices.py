"""A plant whose vents, breakers and check valves are all well is not told to mend them."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from survey import analyze


def alike(device: str, count: int, inlet_f: float, spread_f: float) -> pd.DataFrame:
    read = np.random.default_rng(1).normal(inlet_f, spread_f, count)
    tags = [f"X-{n}" for n in range(count)]
    return pd.DataFrame(
        {
            "tag": tags, "device": device, "present": "yes", "valve_position": "open",
            "inlet_temp_f": read, "supply_psig": 15.0,
        }
    )  # fmt: skip


@pytest.mark.parametrize("count", [50, 300, 1000])
@pytest.mark.parametrize(
    ("device", "inlet_f", "spread_f"),
    [("air_vent", 232.0, 3.0), ("air_vent", 232.0, 6.0), ("vacuum_breaker", 225.0, 4.0),
     ("check_valve", 210.0, 5.0)],
)  # fmt: skip
def test_many_alike_are_working(device: str, inlet_f: float, spread_f: float, count: int) -> None:
    table = analyze(alike(device, count, inlet_f, spread_f)).table
    assert (table["state"] == "working").mean() >= 0.99


@pytest.mark.parametrize("device", ["air_vent", "vacuum_breaker"])
def test_one_not_fitted_among_many_is_missing(device: str) -> None:
    frame = alike(device, 1501, 180.0, 20.0)
    frame.loc[1500, ["present", "inlet_temp_f"]] = ["no", np.nan]
    assert analyze(frame).table["state"].iloc[1500] == "missing"


@pytest.mark.parametrize("hot_f", [200.0, 225.0])
def test_vents_whose_discharge_is_read_hot_are_not_all_open(hot_f: float) -> None:
    # One hand reads every discharge close to the vent: a plague of open vents is less likely.
    frame = alike("air_vent", 200, 240.0, 3.0)
    frame["outlet_temp_f"] = np.random.default_rng(2).normal(hot_f, 4.0, len(frame))
    frame["observed"] = np.where(np.arange(len(frame)) % 3 == 0, "nothing", None)
    table = analyze(frame).table
    assert (table["state"] == "working").mean() >= 0.95
    assert not table["evidence"].str.contains("blown open is commoner").any()


@pytest.mark.parametrize("reading", ["inlet_temp_f", "sound_db", "observed"])
def test_who_says_it_is_not_fitted_is_believed_whatever_was_read(reading: str) -> None:
    frame = alike("air_vent", 400, 238.0, 4.0)
    frame["outlet_temp_f"], frame["sound_db"], frame["observed"] = 120.0, 22.0, "nothing"
    frame.loc[399, ["inlet_temp_f", "outlet_temp_f", "sound_db", "observed"]] = [np.nan] * 4
    frame.loc[399, reading] = {"inlet_temp_f": 180.0, "sound_db": 22.0, "observed": "nothing"}[
        reading
    ]
    frame.loc[399, "present"] = "no"
    assert analyze(frame).table["state"].iloc[399] == "missing"


def test_a_vent_with_readings_is_there_though_nobody_says_so() -> None:
    frame = alike("air_vent", 120, 238.0, 4.0).assign(present=None, outlet_temp_f=120.0)
    frame.loc[:4, ["inlet_temp_f", "outlet_temp_f"]] = [150.0, 110.0]  # half full of air
    assert not (analyze(frame).table["state"] == "missing").any()


@pytest.mark.parametrize(("device", "hot_f"), [("air_vent", 238.0), ("vacuum_breaker", 225.0)])
@pytest.mark.parametrize("read", [{}, {"observed": "nothing", "sound_db": 22.0,
                                       "background_db": 26.0, "sound_pattern": "quiet"}])
@pytest.mark.parametrize("count", [60, 200, 400, 1000])
def test_a_valve_that_is_noted_closed_is_shut_however_hot_the_pipe_before_it(
    device: str, hot_f: float, read: dict[str, object], count: int
) -> None:
    # Steam stands as hot before a shut valve as before an open one, where the stub is short.
    frame = alike(device, count, hot_f, 3.0).assign(outlet_temp_f=85.0, **read)
    frame.loc[count - 3 :, "valve_position"] = "closed"
    state = analyze(frame).table["state"]
    assert (state[count - 3 :] == "isolated").all()
    assert (state[: count - 3] == "working").all()


@pytest.mark.parametrize(("count", "closed"), [(60, 5), (400, 30), (400, 60), (1000, 60)])
@pytest.mark.parametrize("device", ["air_vent", "vacuum_breaker"])
def test_one_open_valve_that_is_noted_shuts_none_that_are_not(
    device: str, count: int, closed: int
) -> None:
    # Once a valve is noted open a blank is a valve not read: those hot before it still work.
    frame = alike(device, count, 236.0, 3.0).assign(outlet_temp_f=85.0, observed="nothing")
    frame[["present", "valve_position"]] = None
    frame.loc[: closed - 1, "valve_position"] = "closed"
    frame.loc[closed, "valve_position"] = "open"
    assert (analyze(frame).table["state"][closed:] == "working").all()


def bled(count: int, usual: str) -> pd.DataFrame:
    """Return working check valves, bled on the trap's side; ``usual`` is what came of most."""
    frame = alike("check_valve", count, 205.0, 4.0)
    frame["outlet_temp_f"] = frame["inlet_temp_f"] - 3.0
    frame["observed"] = np.where(np.arange(count) % 4 == 3, None, usual)
    return frame


def test_a_check_valve_that_gives_water_where_none_else_does_lets_it_back() -> None:
    frame = bled(120, "nothing")
    frame.loc[118:, "observed"] = "water"
    frame.loc[118:, "outlet_temp_f"] = frame["inlet_temp_f"] + 6.0
    state = analyze(frame).table["state"]
    assert (state[118:] == "passing_back").all()
    assert (state[:118] == "working").all()


def test_check_valves_that_all_give_water_were_bled_while_it_flowed() -> None:
    assert (analyze(bled(120, "water")).table["state"] == "working").all()


def test_one_more_check_valve_that_gives_water_does_not_turn_the_others_round() -> None:
    chances = []
    for water in range(6, 40):
        frame = bled(120, "nothing")
        seen = np.flatnonzero(frame["observed"] == "nothing")
        frame.loc[seen[:water], "observed"] = "water"
        row = analyze(frame).table.loc[seen[0]]
        works = row["state"] == "working"
        chances.append(row["confidence"] if works else 1.0 - row["confidence"])
    assert np.abs(np.diff(chances)).max() < 0.15
