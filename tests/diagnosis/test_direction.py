"""Stronger evidence for a state never lowers it: one round, its calibration held fixed."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from diagnosis.conftest import Judged
from survey.columns import TRAP_STATES

SLACK = 1e-9
LOSING = ["p_leaking", "p_failed_open"]
# From here on a hiss is louder than the discharge of a working trap of this round.
OVER_BACKGROUND_DB = [14.0, 18.0, 22.0, 26.0, 30.0, 40.0, 60.0, 90.0]


def assert_never_falls(steps: list[pd.Series], what: str) -> None:
    """Hold a chance of each trap, step by step, to never falling; and to rising at all."""
    table = pd.concat(steps, axis=1)
    fallen = table.diff(axis=1).iloc[:, 1:].min(axis=1)
    worst = fallen.idxmin()
    assert fallen.min() >= -SLACK, f"{what} of {worst}: {table.loc[worst].round(4).tolist()}"
    assert (table.iloc[:, -1] > table.iloc[:, 0]).all()


def test_a_louder_hiss_never_speaks_against_lost_steam(judged: Judged) -> None:
    # Only the sound is read: where a temperature rules blown open out, a level that only a
    # blown-open seat could make fits no explanation, and then tells less than a leak's own.
    tags = judged.tags("working")
    steps = []
    for over_db in OVER_BACKGROUND_DB:
        tidy = judged.changed(
            tags, sound_pattern="continuous", background_db=26.0, sound_db=26.0 + over_db,
            inlet_temp_f=np.nan, observed=None,
        )  # fmt: skip
        tidy = judged.without_outlets(tidy, tags)
        steps.append(judged.again(tidy).loc[tags, LOSING].sum(axis=1))
    assert_never_falls(steps, "p_leaking + p_failed_open")


def test_a_louder_hiss_never_speaks_against_blown_open(judged: Judged) -> None:
    tags = judged.tags("failed_open")
    steps = []
    for over_db in OVER_BACKGROUND_DB:
        tidy = judged.changed(tags, background_db=26.0, sound_db=26.0 + over_db)
        steps.append(judged.again(tidy).loc[tags, "p_failed_open"])
    assert_never_falls(steps, "p_failed_open")


def test_a_hotter_outlet_never_speaks_against_lost_steam(judged: Judged) -> None:
    # Flashing condensate leaves at the return's saturation, throttled live steam above it. 3 psig
    # boils at 222 °F; saturated steam of 60 psig throttled to there is at some 265 °F.
    hill = judged.frame["station"] == "Hill"
    tags = [t for t in judged.tags("working") if t in set(judged.frame.loc[hill, "tag"])]
    steps = []
    for outlet_f in (222.0, 230.0, 240.0, 250.0, 260.0):
        tidy = judged.changed(
            tags, outlet_temp_f=outlet_f, sound_pattern="continuous",
            background_db=26.0, sound_db=44.0,
        )  # fmt: skip
        steps.append(judged.again(tidy).loc[tags, LOSING].sum(axis=1))
    assert_never_falls(steps, "p_leaking + p_failed_open")


@pytest.mark.parametrize("truth", ["working", "leaking", "failed_open", "failed_closed"])
def test_steam_seen_never_speaks_against_lost_steam(judged: Judged, truth: str) -> None:
    tags = judged.tags(truth)
    unseen = judged.again(judged.changed(tags, observed=None)).loc[tags]
    seen = judged.again(judged.changed(tags, observed="steam")).loc[tags]
    assert (seen[LOSING].sum(axis=1) > unseen[LOSING].sum(axis=1) - SLACK).all()
    assert (seen["p_failed_open"] > unseen["p_failed_open"] - SLACK).all()


def test_only_water_seen_speaks_against_blown_open(judged: Judged) -> None:
    tags = judged.tags("failed_open")
    unseen = judged.again(judged.changed(tags, observed=None)).loc[tags, "p_failed_open"]
    seen = judged.again(judged.changed(tags, observed="water")).loc[tags, "p_failed_open"]
    assert (seen < unseen).all()


def test_a_continuous_hiss_speaks_for_lost_steam_and_a_coming_and_going_one_against(
    judged: Judged,
) -> None:
    tags = judged.tags("leaking") + judged.tags("failed_open")
    heard = {
        pattern: judged.again(judged.changed(tags, sound_pattern=pattern))
        .loc[tags, LOSING]
        .sum(axis=1)
        for pattern in ("continuous", None, "intermittent")
    }
    assert (heard["continuous"] >= heard[None] - SLACK).all()
    assert (heard[None] >= heard["intermittent"] - SLACK).all()
    assert (heard["continuous"] > heard["intermittent"]).any()


def test_a_colder_inlet_never_speaks_for_working(judged: Judged) -> None:
    # Nothing else of it is read: beside a hot outlet, or under a hot vent, a cold inlet would only
    # be a slip of the pen. Its check valve is known to pass. No colder than a flooded heater's:
    # between those and traps that are shut a round may know of nothing, and nearer to the air's
    # temperature, with vent and valve known open, only a slip of the pen or a long-dead trap is
    # left.
    tags = judged.tags("working")
    steps = []
    for lost in (0.10, 0.16, 0.22, 0.28, 0.32):  # share of the hot inlet's rise over the air
        tidy = judged.changed(tags, sound_db=np.nan, sound_pattern=None, observed=None)
        tidy = judged.without_outlets(tidy, tags)
        tidy.loc[tidy["tag"].isin(_checks_of(tags)), "observed"] = "water"
        tidy.loc[tidy["tag"].isin(_vents_of(tags)), ["inlet_temp_f", "outlet_temp_f"]] = np.nan
        mine = tidy["tag"].isin(tags)
        hot = judged.tidy.loc[mine, "inlet_temp_f"]
        tidy.loc[mine, "inlet_temp_f"] = hot - lost * (hot - tidy.loc[mine, "ambient_f"])
        steps.append(1.0 - judged.again(tidy).loc[tags, "p_working"])
    assert_never_falls(steps, "1 - p_working")


def test_a_closed_valve_makes_a_cold_trap_valved_off(judged: Judged) -> None:
    tags = judged.tags("cold")
    read = {
        word: judged.weighed(judged.changed(tags, valve_position=word))[0].loc[tags]
        for word in ("open", None, "closed")
    }
    valved = {word: chances["cold_by_valve"] for word, chances in read.items()}
    assert (valved["open"] < valved[None]).all()
    assert (valved[None] < valved["closed"]).all()
    verdicts = judged.again(judged.changed(tags, valve_position="closed")).loc[tags]
    assert (verdicts["state"] == "cold").all()
    assert (verdicts["cause"] == "valved_off").all()


def _vents_of(tags: list[str]) -> list[str]:
    return [tag.replace("T-", "V-") for tag in tags]


def _checks_of(tags: list[str]) -> list[str]:
    return [tag.replace("T-", "C-") for tag in tags]


def test_an_isolated_vent_makes_the_vent_the_likelier_cause_of_a_cold_heater(
    judged: Judged,
) -> None:
    tags = judged.tags("cold")
    cool = judged.changed(tags, valve_position="open", inlet_temp_f=108.0, outlet_temp_f=100.0)
    by_vent = {}
    for word in ("open", None, "closed"):
        tidy = cool.copy()
        tidy.loc[tidy["tag"].isin(_vents_of(tags)), "valve_position"] = word
        by_vent[word] = judged.weighed(tidy)[0].loc[tags, "cold_by_vent"]
    assert (by_vent["open"] <= by_vent[None]).all()
    assert (by_vent[None] < by_vent["closed"]).all()
    tidy.loc[tidy["tag"].isin(_vents_of(tags)), "valve_position"] = "closed"
    assert (judged.again(tidy).loc[tags, "cause"] == "air_vent").all()


def test_an_air_bound_heater_makes_its_vent_likelier_shut(judged: Judged) -> None:
    tags = judged.tags("cold")
    vents = _vents_of(tags)
    blank = dict.fromkeys(
        ("inlet_temp_f", "outlet_temp_f", "sound_db", "background_db"), np.nan
    ) | {"sound_pattern": None, "valve_position": None, "observed": None, "present": "yes"}
    cool = judged.changed(tags, valve_position="open", inlet_temp_f=108.0, outlet_temp_f=100.0)
    hot = judged.changed(
        tags, valve_position="open", inlet_temp_f=290.0, outlet_temp_f=215.0,
        sound_db=34.0, background_db=26.0, sound_pattern="intermittent",
    )  # fmt: skip
    shut = {}
    for name, tidy in (("cool", cool), ("hot", hot)):
        for column, value in blank.items():
            tidy.loc[tidy["tag"].isin(vents), column] = value
        shut[name] = judged.weighed(tidy)[1]["air_vent"].loc[vents, ["isolated", "missing"]]
    assert (shut["cool"].sum(axis=1) > shut["hot"].sum(axis=1)).all()


def test_lift_beyond_the_pressure_makes_backing_up_by_lift_likelier(judged: Judged) -> None:
    tags = judged.tags("backed_up") + judged.tags("working")
    steps, backed = [], []
    # 15 psig less 1 psig lifts hot water some 33 ft, 60 less 3 some 136 ft.
    for lift_ft in (4.0, 20.0, 33.0, 60.0, 136.0, 200.0):
        tidy = judged.changed(_checks_of(tags), inlet_temp_f=np.nan, outlet_temp_f=np.nan)
        tidy.loc[tidy["tag"].isin(tags), "lift_ft"] = lift_ft
        chances = judged.weighed(tidy)[0].loc[tags]
        steps.append(chances["backed_by_lift"])
        names = ["backed_by_lift", "backed_by_check", "backed_unexplained"]
        backed.append(chances[names].sum(axis=1))
    assert_never_falls(steps, "backed_by_lift")
    assert_never_falls(backed, "p_backed_up")


def test_less_pressure_makes_backing_up_by_lift_likelier(judged: Judged) -> None:
    tags = judged.tags("backed_up")
    low, high = (
        judged.weighed(
            judged.changed(tags, lift_ft=25.0, supply_psig=15.0, return_psig=back)
        )[0].loc[tags]
        for back in (1.0, 9.0)
    )
    assert (high["backed_by_lift"] > 10.0 * low["backed_by_lift"]).all()


def test_a_stuck_check_valve_makes_backing_up_likelier_and_the_other_way_round(
    judged: Judged,
) -> None:
    tags = judged.tags("backed_up") + judged.tags("working")
    checks = _checks_of(tags)
    by_check, stuck = {}, {}
    for name, outlet_f in (("stuck", 95.0), ("passing", 150.0)):
        tidy = judged.changed(checks, inlet_temp_f=155.0, outlet_temp_f=outlet_f)
        traps, devices = judged.weighed(tidy)
        by_check[name] = traps.loc[tags, "backed_by_check"]
        stuck[name] = devices["check_valve"].loc[checks, "stuck"]
    assert (stuck["stuck"] > stuck["passing"]).all()
    assert (by_check["stuck"] > by_check["passing"]).all()

    ways = {}
    for name, inlet_f, behind_f in (("backed_up", 185.0, 160.0), ("hot", 245.0, 205.0)):
        read = {"inlet_temp_f": inlet_f, "outlet_temp_f": behind_f, "sound_pattern": None}
        tidy = judged.changed(tags, **read)
        ways[name] = judged.weighed(tidy)[1]["check_valve"].loc[checks, "stuck"]
    south = [c for c in checks if int(c[2:]) > 20]  # 15 psig: 245 °F is about saturation
    assert (ways["backed_up"][south] > ways["hot"][south]).all()


def test_an_absent_device_is_missing_and_a_shut_one_isolated(judged: Judged) -> None:
    vents = judged.tags("working", "air_vent")
    read = {word: judged.weighed(judged.changed(vents, present=word))[1] for word in ("yes", "no")}
    missing = {word: devices["air_vent"].loc[vents, "missing"] for word, devices in read.items()}
    assert (missing["no"] > missing["yes"]).all()
    tidy = judged.changed(vents, valve_position="closed")
    assert (
        judged.weighed(tidy)[1]["air_vent"].loc[vents, "isolated"]
        > judged.weighed(judged.tidy)[1]["air_vent"].loc[vents, "isolated"]
    ).all()


def test_steam_at_a_vent_speaks_for_a_failed_one(judged: Judged) -> None:
    vents = judged.tags("working", "air_vent")
    seen = judged.weighed(judged.changed(vents, observed="steam"))[1]["air_vent"].loc[vents]
    unseen = judged.weighed(judged.tidy)[1]["air_vent"].loc[vents]
    assert (seen["failed_open"] >= unseen["failed_open"] - SLACK).all()
    live = _vents_of(judged.tags("working"))
    assert (seen.loc[live, "failed_open"] > unseen.loc[live, "failed_open"]).all()


@pytest.mark.parametrize(
    "column",
    ["inlet_temp_f", "outlet_temp_f", "sound_db", "sound_pattern", "observed", "valve_position"],
)
def test_a_reading_that_is_missing_leaves_the_others_as_they_were(
    judged: Judged, column: str
) -> None:
    """Taking a reading from one heater's trap moves nothing on any other heater."""
    before = judged.again(judged.tidy)
    tag = judged.tags("failed_open")[0]
    value = None if str(judged.tidy[column].dtype) == "category" else np.nan
    after = judged.again(judged.changed([tag], **{column: value}))
    elsewhere = before.index[~before.index.str.endswith(tag[1:])]
    for state in TRAP_STATES:
        np.testing.assert_allclose(
            after.loc[elsewhere, f"p_{state}"].astype(float),
            before.loc[elsewhere, f"p_{state}"].astype(float), rtol=1e-9,
        )  # fmt: skip
