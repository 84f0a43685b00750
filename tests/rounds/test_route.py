"""The route: every device once, in an order to walk, with a reason and what to read."""

from __future__ import annotations

from datetime import date, timedelta

import pandas as pd
import pytest

from survey.columns import INPUT_NAMES
from survey.findings import Findings
from survey.rounds.reliability import fails_next, reliability
from survey.rounds.route import natural, plan_route
from survey.rounds.what_to_read import ALWAYS_LAST, COMPANION_COLUMNS, columns_to_read
from survey.site import Site
from tests.rounds.invented import row

AUTUMN, SPRING, NEXT = date(2025, 11, 1), date(2026, 5, 1), date(2026, 11, 1)
SITE = Site(name="Nursery")


def route_of(*tables: pd.DataFrame, **asked: object):
    days = (AUTUMN, SPRING)[-len(tables):]
    return plan_route(list(zip(days, tables, strict=False)), site=SITE, on=NEXT, **asked)


def tags(route) -> list[str]:
    return [stop.tag for stop in route.stops]


def reason_of(route, tag: str) -> str:
    return next(stop.reason for stop in route.stops if stop.tag == tag)


def test_without_times_it_goes_by_area_station_heater_and_number() -> None:
    table = pd.DataFrame([
        row("T-10", area="Hall 10"), row("T-9", area="Hall 2", equipment="UH-9"),
        row("V-9", area="Hall 2", equipment="UH-9", device="air_vent"),
        row("T-2", area="Hall 2", equipment="UH-2"), row("T-1", area="Hall 2", station="S"),
        row("C-2", area="Hall 2", equipment="UH-2", device="check_valve"),
    ])  # fmt: skip
    route = route_of(table)
    assert not route.walked
    assert tags(route) == ["T-2", "C-2", "T-9", "V-9", "T-1", "T-10"]
    assert route.areas == ("Hall 2", "Hall 10")


def test_with_times_it_follows_the_last_walk() -> None:
    order = ["T-3", "T-1", "T-2", "T-4"]
    areas = {"T-3": "Z", "T-1": "Z", "T-2": "A", "T-4": "A"}
    table = pd.DataFrame([
        row(tag, area=areas[tag], read_at=f"2026-05-01T08:{place:02}:00")
        for place, tag in enumerate(order)
    ])  # fmt: skip
    route = route_of(table.sample(frac=1.0, random_state=1))
    assert route.walked
    assert tags(route) == order


def test_one_time_for_all_is_no_walk() -> None:
    table = pd.DataFrame([row(f"T-{i}", read_at="2026-05-01") for i in (2, 1, 3)])
    route = route_of(table)
    assert not route.walked
    assert tags(route) == ["T-1", "T-2", "T-3"]


def test_order_of_rows_changes_nothing() -> None:
    table = pd.DataFrame([row(f"T-{i}", area=f"Hall {i % 3}") for i in range(30)])
    assert tags(route_of(table)) == tags(route_of(table.sample(frac=1.0, random_state=4)))


def test_reasons_the_weightiest_first() -> None:
    before = pd.DataFrame([row("T-1"), row("T-2"), row("T-8", "failed_open"), row("T-9")])
    after = pd.DataFrame([
        row("T-1"), row("T-2", "leaking"),
        row("T-3", "undecided", p_working=0.5, p_leaking=0.5), row("T-4"),
    ])  # fmt: skip
    route = route_of(before, after, set_aside=pd.DataFrame({"tag": ["T-4"]}))
    found = {stop.tag: stop.reason for stop in route.stops}
    assert found == {"T-1": "usual", "T-2": "mend", "T-3": "settle", "T-4": "unread",
                     "T-8": "mend", "T-9": "unread"}  # fmt: skip
    assert {stop.tag: stop.last_read for stop in route.stops}["T-9"] == AUTUMN
    few = route_of(before, after, set_aside=pd.DataFrame({"tag": ["T-4"]}), only_reasons=True)
    assert (len(few.stops), few.left_out) == (5, 1)


def test_what_no_round_could_judge_is_on_the_route_where_it_stands() -> None:
    table = pd.DataFrame([row("T-1", area="North"), row("T-9", area="South")])
    aside = pd.DataFrame({
        "tag": ["V-2", "T-9"], "device": ["air vent", ""], "area": ["North", "South"],
        "equipment": ["", ""], "station": ["", ""], "trap_type": ["", ""],
    })  # fmt: skip
    route = route_of(table, set_aside=aside)
    assert sorted(tags(route)) == ["T-1", "T-9", "V-2"]
    assert tags(route)[-1] == "T-9"  # of the other area
    vent = next(stop for stop in route.stops if stop.tag == "V-2")
    assert (vent.reason, vent.device, vent.area) == ("unread", "air_vent", "North")
    assert (vent.state, vent.last, vent.last_read) == ("", {}, None)
    assert vent.to_read


