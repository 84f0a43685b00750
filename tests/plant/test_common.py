"""What many units have in common: found where it is, silent where it is not."""

from __future__ import annotations

import numpy as np
import pandas as pd

from survey.plant.common import common_causes
from tests.plant.build import device, findings, trap


def halls(count: int = 4, each: int = 12) -> pd.DataFrame:
    rows = []
    for hall in range(count):
        for i in range(each):
            name = f"{hall}{i:02d}"
            place = {"area": f"Hall {hall}", "station": "NS"[hall % 2], "equipment": f"UH-{name}",
                     "read_at": f"2025-11-0{1 + i % 3}T09:00:00"}  # fmt: skip
            rows.append(trap(f"T-{name}", **place))
            rows.append(device(f"V-{name}", "air_vent", f"UH-{name}", **{
                key: value for key, value in place.items() if key != "equipment"
            }))  # fmt: skip
    return findings(*rows)


def mark(table: pd.DataFrame, rows: pd.Series, **values: str) -> None:
    for name, value in values.items():
        table.loc[rows, name] = value


def places(found) -> list[tuple[str, str, str]]:
    return [(one.fault, one.group_kind, one.group) for one in found]


def test_every_vent_of_a_hall_shut_is_said_once() -> None:
    table = halls()
    hall = table["area"] == "Hall 2"
    mark(table, hall & (table["device"] == "air_vent"), state="isolated", cause="valved_off")
    mark(table, hall & (table["device"] == "trap"), state="cold", cause="air_vent")
    found = common_causes(table)
    assert places(found) == [("vents", "area", "Hall 2")]
    one = found[0]
    assert (one.bad, one.size, one.other_bad, one.other_size) == (12, 12, 0, 36)
    assert len(one.explains) == 12
    assert "12 of 12 air vents are shut or missing, against 0 of 36 elsewhere" in one.words
    assert "less than once in a million" in one.words
    assert one.check_first.startswith("Ask who shut them")


def test_a_lift_that_a_station_does_not_make() -> None:
    table = halls()
    mine = (table["station"] == "S") & (table["device"] == "trap")
    some = mine & table["tag"].str[-1].isin(list("013478"))
    mark(table, some, state="backed_up", cause="lift")
    found = common_causes(table)
    assert places(found) == [("lift", "station", "S")]
    assert "The pressure is too low for the lift at station S" in found[0].words


def test_a_fault_all_over_the_round_is_held_against_a_usual_share() -> None:
    table = halls(count=1)
    table["station"] = "N"
    mark(table, table["device"] == "air_vent", state="missing", cause="air_vent")
    found = common_causes(table)
    assert [(one.fault, one.group_kind) for one in found] == [("vents", "whole round")]
    assert "against a usual 13 % at most" in found[0].words


def test_a_return_main_named_in_the_round_is_looked_at() -> None:
    table = halls()
    table["Return main"] = np.where(table["tag"].str[3:].astype(int) % 4 == 0, "R2", "R1")
    mine = (table["Return main"] == "R2") & (table["device"] == "trap")
    mark(table, mine, state="backed_up", cause="unknown")
    found = common_causes(table)
    assert places(found) == [("return", "return main", "R2")]


def test_a_gauge_in_doubt_is_passed_on() -> None:
    told = [{"what": "gauge", "group": "S", "value": 6.0, "words": "It reads 6 psi low."}]
    found = common_causes(halls(), calibration=told)
    assert [(one.fault, one.group, one.size) for one in found] == [("gauge", "S", 24)]
    assert "It reads 6 psi low." in found[0].words


def test_without_an_effect_an_alarm_is_rare() -> None:
    # Faults dealt blindly, at less than the usual share so that only groups can stand out.
    dice = np.random.default_rng(7)
    table = halls()
    traps = np.flatnonzero(table["device"] == "trap")
    alarms = 0
    rounds = 120
    for _ in range(rounds):
        table["state"], table["cause"] = "working", "none"
        bad = dice.choice(traps, size=8, replace=False)
        table.loc[bad, "state"], table.loc[bad, "cause"] = "leaking", "trap"
        alarms += bool(common_causes(table))
    assert alarms / rounds <= 0.05 + 2 * np.sqrt(0.05 * 0.95 / rounds)


def test_what_is_undecided_counts_neither_way() -> None:
    table = halls()
    hall = (table["area"] == "Hall 2") & (table["device"] == "air_vent")
    mark(table, hall, state="undecided", cause="unknown")
    assert common_causes(table) == []


def test_an_empty_round_has_nothing_in_common() -> None:
    assert common_causes(halls().iloc[:0]) == []


def test_a_hall_that_no_steam_comes_to_is_seen_to_before_its_traps_are_changed() -> None:
    table = halls()
    mine = (table["area"] == "Hall 2") & (table["device"] == "trap")
    mark(table, mine, state="failed_closed", cause="trap")
    mark(table, mine & table["tag"].str.endswith("1"), state="cold", cause="unknown")
    found = common_causes(table)
    assert places(found) == [("no_steam", "area", "Hall 2")]
    assert len(found[0].explains) == 12
    assert found[0].check_first.startswith("See that steam comes to them at all")
