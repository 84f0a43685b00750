"""What a vent shows of its heater: flooded it is lukewarm, full of air it is the coldest place.

Steam comes to the top of a heater first, and air gathers where it should leave: physics. How warm
is common practice, no source, so only the direction is held here.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from diagnosis.conftest import Judged
from diagnosis.rounds import made_round
from diagnosis.test_healthy_devices import alike
from survey import Site, analyze
from survey.columns import TRAP_TYPES
from survey.diagnosis.holding_up import chances_of_air
from survey.diagnosis.verdict import calibrate_round
from survey.readings import round_from_frame


@pytest.mark.parametrize("valve", ["open", None])
def test_a_warmer_vent_speaks_for_the_trap_and_against_air(
    judged: Judged, valve: str | None
) -> None:
    # No valve noted, or noted open; the trap's own readings stay those of one that is shut.
    tags = judged.tags("failed_closed")
    vents = [tag.replace("T-", "V-") for tag in tags]
    steps = []
    for share in (0.15, 0.3, 0.45, 0.6):
        tidy = judged.changed(vents, valve_position=valve, present=None, outlet_temp_f=np.nan)
        mine = tidy["tag"].isin(vents)
        supply = 270.0  # a little under the saturation of 60 psig, over that of 15
        tidy.loc[mine, "inlet_temp_f"] = 68.0 + share * (supply - 68.0)
        chances = judged.weighed(tidy)[0].loc[tags]
        steps.append(chances["failed_closed"] / chances["cold_by_vent"])
    odds = pd.concat(steps, axis=1)
    assert (odds.diff(axis=1).iloc[:, 1:] > 0).all(axis=None)


def test_a_lukewarm_vent_is_not_called_shut_where_the_trap_is_cool(judged: Judged) -> None:
    tags = judged.tags("failed_closed")
    vents = [tag.replace("T-", "V-") for tag in tags]
    tidy = judged.changed(vents, valve_position=None, present=None, inlet_temp_f=200.0)
    tidy.loc[tidy["tag"].isin(vents), "outlet_temp_f"] = 95.0
    verdicts = judged.again(tidy)
    assert (verdicts.loc[vents, "state"] != "isolated").all()
    assert (verdicts.loc[tags, "state"] == "failed_closed").all()


def test_water_from_a_vent_of_a_flooded_heater_is_no_steam(judged: Judged) -> None:
    tags = judged.tags("backed_up")
    vents = [tag.replace("T-", "V-") for tag in tags]
    tidy = judged.changed(
        vents, inlet_temp_f=190.0, outlet_temp_f=140.0, observed="water", sound_pattern="modulating"
    )
    verdicts = judged.again(tidy)
    assert (verdicts.loc[vents, "state"] == "passing_water").all()
    assert (verdicts.loc[tags, "state"] == "backed_up").all()


def test_a_cool_breaker_is_not_leaking_for_two_cool_pipes_alike() -> None:
    frame = alike("vacuum_breaker", 200, 225.0, 4.0)
    frame["outlet_temp_f"] = np.random.default_rng(2).normal(90.0, 5.0, len(frame))
    frame.loc[199, ["inlet_temp_f", "outlet_temp_f"]] = [88.0, 88.0]
    assert analyze(frame).table["state"].iloc[199] != "leaking"


def test_a_device_with_nothing_read_is_not_called_working() -> None:
    frame = alike("air_vent", 60, 225.0, 4.0)
    frame.loc[59, ["inlet_temp_f", "valve_position", "present"]] = [np.nan, None, None]
    found = analyze(frame)
    assert len(found.table) + len(found.rejects) == 60
    assert found.table.set_index("tag")["state"].get("X-59", "set aside") != "working"


def test_a_trap_that_lets_air_out_by_itself_is_less_likely_held_up_by_a_shut_vent(
    judged: Judged,
) -> None:
    # A thermostatic element passes air, a bucket only by its pinhole: common practice, no source.
    tags = judged.tags("cold")
    odds = {}
    for trap_type in ("float_thermostatic", "inverted_bucket"):
        chances = judged.weighed(judged.changed(tags, trap_type=trap_type))[0].loc[tags]
        odds[trap_type] = chances["cold_by_vent"] / chances["failed_closed"]
    assert (odds["float_thermostatic"] < odds["inverted_bucket"] / 2.0).all()


@pytest.mark.parametrize("trap_type", ["float_thermostatic", "inverted_bucket"])
def test_a_round_whose_shut_vents_bind_every_heater_is_believed(trap_type: str) -> None:
    place = {"equipment": [f"UH-{n}" for n in range(90)], "supply_psig": 40.0, "ambient_f": 70.0}
    traps = pd.DataFrame(
        place | {"tag": [f"T-{n}" for n in range(90)], "device": "trap", "trap_type": trap_type,
                 "inlet_temp_f": 124.0, "outlet_temp_f": 100.0, "sound_db": 26.0,
                 "background_db": 26.0, "sound_pattern": "quiet", "observed": "air"}
    )  # fmt: skip
    vents = pd.DataFrame(
        place | {"tag": [f"V-{n}" for n in range(90)], "device": "air_vent",
                 "valve_position": "closed", "inlet_temp_f": 112.0}
    )  # fmt: skip
    lit = {"inlet_temp_f": 282.0, "outlet_temp_f": 205.0, "sound_db": 36.0, "observed": "water",
           "sound_pattern": "intermittent"}  # fmt: skip
    traps.loc[70:, list(lit)] = list(lit.values())
    vents.loc[70:, ["valve_position", "inlet_temp_f"]] = ["open", 275.0]
    tidy = round_from_frame(pd.concat([traps, vents], ignore_index=True)).table
    _, found = calibrate_round(tidy, site=Site())
    code = np.array([TRAP_TYPES.index(trap_type)])
    assert chances_of_air(found.model, code, np.array([45.0]))[0, 1] > 0.8


def test_how_often_shut_vents_bind_is_learnt_by_what_traps_let_out(judged: Judged) -> None:
    # The same heaters bound with traps that let air out say more of shut vents than with others.
    learnt = {}
    for trap_type in ("float_thermostatic", "inverted_bucket"):
        tidy = judged.tidy.copy()
        tidy.loc[tidy["device"] == "trap", "trap_type"] = trap_type
        learnt[trap_type] = calibrate_round(tidy, site=Site())[1].model.air_bound_if_shut
    assert learnt["float_thermostatic"] > learnt["inverted_bucket"]


def test_a_warmer_breaker_speaks_for_the_trap_and_against_air() -> None:
    frame = made_round()
    heaters = frame.loc[frame["device"] == "trap", "equipment"]
    breakers = alike("vacuum_breaker", len(heaters), 225.0, 8.0)
    breakers = breakers.assign(equipment=heaters.to_numpy(), station=None)
    breakers["station"] = frame.loc[heaters.index, "station"].to_numpy()
    breakers["supply_psig"] = frame.loc[heaters.index, "supply_psig"].to_numpy()
    frame = pd.concat([frame, breakers], ignore_index=True)
    shut = frame["truth"] == "failed_closed"
    vents = (frame["device"] == "air_vent") & frame["equipment"].isin(frame[shut]["equipment"])
    frame.loc[vents, ["valve_position", "inlet_temp_f"]] = ["closed", 95.0]
    mine = (frame["device"] == "vacuum_breaker") & frame["equipment"].isin(frame[shut]["equipment"])
    odds = []
    for share in (0.15, 0.3, 0.45, 0.6):
        frame.loc[mine, "inlet_temp_f"] = 68.0 + share * (225.0 - 68.0)
        table = analyze(frame.drop(columns="truth")).table[shut.to_numpy()]
        odds.append(table["p_failed_closed"] / table["p_cold"])
    assert (pd.concat(odds, axis=1).diff(axis=1).iloc[:, 1:] > 0).all(axis=None)