def test_those_likelier_to_fail_than_most_are_named() -> None:
    table = pd.DataFrame(
        [row(f"T-{i}", installed_at="2025-10-01") for i in range(20)]
        + [row("T-99", installed_at="2012-01-01", trap_type="thermodynamic")]
    )
    odds = fails_next(reliability([(SPRING, table)]), before=NEXT)
    route = route_of(table, odds=odds)
    assert [stop.tag for stop in route.stops if stop.reason == "odds"] == ["T-99"]


def test_newest_wins_and_what_a_device_is_goes_on() -> None:
    before = pd.DataFrame([row("T-1", inlet_temp_f=200.0, trap_type="thermostatic")])
    after = pd.DataFrame([row("T-1", inlet_temp_f=250.0)])
    (stop,) = route_of(before, after).stops
    assert stop.last["inlet_temp_f"] == 250.0
    assert stop.last_read == SPRING
    assert stop.fittings["trap_type"] == "inverted_bucket"
    assert set(stop.fittings) | set(stop.last) <= set(INPUT_NAMES)


def test_a_renamed_unit_is_walked_once_by_its_new_tag() -> None:
    before = pd.DataFrame([row("T-1") | {"unit": 7}])
    after = pd.DataFrame([row("T-ONE") | {"unit": 7}])
    assert tags(route_of(before, after)) == ["T-ONE"]


def test_only_some_areas() -> None:
    table = pd.DataFrame([row("T-1", area="A"), row("T-2", area="B")])
    assert tags(route_of(table, areas=["B"])) == ["T-2"]


@pytest.mark.parametrize("text", ["", "T-00010", "９9", "1" * 40, "²", "\ud800"])
def test_any_tag_can_be_sorted(text: str) -> None:
    assert sorted([text, "T-2", "T-10"], key=natural).index("T-2") < 3
    assert natural("T-9") < natural("T-10")


def test_the_sample_is_walked_as_it_was(sample_findings: Findings) -> None:
    day = AUTUMN + timedelta(days=3)
    route = plan_route([(day, sample_findings.table)], site=SITE, on=NEXT)
    assert route.walked
    assert sorted(tags(route)) == sorted(sample_findings.table["tag"])
    assert len(route.areas) == sample_findings.table["area"].nunique()
    first = []
    for area in route.areas:
        read = [stop.last["read_at"] for stop in route.stops if stop.area == area]
        assert read == sorted(read)
        first.append(read[0])
    assert first == sorted(first)


def test_what_tells_most_comes_first(sample_findings: Findings) -> None:
    table = sample_findings.table
    orders = columns_to_read(table, site=SITE)
    assert len(orders) == len(table)
    for kind, order in zip(table["device"], orders, strict=False):
        assert order[-3:] == ALWAYS_LAST
        assert len(set(order)) == len(order)
        if kind != "trap":
            assert order[:-3] == COMPANION_COLUMNS[kind]
    traps = [order for kind, order in zip(table["device"], orders, strict=True) if kind == "trap"]
    first = {order[0] for order in traps}
    assert first <= {"inlet_temp_f", "sound_db", "observed", "sound_pattern", "outlet_temp_f"}
    # An isolating valve alone hardly ever tells how a trap works.
    assert "valve_position" not in first


def test_a_cold_trap_is_asked_other_things_than_a_hot_one() -> None:
    hot = row("T-1", p_working=0.6, p_failed_open=0.4, saturation_f=287.0, return_psig=2.0)
    cold = row("T-2", p_working=0.5, p_cold=0.5, saturation_f=287.0, return_psig=2.0)
    first, second = columns_to_read(pd.DataFrame([hot, cold]), site=SITE)
    # Both sides of a trap blown open are as hot as a good one's: its sound tells.
    assert first.index("sound_db") < first.index("inlet_temp_f")
    assert second.index("inlet_temp_f") < second.index("sound_db")


def test_a_table_of_tags_alone_can_be_walked() -> None:
    route = route_of(pd.DataFrame({"tag": ["T-2", "T-1"], "state": ["working", "cold"]}))
    assert tags(route) == ["T-1", "T-2"]
