"""The way down: never under what the binding unit needs, and nothing assumed in silence."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from survey.plant.curve import lost_at
from survey.plant.lift import needs
from survey.plant.limits import limits, safe_psia
from survey.plant.standing import STANDINGS
from survey.plant.stepdown import Wishes, plan_pressure
from survey.plant.steps import stops_psig
from survey.plant.units import units_of
from tests.plant.build import SITE, findings, trap

AIR_PSIA = 14.695949


def plan(*rows, to=5.0, spare=0.5, calibration=(), site=SITE):
    wishes = Wishes(to, spare_share=spare)
    return plan_pressure(findings(*rows), site=site, wishes=wishes, calibration=calibration)


def plain(count: int = 6, **given):
    return [trap(f"T-{i}", **given) for i in range(count)]


@settings(max_examples=25)
@given(
    st.lists(st.floats(-5.0, 70.0), min_size=1, max_size=5), st.floats(15.0, 100.0),
    st.floats(-2.0, 60.0), st.floats(0.0, 0.6),
)  # fmt: skip
def test_the_plan_never_goes_under_what_any_unit_needs(lifts, today, to, spare) -> None:
    rows = [trap(f"T-{i}", lift_ft=lift, supply_psig=today) for i, lift in enumerate(lifts)]
    station = plan(*rows, to=to, spare=spare).stations[0]
    units = units_of(findings(*rows), SITE)
    need = needs(units)
    heat = limits(units, need, spare_share=spare).heat_psia
    assert station.standing in STANDINGS
    for step in station.steps:
        assert step.psig >= to - 1e-9
        assert step.psig + AIR_PSIA >= max(need.needed_psia.max(), heat.max()) - 1e-6
    stops = [today, *(step.psig for step in station.steps)]
    assert all(lower < higher for higher, lower in itertools.pairwise(stops))
    if station.steps:
        assert station.steps[-1].psig == pytest.approx(station.end_psig)


@given(st.floats(1.0, 600.0), st.floats(-5.0, 599.0))
def test_steps_are_small_and_end_where_they_should(today: float, end: float) -> None:
    stops = stops_psig(today_psig=today, end_psig=end)
    if end >= today:
        assert stops == []
        return
    assert stops[-1] == pytest.approx(end)
    sizes = -np.diff([today, *stops])
    assert np.all(sizes > 0)
    # A step may take the last crumb with it, and falls on the half psi.
    assert np.all(sizes <= np.maximum(1.0, np.minimum(5.0, 0.25 * np.array([today, *stops[:-1]])))
                  + 0.5)  # fmt: skip
    # No stub of a step at the end, that would cost a wait of its own.
    assert len(sizes) < 2 or sizes[-1] >= 0.5 * sizes[-2] - 0.5


@pytest.mark.parametrize(
    ("today", "end", "stops"), [(8.0, 6.0, [6.0]), (20.0, 15.0, [15.0]), (7.1, 5.0, [6.0, 5.0])]
)
def test_steps_do_not_hang_on_the_last_digits_of_a_pressure(today, end, stops) -> None:
    assert stops_psig(today_psig=today, end_psig=end) == stops
    assert stops_psig(today_psig=today + 1e-9, end_psig=end) == stops
    assert stops_psig(today_psig=today - 1e-9, end_psig=end) == stops


def test_no_unit_that_may_flood_is_left_off_the_list_to_watch() -> None:
    rows = [trap(f"T-{i:02d}", lift_ft=30.0) for i in range(20)]
    last = plan(*rows, to=10.0).stations[0].steps[-1]
    assert last.lost_expected > 0.5
    assert len(last.watch) == 20


def test_the_unit_with_the_highest_lift_binds_and_is_named_with_what_frees_it() -> None:
    station = plan(*plain(), trap("T-HIGH", lift_ft=40.0)).stations[0]
    first = station.binding[0]
    assert (station.standing, first.tag, first.kind) == ("part_way", "T-HIGH", "lift")
    assert "pump" in first.freed_by
    assert "licensed" in first.freed_by
    assert "under its station" not in first.why
    assert first.limit_psig == pytest.approx(station.floor_psig)
    assert station.end_psig == math.ceil(2 * station.floor_psig) / 2
    last = station.steps[-1]
    assert last.binds_next == last.watch[0].tag == "T-HIGH"
    assert 0.05 < last.watch[0].chance <= 0.10


def test_a_unit_far_under_its_station_is_said_to_be_throttled_before_anything_is_re_piped() -> None:
    station = plan(*plain(), trap("T-LOW", lift_ft=20.0, supply_psig=12.0)).stations[0]
    first = station.binding[0]
    assert first.tag == "T-LOW"
    assert "it stands 28 psi under its station" in first.why
    assert first.freed_by.startswith("Find what takes 28 psi ahead of it: its control valve")


def test_a_unit_freed_lets_the_station_go_lower() -> None:
    held = plan(*plain(), trap("T-HIGH", lift_ft=40.0)).stations[0]
    freed = plan(*plain(), trap("T-HIGH", lift_ft=8.0)).stations[0]
    assert freed.end_psig < held.end_psig
    assert held.binding[0].freed_floor_psig == pytest.approx(freed.floor_psig, abs=1e-6)


def test_less_spare_heat_keeps_the_pressure_higher() -> None:
    floors = [plan(*plain(), spare=spare).stations[0].floor_psig for spare in (0.3, 0.2, 0.1, 0.0)]
    assert floors == sorted(floors)
    assert floors[-1] == pytest.approx(40.0, abs=1e-4)
    assert plan(*plain(), spare=0.1).stations[0].binding[0].kind == "heat"


def test_a_unit_flooded_today_keeps_the_station_where_it_is() -> None:
    flooded = trap("T-HIGH", lift_ft=110.0, state="backed_up", cause="lift")
    station = plan(*plain(), flooded).stations[0]
    assert (station.standing, station.steps) == ("stay", ())
    assert station.first == ("T-HIGH",)


def test_a_lift_that_cannot_be_is_to_be_measured_again() -> None:
    station = plan(*plain(), trap("T-ODD", lift_ft=120.0)).stations[0]
    assert station.binding[0].kind == "lift_as_written"
    assert "measure the lift" in station.binding[0].freed_by


def test_no_lift_at_all_cannot_be_told_and_says_what_to_measure() -> None:
    station = plan(*plain(lift_ft=None)).stations[0]
    assert (station.standing, station.steps, station.known) == ("cannot_tell", (), 0)
    assert "measure the lifts first" in station.why
    assert station.unknowns[0].what == "lift not given"
    assert station.unknowns[0].count == 6


def test_no_pressure_cannot_be_told() -> None:
    station = plan(*plain(saturation_f=float("nan"), subcooling_f=float("nan"))).stations[0]
    assert station.standing == "cannot_tell"
    assert "No pressure is known" in station.why


def test_every_gap_is_counted() -> None:
    rows = [
        trap("T-1"), trap("T-2", lift_ft=None), trap("T-3", orifice_in=None),
        trap("T-4", service="process"), trap("T-5", load_lb_per_h=100.0),
    ]  # fmt: skip
    station = plan(*rows).stations[0]
    counts = {unknown.what.split(",")[0]: unknown.count for unknown in station.unknowns}
    assert counts == {
        "lift not given": 1, "bore not given": 1, "load not given": 4,
        "temperature that its process or tracing needs not given": 1,
    }  # fmt: skip
    assert station.known == 4
    assert "4 of 5 units" in station.why


def test_a_return_that_nobody_read_is_said() -> None:
    station = plan(*plain(return_psig=None)).stations[0]
    assert any(u.what.startswith("return pressure taken as vented") for u in station.unknowns)


def test_a_target_over_today_is_no_plan() -> None:
    station = plan(*plain(), to=50.0).stations[0]
    assert (station.standing, station.steps) == ("already_there", ())


def test_a_wrong_gauge_is_shown_beside_each_step() -> None:
    told = [
        {"what": "gauge", "group": "N", "value": 5.0},
        {"what": "contact thermometer", "group": "N", "value": 0.96},
    ]
    step = plan(*plain(), calibration=told).stations[0].steps[0]
    assert step.psig - step.gauge_shows_psig == pytest.approx(5.0)
    watched = step.watch[0]
    assert watched.reads_f == pytest.approx(60.0 + 0.96 * (watched.inlet_f - 60.0))


def test_readings_to_expect_are_those_of_the_steam_tables() -> None:
    # Steam table printed in a unit-heater installation manual, Table 12.2: 20 psig, 258.8 °F.
    step = plan(*plain(supply_psig=25.0), to=20.0).stations[0].steps[-1]
    assert step.psig == 20.0
    assert step.saturation_f == pytest.approx(258.8, abs=0.15)
    band = step.bands[0]
    assert band.low_f < band.high_f == pytest.approx(step.saturation_f)


def test_savings_have_ranges_and_grow_as_the_pressure_falls() -> None:
    blown = trap("T-B", state="failed_open", cause="trap", steam_loss_lb_per_h=50.0,
                 steam_loss_low_lb_per_h=30.0, steam_loss_high_lb_per_h=75.0)  # fmt: skip
    some, more = (plan(*plain(), blown, to=to).stations[0].savings for to in (30.0, 20.0))
    assert len(some) == 3
    for less, larger in zip(some, more, strict=True):
        assert 0 < less.low < less.expected < less.high
        assert less.expected < larger.expected
    # Choked flow goes nearly as the absolute pressure.
    assert some[0].expected == pytest.approx(50.0 * (1 - 44.7 / 54.7), rel=0.05)


def test_the_curve_of_units_lost_only_falls_with_pressure() -> None:
    rows = [*plain(), *(trap(f"T-L{i}", lift_ft=20.0 + 9 * i) for i in range(5))]
    curve = plan(*rows).stations[0].curve
    assert curve is not None
    assert np.all(np.diff(curve.expected) <= 1e-9)
    assert all(
        lo <= ex <= hi for lo, ex, hi in zip(curve.low, curve.expected, curve.high, strict=True)
    )
    assert curve.high[0] <= curve.known == 11


def test_stations_are_planned_by_themselves_and_a_shared_return_is_spoken_of() -> None:
    blown = trap("S-B", station="S", state="failed_open", cause="trap", steam_loss_lb_per_h=90.0,
                 return_main="R1")  # fmt: skip
    rows = [*plain(return_main="R1"), *(trap(f"S-{i}", station="S", return_main="R1")
                                        for i in range(4)), blown]  # fmt: skip
    shared = plan(*rows)
    assert [one.station for one in shared.stations] == ["N", "S"]
    assert "shares a return with station S" in shared.returns[0]
    assert "it matters" in shared.returns[0]
    assert "1 trap of the others passes about 90 lb/h" in shared.returns[0]
    apart = plan(*(row | {"return_main": row["station"]} for row in rows))
    assert "can go by itself" in apart.returns[0]
    unsaid = plan(*({k: v for k, v in row.items() if k != "return_main"} for row in rows))
    assert "is not in the round" in unsaid.returns[0]


def test_the_assumptions_name_the_spare_that_was_asked_for() -> None:
    assert "50 % less heat" in plan(*plain()).assumptions[0]


def test_units_take_keeps_them_alike() -> None:
    units = units_of(findings(*plain(3)), SITE)
    assert replace(units).tag.tolist() == units.take(np.arange(3)).tag.tolist()


def test_what_is_safe_is_never_under_what_is_needed() -> None:
    # Units that drain today with hardly any margin: what they show must not argue it away.
    units = units_of(findings(*(trap(f"T-{i}", lift_ft=80.0 + i) for i in range(20))), SITE)
    need = needs(units)
    assert (need.needed_psia > units.supply_psia).any()
    assert np.all(safe_psia(units, need) >= need.needed_psia)


def test_the_range_of_units_lost_allows_for_what_is_wrong_for_all_at_once() -> None:
    units = units_of(findings(*plain(30, lift_ft=30.0)), SITE)
    need = needs(units)
    expected, low, high = lost_at(units, need, np.zeros(30), need.needed_psia[:1])
    chance = expected[0] / 30
    alone = 1.2816 * np.sqrt(30 * chance * (1 - chance))
    assert high[0] - low[0] > 2 * 1.3 * alone


def test_rows_without_a_station_whose_pressures_differ_cannot_be_told() -> None:
    rows = [*plain(station="", supply_psig=15.0), trap("T-E", station="", supply_psig=8.0)]
    station = plan(*rows).stations[0]
    assert (station.standing, station.steps, station.binding) == ("cannot_tell", (), ())
    assert station.curve is None
    assert math.isnan(station.today_psig)
    assert "run from 8.0 psig to 15.0 psig" in station.why
    assert "fed by more than one station" in station.why
    # With the column each is a station of its own, whatever the others have.
    named = plan(*(row | {"station": "E" if row["tag"] == "T-E" else "N"} for row in rows))
    assert [one.standing for one in named.stations] != ["cannot_tell", "cannot_tell"]


@pytest.mark.parametrize(
    ("low", "high", "several"),
    [(15.0, 17.5, False), (8.0, 9.9, False), (10.0, 12.2, True), (8.0, 10.5, True),
     (60.0, 71.0, False), (60.0, 73.0, True), (-1.0, 2.0, True)],
)  # fmt: skip
def test_gauges_of_one_station_differ_by_less(low: float, high: float, several: bool) -> None:
    rows = [trap("T-1", station="", supply_psig=low), trap("T-2", station="", supply_psig=high)]
    why = plan(*rows, to=-5.0).stations[0].why
    assert ("more than one station" in why) is several


def test_units_of_one_named_station_may_differ() -> None:
    station = plan(*plain(), trap("T-E", supply_psig=60.0)).stations[0]
    assert station.standing != "cannot_tell"


def test_a_pressure_that_was_not_read_says_nothing_of_stations() -> None:
    # What stands in for it, in saturation_f, is no reading.
    guessed = trap("T-E", station="", supply_psig=60.0) | {"supply_psig": None}
    assert "more than one" not in plan(*plain(station=""), guessed).stations[0].why


def test_flash_of_which_nothing_is_known_is_not_called_nothing() -> None:
    flash = plan(*plain(orifice_in=None)).stations[0].savings[1]
    assert all(math.isnan(value) for value in (
        flash.expected, flash.low, flash.high, flash.cost, flash.cost_low, flash.cost_high,
    ))  # fmt: skip
    assert "load_lb_per_h" in flash.note
    some = plan(*plain(orifice_in=None), trap("T-K")).stations[0].savings[1]
    assert some.expected > 0
    assert "1 of 7 traps counted" in some.note
    given = plan(*plain(orifice_in=None, load_lb_per_h=100.0)).stations[0].savings[1]
    assert given.expected > 0
    drips = plan(*plain(service="drip")).stations[0].savings[1]
    assert math.isnan(drips.expected)


def test_a_station_under_the_pressure_asked_for_still_names_who_cannot_drain_at_it() -> None:
    rows = [trap(f"T-{i}", lift_ft=2.0, supply_psig=10.0) for i in range(4)]
    rows.append(trap("T-HIGH", lift_ft=30.0, supply_psig=10.0, state="backed_up", cause="lift"))
    station = plan(*rows, to=20.0).stations[0]
    assert station.standing == "already_there"
    assert station.why.startswith("It is under the pressure asked for. At least one unit needs")
    assert [one.tag for one in station.binding] == ["T-HIGH"]
    assert plan(*rows[:-1], to=20.0).stations[0].why == "It is under the pressure asked for."


@pytest.mark.parametrize("header", ["load_lb_per_h", "Load (lb/h)", "Load lb/hr",
                                    "Condensate load, lb/h"])  # fmt: skip
def test_a_load_is_taken_under_the_headers_people_write(header: str) -> None:
    table = findings(trap("T-1")).assign(**{header: 77.0})
    assert units_of(table, SITE).load_lb_per_h.tolist() == [77.0]
    in_kg = findings(trap("T-1")).assign(**{"Load kg/h": 77.0})
    assert np.isnan(units_of(in_kg, SITE).load_lb_per_h).all()
