"""What every finding promises, for whole rounds and for the odd ones: numbers, words, flags."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pandas as pd
import pytest

from diagnosis.conftest import SITE, Judged
from diagnosis.rounds import Plant, Station, made_round
from survey.columns import CAUSES, FINDING_NAMES, STATES_BY_DEVICE, TRAP_STATES, UNDECIDED
from survey.findings import Findings
from survey.pipeline import analyze

CHANCES = [f"p_{state}" for state in TRAP_STATES]
NUMBERS = [
    "confidence",
    "steam_loss_lb_per_h",
    "steam_loss_low_lb_per_h",
    "steam_loss_high_lb_per_h",
    "annual_loss_klb",
    "annual_cost",
    "annual_cost_low",
    "annual_cost_high",
    "annual_co2_t",
]
TOTALS = [
    "steam_loss_lb_per_h",
    "steam_loss_low_lb_per_h",
    "steam_loss_high_lb_per_h",
    "annual_cost",
    "annual_cost_low",
    "annual_cost_high",
    "annual_co2_t",
    "annual_loss_klb",
]
CAUSES_BY_STATE = {
    "working": {"none"},
    "leaking": {"trap"},
    "failed_open": {"trap"},
    "failed_closed": {"trap"},
    "backed_up": {"check_valve", "lift", "unknown"},
    "cold": {"air_vent", "valved_off", "unknown"},
    UNDECIDED: {"unknown"},
}


def assert_promises_kept(findings: Findings) -> pd.DataFrame:
    """Hold findings to what their columns promise, whatever the readings were."""
    table = findings.table
    traps = (table["device"] == "trap").to_numpy()
    chances = table[CHANCES].to_numpy(float)
    np.testing.assert_allclose(chances[traps].sum(axis=1), 1.0, atol=1e-9)
    assert ((chances[traps] >= 0.0) & (chances[traps] <= 1.0)).all()
    assert np.isnan(chances[~traps]).all()
    assert np.isfinite(table[NUMBERS].to_numpy(float)).all()
    assert table["confidence"].between(0.0, 1.0).all()
    assert not np.isinf(table[list(FINDING_NAMES)].select_dtypes("number").to_numpy()).any()
    for device, state, cause in table[["device", "state", "cause"]].itertuples(index=False):
        assert state in (*STATES_BY_DEVICE[device], UNDECIDED)
        assert cause in CAUSES
        if device == "trap":
            assert cause in CAUSES_BY_STATE[state]
    low, high = table["steam_loss_low_lb_per_h"], table["steam_loss_high_lb_per_h"]
    assert (low >= 0.0).all()
    assert (low <= high).all()
    for name in ("evidence", "action"):
        assert table[name].str.len().gt(10).all()
        assert not table[name].str.contains(r"\bnan\b|\binf\b|None|_").any()
    decided = table[traps & (table["state"] != UNDECIDED)]
    best = decided[CHANCES].to_numpy(float).max(axis=1)
    np.testing.assert_allclose(best, decided["confidence"], atol=1e-12)
    own = [row[f"p_{row['state']}"] for _, row in decided.iterrows()]
    np.testing.assert_allclose(own, decided["confidence"], atol=1e-12)
    for name in TOTALS:
        assert math.isfinite(findings.summary[name])
        assert findings.summary[name] >= 0.0
    assert sum(findings.summary["states"].values()) == len(table)
    return table.set_index("tag")


def heaters(count: int, **plant: object) -> pd.DataFrame:
    """Return a round of one station with so many heaters."""
    return made_round(Plant(stations={"Hill": Station(60.0, 3.0, heaters=count)}, **plant))


def traps_only(count: int) -> pd.DataFrame:
    """Return a round of so many traps and nothing else."""
    return heaters(count, companions=False)


def without(frame: pd.DataFrame, *columns: str) -> pd.DataFrame:
    """Return a round that has no reading in some of its columns, though the columns are there."""
    return frame.assign(**dict.fromkeys(columns, np.nan))


def _same_but_tag(count: int) -> pd.DataFrame:
    row = traps_only(1)
    return pd.concat([row] * count, ignore_index=True).assign(tag=[f"T-{n}" for n in range(count)])


ODD: dict[str, Callable[[], pd.DataFrame]] = {
    "one row": lambda: traps_only(1),
    "two rows": lambda: traps_only(2),
    "one tag and one temperature": lambda: pd.DataFrame({"tag": ["1"], "inlet_temp_f": [212.0]}),
    "one tag and one pattern": lambda: pd.DataFrame({"tag": ["1"], "sound_pattern": ["quiet"]}),
    "only vents": lambda: heaters(8).query("device == 'air_vent'"),
    "identical rows": lambda: _same_but_tag(12),
    "no pressures": lambda: without(heaters(10), "supply_psig", "return_psig"),
    "no temperatures": lambda: without(heaters(10), "inlet_temp_f", "outlet_temp_f"),
    "no sound": lambda: without(heaters(10), "sound_db", "background_db", "sound_pattern"),
    "no background": lambda: without(heaters(10), "background_db"),
    "only patterns": lambda: traps_only(10)[["tag", "sound_pattern"]],
    "no station, area, equipment or type": lambda: without(
        heaters(10), "station", "area", "equipment", "trap_type", "service", "thermometer"
    ),
    "constant temperatures": lambda: traps_only(10).assign(inlet_temp_f=212.0, outlet_temp_f=212.0),
    "everything off": lambda: traps_only(10).assign(
        inlet_temp_f=68.0, outlet_temp_f=68.0, sound_db=20.0, background_db=20.0,
        sound_pattern="quiet", observed="nothing",
    ),
    "everything blown open": lambda: traps_only(10).assign(
        inlet_temp_f=300.0, outlet_temp_f=260.0, sound_db=55.0, background_db=25.0,
        sound_pattern="continuous", observed="steam",
    ),
    "air hotter than steam": lambda: traps_only(6).assign(supply_psig=0.0, ambient_f=240.0),
    "a return at, over and far under its supply": lambda: traps_only(6).assign(
        supply_psig=[3.0, 3.0, 2.0] * 2, return_psig=[3.0, 30.0, -8.0] * 2
    ),
    "the ends of every range": lambda: traps_only(6).assign(
        supply_psig=3000.0, orifice_in=[1e-3, 2.0] * 3, sound_db=200.0, background_db=-200.0
    ),
    "all infrared": lambda: traps_only(10).assign(thermometer="infrared"),
}  # fmt: skip


@pytest.mark.parametrize("name", ODD)
def test_an_odd_round_keeps_every_promise(name: str) -> None:
    frame = ODD[name]()
    table = assert_promises_kept(analyze(frame, site=SITE))
    assert len(table) == len(frame)


def test_a_whole_round_keeps_every_promise(findings: Findings) -> None:
    assert_promises_kept(findings)


def test_identical_rows_get_identical_verdicts() -> None:
    table = analyze(_same_but_tag(12).assign(equipment=None), site=SITE).table
    assert len(set(table["state"])) == 1
    assert table["confidence"].max() - table["confidence"].min() < 1e-12
    assert len(set(table["evidence"])) == 1


def test_a_pressure_alone_decides_nothing() -> None:
    frame = traps_only(4)[["tag", "supply_psig", "return_psig"]]
    table = analyze(frame, site=SITE).table
    assert (table["state"] == UNDECIDED).all()
    assert (table["cause"] == "unknown").all()


def test_a_trap_of_unknown_type_is_judged(judged: Judged, found: pd.DataFrame) -> None:
    frame = judged.frame.copy()
    tags = judged.tags("failed_open") + judged.tags("working")[:6] + judged.tags("cold")
    frame.loc[frame["tag"].isin(tags), "trap_type"] = None
    table = analyze(frame, site=SITE).table.set_index("tag").loc[tags]
    truth = judged.frame.set_index("tag").loc[tags, "truth"]
    assert (table["state"] == truth).all()
    assert table["flags"].str.contains("type_unknown").all()
    assert not found["flags"].str.contains("type_unknown").any()


def test_every_type_unknown_still_judges(judged: Judged) -> None:
    table = assert_promises_kept(analyze(judged.frame.assign(trap_type=None), site=SITE))
    truth = judged.frame[judged.frame["device"] == "trap"].set_index("tag")["truth"]
    assert (table.loc[truth.index, "state"] == truth).mean() >= 0.85


READ = ["inlet_temp_f", "outlet_temp_f", "sound_db", "background_db", "sound_pattern", "observed"]


def half_read(frame: pd.DataFrame, seed: int) -> pd.DataFrame:
    """Take away half of all the readings, here and there."""
    frame = frame.copy()
    random = np.random.default_rng(seed)
    for name in READ:
        frame.loc[random.random(len(frame)) < 0.5, name] = np.nan
    return frame


@pytest.mark.parametrize("seed", [1])
def test_half_the_readings_still_judge_less_surely(
    judged: Judged, found: pd.DataFrame, seed: int
) -> None:
    halved = half_read(judged.frame, seed)
    table = assert_promises_kept(analyze(halved, site=SITE))
    truth = judged.frame[judged.frame["device"] == "trap"].set_index("tag")["truth"]
    traps = [tag for tag in truth.index if tag in table.index]
    whole, half = found.loc[traps, "confidence"], table.loc[traps, "confidence"]
    assert half.mean() < whole.mean()
    assert (table.loc[traps, "state"] == truth[traps]).mean() > 0.75
    bits = -(table.loc[traps, CHANCES] * np.log2(table.loc[traps, CHANCES] + 1e-300)).sum(axis=1)
    before = -(found.loc[traps, CHANCES] * np.log2(found.loc[traps, CHANCES] + 1e-300)).sum(axis=1)
    assert bits.mean() > before.mean()
