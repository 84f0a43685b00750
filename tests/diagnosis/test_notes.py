"""What is written down, against what was read: valves, what is not fitted, vents left out."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from diagnosis.conftest import Judged
from diagnosis.rounds import TWO_STATIONS, Plant, made_round
from diagnosis.test_healthy_devices import alike
from survey import analyze

MANY = [f"X-{n}" for n in range(400)]


def shut_vents(shut_f: float, hot: int) -> pd.DataFrame:
    """Return vents of which forty are noted closed, their inlets so warm, and so many hot ones."""
    frame = alike("air_vent", 400, 236.0, 3.0).assign(outlet_temp_f=85.0, sound_pattern="quiet")
    read = np.random.default_rng(4).normal(shut_f, 4.0, 40)
    frame.loc[:39, "inlet_temp_f"] = read
    frame.loc[: 39 + hot, "valve_position"] = "closed"
    traps = alike("trap", 400, 240.0, 2.0).assign(
        tag=[f"T-{n}" for n in range(400)], sound_db=32.0, background_db=22.0,
        sound_pattern="intermittent", trap_type="inverted_bucket", outlet_temp_f=200.0,
    )  # fmt: skip
    traps.loc[:7, "valve_position"] = "closed"  # two in a hundred are noted by mistake
    return pd.concat([frame, traps], ignore_index=True)


def test_a_hot_vent_that_is_noted_closed_works_where_the_shut_ones_are_cold() -> None:
    table = analyze(shut_vents(shut_f=90.0, hot=4)).table
    assert (table["state"][:40] == "isolated").all()
    assert (table["state"][40:44] == "working").all()
    assert table["action"][40:44].str.startswith("Look at its valve first").all()
    assert not table["action"][40:44].str.contains("Nothing to do.", regex=False).any()


def test_a_hot_vent_that_is_noted_closed_is_shut_where_the_shut_ones_are_hot() -> None:
    state = analyze(shut_vents(shut_f=236.0, hot=4)).table["state"]
    assert (state[:44] == "isolated").all()
    assert (state[44:400] == "working").all()


@pytest.mark.parametrize(("read", "state"), [("all", "working"), ("none", "missing")])
def test_a_vent_with_every_reading_is_there_though_noted_as_not_fitted(
    read: str, state: str
) -> None:
    frame = shut_vents(shut_f=90.0, hot=0)
    frame.loc[frame["device"] == "air_vent", ["observed", "sound_db"]] = ["air", 22.0]
    frame.loc[[399, *range(410, 416)], "present"] = "no"  # traps as well: notes are wrong at times
    if read == "none":
        gone = ["inlet_temp_f", "outlet_temp_f", "sound_db", "sound_pattern", "observed"]
        frame.loc[399, gone] = None
        frame.loc[399, "valve_position"] = None
    found = analyze(frame).table.iloc[399]
    assert found["state"] == state
    assert found["action"].startswith("See first whether it is there") == (state == "working")


def test_a_cold_vent_that_is_noted_as_not_fitted_is_missing_however_many_are() -> None:
    frame = alike("air_vent", 400, 236.0, 3.0).assign(outlet_temp_f=85.0, sound_db=22.0)
    for others in (0, 15, 40):
        gone = ["inlet_temp_f", "outlet_temp_f", "sound_db", "valve_position"]
        frame.loc[: others - 1, [*gone, "present"]] = [np.nan, np.nan, np.nan, None, "no"]
        frame.loc[399, [*gone, "present", "observed"]] = [75.0, 72.0, 22.0, None, "no", "nothing"]
        assert analyze(frame).table["state"].iloc[399] == "missing"


def test_one_note_on_a_trap_turns_no_vent_round() -> None:
    before = None
    for noted in range(4):
        frame = shut_vents(shut_f=90.0, hot=3)
        frame.loc[400:, "valve_position"] = None
        frame.loc[400 : 399 + noted, "valve_position"] = "closed"
        table = analyze(frame).table
        shut = np.where(table["state"] == "isolated", table["confidence"], 1 - table["confidence"])
        mine = float(shut[40:43].mean())
        assert before is None or abs(mine - before) < 0.25
        before = mine


def test_a_shut_valve_that_lets_a_little_by_is_still_shut(judged: Judged) -> None:
    # Lukewarm before it: too warm for a dead pipe, and the valve is noted as closed.
    tags = judged.tags("cold")
    tidy = judged.changed(tags, valve_position="closed", inlet_temp_f=120.0, outlet_temp_f=78.0)
    assert (judged.again(tidy).loc[tags, "cause"] == "valved_off").all()


def listed(share: float) -> tuple[float, float]:
    """Return what is made of a cool trap without a vent, by how many heaters have one listed.

    Half the vents are shut, and so many heaters have theirs in the round.
    """
    frame = made_round(Plant(stations=TWO_STATIONS, faults_every=1000))
    vents = np.flatnonzero(frame["device"] == "air_vent")
    frame.loc[vents[::2], ["valve_position", "inlet_temp_f", "observed"]] = ["closed", 90.0, None]
    frame = frame.drop(index=vents[: round((1.0 - share) * len(vents))]).reset_index(drop=True)
    trap = frame.index[(frame["device"] == "trap") & (frame["truth"] == "working")][0]
    frame = frame[
        ~((frame["equipment"] == frame.loc[trap, "equipment"]) & (frame["device"] != "trap"))
    ]
    steam_f = frame.loc[trap, "inlet_temp_f"]
    frame.loc[trap, ["inlet_temp_f", "outlet_temp_f"]] = [68.0 + 0.33 * (steam_f - 68.0), 105.0]
    frame.loc[trap, ["sound_pattern", "observed"]] = ["quiet", None]
    frame.loc[trap, "sound_db"] = frame.loc[trap, "background_db"]
    table = analyze(frame.drop(columns="truth")).table
    row = table[table["tag"] == frame.loc[trap, "tag"]].iloc[0]
    return float(row["p_cold"]), float(row["p_failed_closed"])


def test_where_nearly_all_heaters_have_a_vent_listed_one_without_may_have_a_shut_one() -> None:
    (nearly_all, _), (few, _) = listed(0.97), listed(0.3)
    assert nearly_all > 2.0 * few
