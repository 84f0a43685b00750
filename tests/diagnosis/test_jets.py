"""Leaking and blown-open traps: what tells one from the other in a plant unlike any other."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from pandas import DataFrame as Frame

from diagnosis.conftest import Judged
from diagnosis.rounds import AMBIENT_F, Plant, Station, made_round
from survey import analyze
from survey.diagnosis.flows import jet_chance
from survey.diagnosis.hypotheses import HYPOTHESES, INDEX
from survey.diagnosis.likelihood import outlet_density
from survey.diagnosis.model import Model
from survey.diagnosis.sound_levels import OPENINGS, sources_db
from survey.diagnosis.verdict import calibrate_round, diagnose
from survey.physics.saturation import saturation_f
from survey.readings import round_from_frame
from survey.site import Site

STATIONS = {"Hill": Station(100.0, 3.0, heaters=60), "Dell": Station(10.0, 1.0, heaters=60)}
HOT_LEAKS = {"leaking": (0.65, 0.10), "failed_open": (0.93, 0.80)}
"""How far the outlet stands from the return's saturation to the supply's, and what share of the
bore is open."""


def losing_round(thermometer: str = "contact", share: float = 0.97, varies: float = 0.0) -> Frame:
    """Return a round of two pressures whose leaks warm their outlets far, and sound ten dB less.

    A jet is louder by 15 dB a decade of pressure. Thermometers read ``share`` of the way, each
    unit's surface another one by the natural log ``varies``.
    """
    stations = {n: replace(s, share=share, thermometer=thermometer) for n, s in STATIONS.items()}
    frame = made_round(Plant(stations=stations, faults_every=2, companions=False))
    frame = frame[frame["truth"].isin(["working", *HOT_LEAKS])].reset_index(drop=True)
    random = np.random.default_rng(5)
    steam_f, back_f = (
        saturation_f(pressure_psia=frame[name].to_numpy(dtype=float) + 14.696)
        for name in ("supply_psig", "return_psig")
    )
    own = np.exp(random.normal(0.0, varies, len(frame)))
    for name in ("inlet_temp_f", "outlet_temp_f"):
        frame[name] = AMBIENT_F + own * (frame[name] - AMBIENT_F)
    for state, (far, opening) in HOT_LEAKS.items():
        mine = np.flatnonzero(frame["truth"] == state)
        way = far + random.normal(0.0, 0.05, len(mine))
        true_f = back_f[mine] + way * (steam_f - back_f)[mine]
        frame.loc[mine, "outlet_temp_f"] = AMBIENT_F + share * own[mine] * (true_f - AMBIENT_F)
        level = 60.0 + 10.0 * np.log10(opening) + random.normal(0.0, 2.5, len(mine))
        faster = 15.0 * np.log10(frame.loc[mine, "supply_psig"].to_numpy(dtype=float) / 60.0)
        frame.loc[mine, "sound_db"] = (level + faster).round()
    return frame.round({"inlet_temp_f": 0, "outlet_temp_f": 0})


@pytest.mark.parametrize(
    "read", [{}, {"thermometer": "infrared", "share": 0.85, "varies": 0.1}], ids=["probe", "gun"]
)
def test_leaks_that_warm_their_outlets_are_leaks_where_they_sound_so(read: dict) -> None:
    frame = losing_round(**read)
    state = analyze(frame).table["state"]
    for name in ("working", *HOT_LEAKS):
        mine = (frame["truth"] == name).to_numpy()
        assert mine.sum() >= 12
        assert (state[mine] == name).mean() >= 0.9, name


def test_a_sound_trap_on_a_hot_return_is_not_called_leaking_for_it() -> None:
    frame = losing_round()
    warm = np.flatnonzero((frame["truth"] == "working") & (frame["supply_psig"] == 100.0))[::8]
    assert len(warm) >= 3
    frame.loc[warm, "outlet_temp_f"] = 290.0
    frame.loc[warm, ["sound_pattern", "observed"]] = ["intermittent", "water"]
    lost = analyze(frame).table.loc[warm, ["p_leaking", "p_failed_open"]].sum(axis=1)
    assert (lost < 0.5).all()


def test_a_round_nobody_listened_to_tells_blown_from_leaking_by_its_outlets() -> None:
    frame = losing_round()
    frame[["sound_db", "background_db"]] = np.nan
    frame[["sound_pattern", "observed"]] = None
    state = analyze(frame).table["state"]
    blown = (frame["truth"] == "failed_open").to_numpy()
    assert (state[blown] == "failed_open").mean() >= 0.8


def test_off_a_gun_too_an_outlet_as_hot_as_the_inlet_speaks_for_lost_steam() -> None:
    frame = losing_round(thermometer="infrared", share=0.85, varies=0.1)
    frame[["sound_db", "background_db"]] = np.nan
    frame["sound_pattern"] = None
    tidy = round_from_frame(frame.drop(columns="truth")).table
    _, calibration = calibrate_round(tidy, site=Site())
    lost = []
    sound = np.where(tidy["supply_psig"] == 100.0, 0.58, 0.84)  # where a sound trap's outlet reads
    for further in np.linspace(0.0, 1.0, 15):
        way = sound + further * (1.0 - sound)
        outlet_f = AMBIENT_F + way * (tidy["inlet_temp_f"] - AMBIENT_F)
        read = tidy.assign(outlet_temp_f=outlet_f)
        verdicts = diagnose(read, site=Site(), calibration=calibration).verdicts
        lost.append(verdicts["p_leaking"] + verdicts["p_failed_open"])
    # As hot as the inlet it speaks for lost steam as no cooler one does, or nearly.
    assert (lost[-1] >= 0.85 * np.stack(lost).max(axis=0)).all()
    assert lost[-1].max() > 0.5


def test_the_same_flow_is_louder_at_a_higher_pressure(judged: Judged) -> None:
    rows = judged.diagnosis.intake.rows
    flow = np.full(len(rows), 10.0)
    low, high = (
        sources_db(Model(), replace(rows, supply_psig=np.full(len(rows), psig)), flow)
        for psig in (10.0, 100.0)
    )
    assert low.shape == (len(rows), 2 + len(OPENINGS))
    assert (high[:, 2:] > low[:, 2:]).all()


@pytest.mark.parametrize("name", ["leaking", "failed_open"])
def test_a_jet_is_as_likely_as_what_makes_one(name: str) -> None:
    likely = np.asfortranarray(np.full((2, len(HYPOTHESES)), 1e-9))
    likely[0, INDEX[name]] = 1.0
    likely[1, INDEX["working"]] = 1.0
    np.testing.assert_allclose(jet_chance(likely), [1.0, 0.0], atol=1e-6)


def test_no_outlet_over_a_sound_one_comes_to_speak_for_a_sound_trap() -> None:
    expected = np.full((400, len(Model().outlet_spread)), 0.65)
    expected[:, 2:4] = 0.75, 0.90  # leaking, blown open
    read = np.linspace(0.65, 1.0, 400)[:, None]
    density = outlet_density(Model(), read - expected, Model().outlet_blur[None], expected)
    assert (np.diff(density[:, 0]) <= 0.0).all()
    unread = np.full_like(expected, np.nan)
    missing = outlet_density(Model(), unread, Model().outlet_blur[None], expected)
    assert (missing == 1.0).all()


def test_a_check_valve_behind_a_blown_trap_is_told_by_its_temperatures() -> None:
    frame = made_round(Plant(faults_every=2))
    blown = frame.loc[frame["truth"] == "failed_open", "equipment"]
    checks = np.flatnonzero((frame["device"] == "check_valve") & frame["equipment"].isin(blown))
    assert len(checks) >= 3
    frame.loc[checks, "sound_db"] = frame["background_db"] + 24.0
    frame.loc[checks, "sound_pattern"] = "continuous"
    frame.loc[checks, "observed"] = None
    table = analyze(frame).table
    assert (table.loc[checks, "state"] == "working").all()


@pytest.mark.parametrize("tilt", [8.0, 10.0, 12.0])
def test_how_much_louder_more_flow_is_is_told_by_bores_whatever_the_openings(tilt: float) -> None:
    random = np.random.default_rng(8)
    frame = made_round(Plant(faults_every=2, stations={"Hill": Station(60.0, 3.0, heaters=400)}))
    frame = frame[frame["truth"].isin(["working", *HOT_LEAKS])].reset_index(drop=True)
    losing = np.flatnonzero(frame["truth"].isin(HOT_LEAKS))
    bore = random.choice([0.09, 0.125, 0.19, 0.25, 0.38], len(losing))
    # Blown ones three quarters open and leaks by a tenth, in each plant by the same.
    opening = np.where(frame.loc[losing, "truth"] == "failed_open", 0.75, 0.10)
    frame.loc[losing, "orifice_in"] = bore
    level = 60.0 + tilt * np.log10(opening * (bore / 0.19) ** 2)
    frame.loc[losing, "sound_db"] = (level + random.normal(0.0, 2.0, len(losing))).round()
    tidy = round_from_frame(frame.drop(columns="truth")).table
    _, calibration = calibrate_round(tidy, site=Site())
    assert calibration.model.jet_db_per_decade == pytest.approx(tilt, abs=1.0)


@pytest.mark.parametrize("leaks", [30, 60, 90])
def test_a_plant_that_only_leaks_is_not_told_that_its_traps_have_blown(leaks: int) -> None:
    frame = made_round(Plant(stations={"Hill": Station(60.0, 3.0, heaters=300)}, faults_every=999))
    frame = frame[frame["device"] == "trap"].reset_index(drop=True)
    random = np.random.default_rng(1)
    back_f = saturation_f(pressure_psia=np.full(leaks, 3.0 + 14.696))
    level = frame.loc[: leaks - 1, "background_db"] + 19.0 + random.normal(0.0, 2.0, leaks)
    frame.loc[: leaks - 1, "sound_db"] = level.round()
    frame.loc[: leaks - 1, ["sound_pattern", "observed"]] = ["continuous", None]
    way = 0.97 * (back_f - AMBIENT_F) + random.normal(0.0, 3.0, leaks)
    frame.loc[: leaks - 1, "outlet_temp_f"] = AMBIENT_F + way
    state = analyze(frame.drop(columns="truth")).table["state"][:leaks]
    assert (state == "leaking").mean() >= 0.9
