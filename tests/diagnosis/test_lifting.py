"""Lifts: what is short of pressure, and what there may be where nobody wrote a lift down."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from diagnosis.rounds import TWO_STATIONS, Plant, Station, made_round
from survey import analyze
from survey.diagnosis.gaps import find_gaps, lifts
from survey.diagnosis.lifting import Lifts
from survey.diagnosis.model import Model
from survey.diagnosis.verdict import calibrate_round
from survey.pipeline import round_from_frame
from survey.site import Site

UNREAD = np.nan


def lifts_of(lift_ft: list[float], difference_psi: float) -> Lifts:
    rows = SimpleNamespace(lift_ft=np.array(lift_ft))
    return Lifts.of(rows, SimpleNamespace(supply_psia=14.7 + difference_psi, return_psia=14.7))


def low_round(**columns: object) -> pd.DataFrame:
    """Return a round at 6 psig in which every second trap stands back, and no check valve is."""
    frame = made_round(Plant(stations={"Low": Station(6.0, 1.0, heaters=40)}, companions=False))
    traps = np.flatnonzero(frame["truth"] == "working")[::2]
    frame.loc[traps, "inlet_temp_f"] = 68.0 + 0.68 * (230.0 - 68.0)
    frame.loc[traps, "outlet_temp_f"] = 120.0
    frame.loc[traps, ["sound_pattern", "observed"]] = ["quiet", None]
    frame.loc[traps, "sound_db"] = frame["background_db"]
    frame.loc[traps, "truth"] = "backed_up"
    return frame.assign(**columns)


def test_a_foot_more_of_lift_wants_a_foot_of_water_more() -> None:
    # 2.31 ft of water a psi at 60 °F, 2.38 at 180 °F: a foot wants 0.42 psi (density of water).
    short = lifts_of([10.0, 11.0], 3.0).short_psi
    assert short[1] - short[0] == pytest.approx(0.42, abs=0.005)


def test_an_unread_lift_is_the_likelier_out_of_reach_the_less_pressure_there_is() -> None:
    chances = [lifts_of([UNREAD], psi).chance(Model())[0] for psi in (1.0, 5.0, 20.0, 60.0)]
    assert chances == sorted(chances, reverse=True)
    assert chances[0] > 20 * chances[-1]
    assert lifts_of([0.0], 1.0).chance(Model())[0] < chances[2]  # none, by who looked


def test_no_pressure_known_leaves_an_unread_lift_as_none() -> None:
    assert lifts_of([UNREAD], np.nan).chance(Model()) == lifts_of([0.0], 5.0).chance(Model())


def test_traps_are_not_condemned_where_low_pressure_meets_lifts_nobody_noted() -> None:
    frame = low_round(lift_ft=UNREAD)
    table = analyze(frame, site=Site()).table
    stood = table[(frame["truth"] == "backed_up").to_numpy()]
    assert (stood["state"] == "backed_up").mean() >= 0.9
    blamed = stood[stood["cause"] == "lift"]
    assert len(blamed) >= 0.8 * len(stood)
    assert blamed["action"].str.startswith(("No lift of it is noted", "Confirm first")).all()
    assert blamed["action"].str.contains("measure how high its return rises").any()
    said = blamed["evidence"].str.contains("its pressure raises condensate 1[12] ft")
    assert said.any()


def uneven_round() -> tuple[pd.DataFrame, np.ndarray, np.ndarray]:
    """Return `low_round` with water standing unevenly high, and three traps that are shut.

    An open trap has the same water before it and behind: cool inlet, cool outlet. Behind a trap
    that is shut the pipe is dead, however warm it is before it. The three let air out by
    themselves, so that air is no other reason.
    """
    frame = low_round(lift_ft=UNREAD)
    stood = np.flatnonzero(frame["truth"] == "backed_up")
    inlet = np.linspace(0.42, 0.76, len(stood))
    frame.loc[stood, "inlet_temp_f"] = 68.0 + inlet * (230.0 - 68.0)
    frame.loc[stood, "outlet_temp_f"] = 68.0 + 0.62 * inlet * (230.0 - 68.0)
    shut = np.flatnonzero(frame["truth"] == "working")[:3]
    frame.loc[shut, ["sound_pattern", "observed", "truth"]] = ["quiet", None, "failed_closed"]
    frame.loc[shut, "sound_db"] = frame["background_db"]
    frame.loc[shut, "trap_type"] = "float_thermostatic"
    frame.loc[shut, "inlet_temp_f"] = 68.0 + 0.45 * (230.0 - 68.0)
    frame.loc[shut, "outlet_temp_f"] = 76.0
    return frame, stood, shut


def test_water_that_stands_higher_in_some_traps_is_not_failed_traps_in_the_others() -> None:
    frame, stood, shut = uneven_round()
    state = analyze(frame, site=Site()).table["state"]
    assert (state[stood] == "backed_up").mean() >= 0.9
    assert (state[shut] == "failed_closed").all()


def test_where_the_lift_is_in_question_it_is_the_reading_to_take() -> None:
    found = []
    for outlet_f in np.arange(98.0, 106.0, 0.1):  # from cool to warm
        frame, _, shut = uneven_round()
        frame.loc[shut, "outlet_temp_f"] = outlet_f
        found.append(analyze(frame, site=Site()).table.loc[shut])
    assert (found[0]["state"] == "failed_closed").all()
    assert (found[-1]["state"] == "backed_up").all()
    table = pd.concat(found).query("state == 'undecided'")
    assert len(table) >= 6
    assert table["action"].str.contains("backed up by its lift").all()
    assert table["action"].str.count("measure how high its return rises").eq(1).all()


def test_a_trap_that_may_be_held_up_is_not_condemned_by_a_hair() -> None:
    found = []
    for outlet_f in np.arange(98.0, 106.0, 0.1):
        frame, _, shut = uneven_round()
        frame.loc[shut, "outlet_temp_f"] = outlet_f
        found.append(analyze(frame, site=Site()).table.loc[shut])
    table = pd.concat(found)
    close = table[table["p_failed_closed"].between(0.5, 0.6, inclusive="neither")]
    assert len(close) >= 3
    assert (close["state"] == "undecided").all()
    assert close["action"].str.startswith("Undecided between").all()
    assert (table.loc[table["p_failed_closed"] >= 0.6, "state"] == "failed_closed").all()


def test_lifts_noted_only_where_there_are_some_are_none_elsewhere() -> None:
    tidy = round_from_frame(made_round(Plant(stations=TWO_STATIONS))).table
    traps = np.flatnonzero(tidy["device"] == "trap")
    tidy["lift_ft"] = UNREAD
    tidy.loc[traps[:3], "lift_ft"] = [8.0, 12.0, 16.0]
    gaps = find_gaps(tidy, Site())
    assert gaps.blank_is_no_lift
    assert (lifts(tidy, gaps)[traps[3:]] == 0.0).all()
    for other in (0.0, UNREAD):  # a 0 noted, or too few lifts: a blank is a lift not read
        tidy.loc[traps[2], "lift_ft"] = other
        assert not find_gaps(tidy, Site()).blank_is_no_lift


def test_the_more_pressure_pipes_take_the_likelier_a_lift_is_out_of_reach() -> None:
    lift = lifts_of([20.0, 30.0, UNREAD], 15.0)
    chances = [lift.out_of_reach(taken)[0] for taken in (0.0, 0.1, 0.2, 0.3)]
    assert np.all(np.diff([c[:2] for c in chances], axis=0) > 0)
    assert np.isnan([c[2] for c in chances]).all()


@pytest.mark.parametrize("taken", [0.05, 0.22])
def test_how_much_of_the_pressure_pipes_take_is_learnt_from_the_lifts(taken: float) -> None:
    frame = made_round(Plant(stations={"Low": Station(30.0, 1.0, heaters=90)}, companions=False))
    traps = np.flatnonzero(frame["truth"] == "working")
    # 2.38 ft of hot water a psi, density at 180 °F; 0.25 psi for the check valve.
    reach_ft = (29.0 - 0.25) * 2.38
    lift_ft = np.linspace(0.5, 1.1, len(traps)) * reach_ft
    held = lift_ft > (1.0 - taken) * reach_ft
    frame.loc[traps, "lift_ft"] = lift_ft
    frame.loc[traps[held], "inlet_temp_f"] = 68.0 + 0.6 * (274.0 - 68.0)
    frame.loc[traps[held], "outlet_temp_f"] = 68.0 + 0.45 * (274.0 - 68.0)
    frame.loc[traps[held], ["sound_pattern", "observed"]] = ["quiet", "water"]
    frame.loc[traps[held], "sound_db"] = frame["background_db"]
    tidy = round_from_frame(frame).table
    learnt = calibrate_round(tidy, site=Site())[1].model.lift_taken
    assert learnt == pytest.approx(taken, abs=0.05)
    found = analyze(frame, site=Site()).table
    assert (found.loc[traps[held], "cause"] == "lift").mean() >= 0.9
    assert (found.loc[traps[~held], "state"] == "working").mean() >= 0.9


@pytest.mark.parametrize("lift_ft", np.arange(98.0, 110.0, 2.0))
@pytest.mark.parametrize("shut", [2, 4, 6])
def test_a_few_shut_traps_do_not_teach_the_lift_that_excuses_them(
    lift_ft: float, shut: int
) -> None:
    # 60 psig less 1 psig lifts hot water some 140 ft; dead pipes behind the traps, water before.
    frame = made_round(Plant(stations={"Hall": Station(60.0, 1.0, heaters=60)}, companions=False))
    dead = np.flatnonzero(frame["truth"] == "working")[:shut]
    frame["lift_ft"] = UNREAD
    frame.loc[dead, "lift_ft"] = lift_ft
    frame.loc[dead, "inlet_temp_f"] = 68.0 + 0.45 * (307.0 - 68.0)
    frame.loc[dead, "outlet_temp_f"] = 68.0 + 0.09 * (307.0 - 68.0)
    frame.loc[dead, ["sound_pattern", "observed"]] = ["quiet", None]
    frame.loc[dead, "sound_db"] = frame["background_db"]
    found = analyze(frame, site=Site()).table.loc[dead]
    assert (found["state"] == "failed_closed").all()
