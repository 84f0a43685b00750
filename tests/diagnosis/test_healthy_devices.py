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
