"""Discharges of vents and breakers: told by their own inlet, be their heater hot or not."""

from __future__ import annotations

import re

import numpy as np
import pytest

from diagnosis.conftest import Judged
from diagnosis.test_healthy_devices import alike
from survey import Site, analyze
from survey.diagnosis.verdict import diagnose
from survey.readings import round_from_frame

PASSING = {"vacuum_breaker": ("leaking",), "air_vent": ("failed_open", "passing_water")}


@pytest.mark.parametrize("inlet_f", [140.0, 180.0, 225.0])
@pytest.mark.parametrize("device", list(PASSING))
def test_a_discharge_as_warm_as_the_inlet_passes_whatever_the_heater_does(
    device: str, inlet_f: float
) -> None:
    frame = alike(device, 200, 225.0, 4.0)
    frame["outlet_temp_f"] = np.random.default_rng(2).normal(105.0, 5.0, len(frame))
    frame.loc[199, ["inlet_temp_f", "outlet_temp_f"]] = [inlet_f, inlet_f - 9.0]
    frame.loc[198, ["inlet_temp_f", "outlet_temp_f"]] = [inlet_f, 70.0 + 0.2 * (inlet_f - 70.0)]
    table = analyze(frame).table
    assert table["state"].iloc[199] in PASSING[device]
    assert re.search(f"(?i)its inlet (reads )?{inlet_f:.0f} °F", table["evidence"].iloc[199])
    assert (table["state"].iloc[:199] == "working").all()


@pytest.mark.parametrize("device", list(PASSING))
def test_a_quiet_pattern_and_a_level_of_nothing_say_one_thing_not_two(device: str) -> None:
    # What passes too little to hear is quiet, and no louder than what is around it.
    frame = alike(device, 200, 225.0, 4.0).assign(sound_db=22.0, background_db=22.0)
    frame["outlet_temp_f"] = np.random.default_rng(2).normal(90.0, 4.0, len(frame))
    frame["sound_pattern"] = "quiet"
    frame.loc[199, "outlet_temp_f"] = 180.0
    tidy = round_from_frame(frame).table
    round_ = Judged(frame, tidy, diagnose(tidy, site=Site()))

    def odds(**read: object) -> float:
        changed = round_.changed(["X-199"], **read)
        chance = round_.weighed(changed)[1][device].loc["X-199"]
        return float(chance[list(PASSING[device])].sum() / chance["working"])

    neither = odds(sound_pattern=None, sound_db=np.nan)
    each = odds(sound_db=np.nan) / neither, odds(sound_pattern=None) / neither
    assert max(each) < 1.0
    assert odds() > 2.0 * each[0] * each[1] * neither
