"""Discharges of vents and breakers: told by their own inlet, be their heater hot or not."""

from __future__ import annotations

import re

import numpy as np
import pytest

from diagnosis.test_healthy_devices import alike
from survey import analyze

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
