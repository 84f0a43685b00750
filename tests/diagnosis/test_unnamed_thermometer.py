"""A round that names no thermometer: what it was taken to be is said."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from survey import Site, analyze
from survey.diagnosis.found import GUESSED


def read_with_a_gun(named: str | None, seed: int = 3) -> pd.DataFrame:
    """Return working traps of two stations whose surfaces, each its own, read low."""
    rng = np.random.default_rng(seed)
    count = 60
    share = rng.uniform(0.72, 0.97, count)
    inlet, outlet = 292.0 - rng.uniform(0, 5, count), 222.0 + rng.normal(0, 3, count)
    return pd.DataFrame({
        "tag": [f"T-{i}" for i in range(count)],
        "trap_type": "float_thermostatic",
        "station": np.where(np.arange(count) % 2, "East", "West"),
        "supply_psig": 50.0,
        "inlet_temp_f": np.round(70 + share * (inlet - 70)),
        "outlet_temp_f": np.round(70 + share * (outlet - 70)),
        "sound_db": np.round(rng.normal(36, 2, count)),
        "background_db": 30.0,
        "sound_pattern": "quiet",
        **({"thermometer": named} if named else {}),
    })  # fmt: skip


@pytest.mark.parametrize(("named", "times"), [(None, 1), ("infrared", 0)])
def test_a_guessed_gun_is_said_to_be_one_and_once(named: str | None, times: int) -> None:
    found = analyze(read_with_a_gun(named), site=Site()).summary["calibration"]
    guns = [line for line in found if line["what"] == "infrared thermometer"]
    assert [line["group"] for line in guns] == ["East", "West"]
    assert sum(line["words"].count(GUESSED.strip()) for line in found) == times


@pytest.mark.parametrize("seed", range(3))
def test_the_share_of_a_gun_lies_in_its_range(seed: int) -> None:
    rows = read_with_a_gun("infrared", seed)
    # All of one surface: nearly all of the chance is then at one place of the grid.
    rows["inlet_temp_f"], rows["outlet_temp_f"] = 284.0, 217.0
    found = analyze(rows, site=Site()).summary["calibration"]
    for line in found:
        if line["what"] == "infrared thermometer":
            assert line["low"] <= line["value"] <= line["high"]
