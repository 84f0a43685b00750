"""What must change no verdict: order, batches, units, columns that say nothing, names."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pandas as pd
import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from diagnosis.conftest import SITE, Judged
from diagnosis.rounds import Plant, made_round
from survey.columns import INPUT_BY_NAME, TRAP_STATES
from survey.diagnosis.verdict import diagnose
from survey.physics.units import absolute_psia
from survey.pipeline import analyze
from survey.site import Site

CHANCES = ["confidence", *(f"p_{state}" for state in TRAP_STATES)]
NUMBERS = [*CHANCES, "saturation_f", "subcooling_f", "sound_over_background_db"]
MONEY = ["steam_loss_lb_per_h", "steam_loss_low_lb_per_h", "annual_cost", "annual_co2_t", "rank"]


def assert_same_verdicts(
    got: pd.DataFrame, expected: pd.DataFrame, *, numbers: list[str] | None = None
) -> None:
    """Hold two sets of verdicts, indexed by tag, against each other."""
    got = got.loc[expected.index]
    for name in ("state", "cause", "flags"):
        wrong = got[name].to_numpy(object) != expected[name].to_numpy(object)
        pairs = zip(expected[name][wrong], got[name][wrong], strict=True)
        changed = dict(zip(expected.index[wrong], pairs, strict=True))
        assert not changed, f"{name} of {len(changed)}, such as {list(changed.items())[:3]}"
    for name in numbers or NUMBERS:
        np.testing.assert_allclose(
            got[name].to_numpy(float), expected[name].to_numpy(float), rtol=1e-6, atol=1e-7,
            err_msg=name,
        )  # fmt: skip


@pytest.mark.parametrize("seed", [1])
def test_row_order_changes_nothing(judged: Judged, found: pd.DataFrame, seed: int) -> None:
    shuffled = judged.frame.sample(frac=1.0, random_state=seed)
    again = analyze(shuffled, site=SITE).table.set_index("tag")
    assert_same_verdicts(again, found, numbers=NUMBERS + MONEY)
    assert (again.loc[found.index, "evidence"] == found["evidence"]).all()
    assert (again.loc[found.index, "action"] == found["action"]).all()


def by_area(frame: pd.DataFrame) -> list[pd.DataFrame]:
    """Split a round into one batch per area; equipment is never torn apart."""
    return [part for _, part in frame.groupby("area", observed=True)]


def by_station(frame: pd.DataFrame) -> list[pd.DataFrame]:
    """Split a round into one batch per station."""
    return [part for _, part in frame.groupby("station", observed=True)]


def by_equipment(frame: pd.DataFrame) -> list[pd.DataFrame]:
    """Take one batch from each fourth piece of equipment."""
    few = frame[frame["equipment"].isin(frame["equipment"].unique()[::4])]
    return [part for _, part in few.groupby("equipment", observed=True)]


Split = Callable[[pd.DataFrame], list[pd.DataFrame]]


@pytest.mark.parametrize("split", [by_area, by_station, by_equipment])
def test_batches_judged_with_the_rounds_calibration_change_nothing(
    judged: Judged, split: Split
) -> None:
    parts = [judged.again(part.reset_index(drop=True)) for part in split(judged.tidy)]
    got = pd.concat(parts)
    assert len(got) >= 30
    assert_same_verdicts(got, judged.again(judged.tidy).loc[got.index])


@pytest.mark.parametrize("gap", ["orifice_in", "supply_psig", "return_psig", "ambient_f"])
def test_a_gap_is_filled_alike_in_a_batch_and_in_the_round(judged: Judged, gap: str) -> None:
    tidy = judged.tidy.copy()
    # One area has none of these at all; the rest of the round has them, a little apart.
    tidy[gap] += np.where(np.arange(len(tidy)) % 2, 0.02, 0.0)
    tidy.loc[tidy["area"] == "House 1", gap] = np.nan
    whole = diagnose(tidy, site=SITE)
    parts = [
        (part, diagnose(part.reset_index(drop=True), site=SITE, calibration=whole.calibration))
        for part in by_area(tidy)
    ]
    got = pd.concat([d.verdicts.set_index(part["tag"].astype("object")) for part, d in parts])
    assert_same_verdicts(got, whole.verdicts.set_index(tidy["tag"].astype("object")))
    flows = np.concatenate([d.flow_lb_per_h for _, d in parts])
    order = np.concatenate([part.index for part, _ in parts])
    np.testing.assert_allclose(flows, whole.flow_lb_per_h[order])


def celsius(f: pd.Series) -> pd.Series:
    """Turn °F into °C."""
    return (f - 32.0) / 1.8


TO_UNIT: dict[str, Callable[[pd.Series], pd.Series]] = {
    "inlet_temp_c": celsius,
    "outlet_temp_c": celsius,
    "ambient_c": celsius,
    "supply_bar": lambda psig: psig * 0.0689475729,
    "return_bar": lambda psig: psig * 0.0689475729,
    "supply_kpa": lambda psig: psig * 6.89475729,
    "return_kpa": lambda psig: psig * 6.89475729,
    "orifice_mm": lambda inches: inches * 25.4,
    "lift_m": lambda feet: feet * 0.3048,
}
SI = ("inlet_temp_c", "outlet_temp_c", "ambient_c", "orifice_mm", "lift_m")


def in_units(frame: pd.DataFrame, names: tuple[str, ...]) -> pd.DataFrame:
    """Return a round with some columns in other units, under the names of those units."""
    given: dict[str, pd.Series] = {}
    for column in frame.columns:
        stem = column.rsplit("_", 1)[0]
        other = next((name for name in names if name.rsplit("_", 1)[0] == stem), None)
        if other is None or INPUT_BY_NAME.get(column, INPUT_BY_NAME["tag"]).kind != "number":
            given[column] = frame[column]
        else:
            given[other] = TO_UNIT[other](frame[column])
    return pd.DataFrame(given)


@pytest.mark.parametrize("names", [(*SI, "supply_bar", "return_bar"), ("supply_kpa", "return_kpa")])
def test_input_units_change_nothing(
    judged: Judged, found: pd.DataFrame, names: tuple[str, ...]
) -> None:
    other = in_units(judged.frame, names)
    assert set(names) <= set(other.columns)
    again = analyze(other, site=SITE).table.set_index("tag")
    assert_same_verdicts(again, found, numbers=NUMBERS + MONEY)


def test_absolute_pressures_change_nothing_at_altitude(judged: Judged) -> None:
    site = Site(altitude_ft=5280.0)
    gauge = analyze(judged.frame, site=site).table.set_index("tag")
    other = judged.frame.copy()
    for name in ("supply", "return"):
        absolute = absolute_psia(
            gauge_psig=other.pop(f"{name}_psig").to_numpy(), altitude_ft=5280.0
        )
        other[f"{name}_psia"] = absolute
    again = analyze(other, site=site).table.set_index("tag")
    assert_same_verdicts(again, gauge, numbers=NUMBERS + MONEY)


def test_columns_that_say_nothing_change_nothing(judged: Judged, found: pd.DataFrame) -> None:
    frame = judged.frame.drop(columns=["observed"])
    silent = analyze(frame, site=SITE).table.set_index("tag")
    more = frame.assign(
        observed=pd.Series(np.nan, index=frame.index, dtype="object"),
        hours_per_year=np.nan,
        painted=["green", "grey"] * (len(frame) // 2),
        weight_lb=np.arange(len(frame), dtype=float),
    )
    again = analyze(more, site=SITE).table.set_index("tag")
    assert_same_verdicts(again, silent, numbers=NUMBERS + MONEY)
    assert not np.allclose(silent["confidence"], found["confidence"])  # what was left out did tell


def test_names_change_nothing(judged: Judged, found: pd.DataFrame) -> None:
    frame = judged.frame.assign(
        equipment=judged.frame["equipment"].map(lambda name: f"heater {name[::-1]}"),
        station=judged.frame["station"].map({"Hill": "Aa", "Dell": "Zz"}),
    )
    again = analyze(frame, site=SITE).table.set_index("tag")
    assert_same_verdicts(again, found)


TRAP: dict[str, object] = {
    "device": "trap",
    "trap_type": "inverted_bucket",
    "supply_psig": 15.0,
    "return_psig": 1.0,
    "orifice_in": 0.1875,
    "inlet_temp_f": 110.0,
    "outlet_temp_f": 100.0,
    "equipment": "E-1",
}
CHECK: dict[str, object] = {"device": "check_valve", "equipment": "E-1"}
VENT: dict[str, object] = {"device": "air_vent", "equipment": "E-1"}
SHARED_EQUIPMENT: dict[str, list[dict[str, object]]] = {
    "two traps of two services": [
        TRAP | {"tag": "T-1", "service": "unit_heater"},
        TRAP | {"tag": "T-2", "service": "drip"},
    ],
    "two check valves": [
        TRAP | {"tag": "T-1", "inlet_temp_f": 190.0},
        CHECK | {"tag": "C-1", "inlet_temp_f": 170.0, "outlet_temp_f": 90.0, "observed": "nothing"},
        CHECK | {"tag": "C-2", "inlet_temp_f": 180.0, "outlet_temp_f": 170.0, "observed": "water"},
    ],
    "two vents": [
        TRAP | {"tag": "T-1"},
        VENT | {"tag": "V-1", "valve_position": "closed"},
        VENT | {"tag": "V-2", "valve_position": "open", "observed": "air"},
    ],
}


@pytest.mark.parametrize("name", SHARED_EQUIPMENT)
def test_order_changes_nothing_where_equipment_has_two_of_a_kind(name: str) -> None:
    frame = pd.DataFrame(SHARED_EQUIPMENT[name])
    forward, backward = (
        analyze(each, site=SITE).table.set_index("tag") for each in (frame, frame.iloc[::-1])
    )
    assert_same_verdicts(backward, forward)


READINGS = st.fixed_dictionaries(
    {
        "inlet_temp_f": st.one_of(st.just(np.nan), st.floats(-40.0, 500.0)),
        "outlet_temp_f": st.one_of(st.just(np.nan), st.floats(-40.0, 500.0)),
        "sound_db": st.one_of(st.just(np.nan), st.floats(-60.0, 150.0)),
        "background_db": st.one_of(st.just(np.nan), st.floats(-60.0, 150.0)),
        "supply_psig": st.one_of(st.just(np.nan), st.floats(-14.0, 600.0)),
        "return_psig": st.one_of(st.just(np.nan), st.floats(-14.0, 600.0)),
        "orifice_in": st.one_of(st.just(np.nan), st.floats(0.001, 2.0)),
        "lift_ft": st.one_of(st.just(np.nan), st.floats(-100.0, 200.0)),
        "ambient_f": st.one_of(st.just(np.nan), st.floats(-40.0, 250.0)),
        **{
            name: st.sampled_from([None, *INPUT_BY_NAME[name].choices])
            for name in (
                "trap_type", "thermometer", "sound_pattern", "valve_position", "observed",
                "service", "device",
            )
        },
    }
)  # fmt: skip


@settings(max_examples=5, phases=[Phase.generate], derandomize=True)
@given(st.lists(READINGS, min_size=1, max_size=12))
def test_any_readings_give_promised_numbers_whatever_their_order(
    readings: list[dict[str, object]],
) -> None:
    frame = pd.DataFrame(readings).assign(
        tag=[f"T-{n}" for n in range(len(readings))],
        present="yes",
        station=["A" if n % 3 else None for n in range(len(readings))],
        equipment=[f"E-{n // 2}" for n in range(len(readings))],
    )
    frame["device"] = frame["device"].fillna("trap")
    table = analyze(frame, site=SITE).table.set_index("tag")
    traps = table[table["device"] == "trap"]
    chances = traps[[f"p_{state}" for state in TRAP_STATES]].to_numpy(float)
    np.testing.assert_allclose(chances.sum(axis=1), 1.0, atol=1e-9)
    assert ((chances >= 0.0) & (chances <= 1.0)).all()
    money = ["steam_loss_lb_per_h", "steam_loss_low_lb_per_h", "steam_loss_high_lb_per_h",
             "annual_cost", "annual_co2_t", "annual_loss_klb"]  # fmt: skip
    assert np.isfinite(table[[*money, "confidence"]].to_numpy(float)).all()
    turned = analyze(frame.iloc[::-1], site=SITE).table.set_index("tag")
    np.testing.assert_allclose(
        turned.loc[table.index, "confidence"], table["confidence"], rtol=1e-6, atol=1e-9
    )


def test_the_made_round_is_mostly_judged_rightly(judged: Judged, found: pd.DataFrame) -> None:
    """Only so that the tests above are about verdicts that mean something."""
    traps = judged.frame[judged.frame["device"] == "trap"].set_index("tag")
    assert (found.loc[traps.index, "state"] == traps["truth"]).mean() >= 0.9
    assert set(found.loc[traps.index, "state"]) >= set(TRAP_STATES)


def test_a_round_is_made_from_its_seed() -> None:
    pd.testing.assert_frame_equal(made_round(Plant(seed=3)), made_round(Plant(seed=3)))
