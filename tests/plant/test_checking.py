"""After a step: held, flooded, not yet warm, cannot tell, and whether to go on."""

from __future__ import annotations

import re

import pandas as pd
import pytest

from survey.findings import Findings
from survey.plant.checking import check_step
from survey.plant.stepdown import Wishes, plan_pressure
from survey.reports import manner
from survey.reports.plan import plan_text
from survey.reports.plan_paper import make_paper
from tests.plant.build import SITE, findings, trap


def before():
    return [trap(f"T-{i}", lift_ft=8.0) for i in range(5)] + [trap("T-HIGH", lift_ft=50.0)]


def after(**changed):
    rows = [row | {"saturation_f": None} for row in before()]
    fresh = []
    for row in rows:
        given = {"supply_psig": 26.0, "lift_ft": row["lift_ft"]} | changed.get(
            row["tag"].replace("-", "_"), {}
        )
        if given.get("state") != "gone":
            fresh.append(trap(row["tag"], **given))
    return fresh


def checked(**changed):
    stations = check_step(findings(*before()), findings(*after(**changed)), site=SITE)
    assert len(stations) == 1
    return stations[0]


def outcome(station, tag: str) -> str:
    return next(unit.outcome for unit in station.units if unit.tag == tag)


def test_all_held_goes_on() -> None:
    station = checked()
    assert station.go_on == "go on"
    assert station.counts["held"] == 6
    assert (station.before_psig, station.after_psig) == pytest.approx((40.0, 26.0), abs=1e-6)


def test_a_unit_that_flooded_sends_it_back() -> None:
    station = checked(T_HIGH={"state": "backed_up", "cause": "lift"})
    assert outcome(station, "T-HIGH") == "flooded"
    assert station.go_on == "go back"
    assert "1 unit flooded (T-HIGH)" in station.words


def test_a_cold_unit_makes_it_wait() -> None:
    station = checked(T_2={"state": "cold", "cause": "unknown"})
    assert outcome(station, "T-2") == "not_yet_warm"
    assert station.go_on == "wait"


def test_an_unread_unit_matters_only_if_it_might_flood() -> None:
    safe, risky = checked(T_2={"state": "gone"}), checked(T_HIGH={"state": "gone"})
    assert outcome(safe, "T-2") == outcome(risky, "T-HIGH") == "cannot_tell"
    assert (safe.go_on, risky.go_on) == ("go on", "wait")


def test_an_undecided_unit_cannot_be_told_of() -> None:
    undecided = {"state": "undecided", "confidence": 0.4, "p_working": 0.4, "p_failed_closed": 0.4}
    station = checked(T_2=undecided)
    assert outcome(station, "T-2") == "cannot_tell"
    # Little was feared for it, but it was sound before the step, and was read after it.
    assert station.go_on == "wait"
    assert "T-2: sound before the step, and no longer for sure" in station.words


def test_a_trap_that_passes_nothing_since_the_step_is_no_unit_of_little_risk() -> None:
    stuck = {"state": "failed_closed", "p_failed_closed": 0.45, "p_backed_up": 0.4,
             "confidence": 0.45}  # fmt: skip
    station = checked(T_2=stuck)
    assert outcome(station, "T-2") == "flooded"
    assert station.go_on == "go back"
    assert "open its test valve" in next(u.words for u in station.units if u.tag == "T-2")


@pytest.mark.parametrize(
    ("under_steam_f", "go_on"), [(6.0, "go on"), (24.0, "wait"), (90.0, "wait")]
)
def test_a_hot_unit_that_fell_under_its_band_has_not_simply_held(
    under_steam_f: float, go_on: str
) -> None:
    station = checked(T_2={"subcooling_f": under_steam_f})
    assert station.go_on == go_on
    assert (outcome(station, "T-2") == "held") == (go_on == "go on")
    words = next(unit.words for unit in station.units if unit.tag == "T-2")
    assert ("was to be expected" in words) == (go_on == "wait")


def test_what_reads_low_in_both_rounds_or_on_every_unit_is_not_the_steps_doing() -> None:
    rows = [row | {"subcooling_f": 60.0} if row["tag"] == "T-2" else row for row in before()]
    later = after(T_2={"subcooling_f": 62.0})
    assert check_step(findings(*rows), findings(*later), site=SITE)[0].go_on == "go on"
    # Another thermometer in the second round reads everything 40 °F lower.
    lower = {row["tag"].replace("-", "_"): {"subcooling_f": 44.0} for row in before()}
    assert checked(**lower).go_on == "go on"
    assert checked(**lower | {"T_2": {"subcooling_f": 90.0}}).go_on == "wait"


def test_a_unit_in_trouble_before_is_not_the_steps_doing() -> None:
    rows = [*before()[:-1], trap("T-HIGH", lift_ft=50.0, state="backed_up", cause="lift")]
    later = after(T_HIGH={"state": "backed_up", "cause": "lift"})
    station = check_step(findings(*rows), findings(*later), site=SITE)[0]
    assert outcome(station, "T-HIGH") == "in_trouble_before"
    assert station.go_on == "go on"


def test_no_step_is_seen_as_none() -> None:
    station = check_step(findings(*before()), findings(*before()), site=SITE)[0]
    assert station.go_on == "no step"


def test_a_gauge_that_shows_the_same_took_no_step_whatever_is_made_of_it() -> None:
    # Judged 5 psi lower, the second round having found its gauge to read high.
    later = [row | {"saturation_f": row["saturation_f"] - 8.0} for row in before()]
    station = check_step(findings(*before()), findings(*later), site=SITE)[0]
    assert station.before_psig - station.after_psig > 4.0
    assert station.go_on == "no step"
    assert "its pressure is as it was. Its gauge shows what it did" in station.words


def test_a_small_step_of_a_low_pressure_is_a_step() -> None:
    low, lower = ([trap(f"T-{i}", lift_ft=2.0, return_psig=0.0, supply_psig=psig, **given)
                   for i, given in enumerate([{}, {}, {}, {}, {"state": state}])]
                  for psig, state in ((8.0, "working"), (7.0, "cold")))  # fmt: skip
    station = check_step(findings(*low), findings(*lower), site=SITE)[0]
    assert station.go_on == "wait"
    assert station.words.startswith("T-4 not yet warm")


def test_a_pressure_that_was_raised_tells_nothing_of_a_step_down() -> None:
    later = [trap(row["tag"], lift_ft=row["lift_ft"], supply_psig=45.0) for row in before()]
    station = check_step(findings(*before()), findings(*later), site=SITE)[0]
    assert (station.go_on, station.words) == (
        "no step", "its pressure is 5.0 psi higher than it was.")  # fmt: skip


def test_what_stands_back_without_a_step_is_not_sent_back_to_a_pressure_it_never_left() -> None:
    later = [row | {"state": "backed_up", "cause": "check_valve", "p_backed_up": 0.97,
                    "p_working": 0.006} if row["tag"] == "T-2" else row
             for row in before()]  # fmt: skip
    station = check_step(findings(*before()), findings(*later), site=SITE)[0]
    assert station.go_on == "wait"
    assert "as it was, but condensate stands in T-2" in station.words
    assert "back to" not in station.words


def test_a_return_that_rose_at_the_step_is_found_out_about_first() -> None:
    assert checked().go_on == "go on"
    risen = {row["tag"].replace("-", "_"): {"return_psig": 6.0} for row in before()}
    station = checked(**risen)
    assert station.go_on == "wait"
    assert "its return stands 4.0 psi higher" in station.words


def test_two_stations_that_went_down_at_once_are_told_so() -> None:
    both = [[trap(f"{station}-{i}", station=station, supply_psig=psig) for i in range(4)
             for station in "AB"] for psig in (40.0, 35.0)]  # fmt: skip
    one, other = check_step(findings(*both[0]), findings(*both[1]), site=SITE)
    assert (one.go_on, other.go_on) == ("go on", "go on")
    assert "A and B went down between the same two rounds" in one.words
    assert "went down between" not in checked().words
    # B took no step: one of its units stands back all the same.
    stood = [row for row in both[0] if row["station"] == "B" and row["tag"] != "B-0"]
    stood.append(trap("B-0", station="B", state="backed_up", cause="lift"))
    fell = [row for row in both[1] if row["station"] == "A"]
    one, other = check_step(findings(*both[0]), findings(*fell, *stood), site=SITE)
    assert (one.go_on, one.stepped, other.go_on, other.stepped) == ("go on", True, "wait", False)
    assert "went down between" not in one.words + other.words


def test_a_unit_not_read_again_still_needs_what_it_needed() -> None:
    first, second = findings(*before()), findings(*after(T_HIGH={"state": "gone"}))
    wishes = Wishes(15.0)
    floor = plan_pressure(first, site=SITE, wishes=wishes).stations[0].floor_psig
    assert floor > 20.0
    forgot = plan_pressure(second, site=SITE, wishes=wishes).stations[0]
    assert forgot.standing == "to_target"
    plan = plan_pressure(second, site=SITE, wishes=wishes, before=first)
    kept = plan.stations[0]
    assert kept.floor_psig == pytest.approx(floor, abs=1.5)
    assert (kept.units, kept.binding[0].tag) == (6, "T-HIGH")
    assert "taken to need what was needed then: T-HIGH" in " ".join(plan.assumptions)


def test_every_unit_has_one_outcome() -> None:
    station = checked(T_1={"state": "gone"}, T_2={"state": "cold", "cause": "unknown"})
    assert sum(station.counts.values()) == len(station.units) == 6


def test_a_flood_that_nobody_foresaw_is_a_flood_all_the_same() -> None:
    station = checked(T_2={"state": "backed_up", "cause": "unknown"})
    assert outcome(station, "T-2") == "flooded"
    assert station.go_on == "go back"


def test_the_lift_that_the_round_before_named_stands_beside_the_unit() -> None:
    # Judged by itself the round after blames the check valve; the round before knew of a lift.
    station = checked(T_HIGH={"state": "backed_up", "cause": "check_valve"})
    words = {unit.tag: unit.words for unit in station.units}
    plan = plan_pressure(findings(*before()), site=SITE, wishes=Wishes(5.0, spare_share=0.6))
    held = plan.stations[0].binding[0]
    assert (held.tag, held.kind) == ("T-HIGH", "lift")
    needs = f"By the round before, its lift of 50 ft needs {held.limit_psig:.1f} psig"
    assert words["T-HIGH"].endswith(needs)
    assert "needs" not in words["T-2"]


@pytest.mark.parametrize(("load", "what"), [(500.0, "trap"), (900.0, "load as written")])
def test_a_trap_that_binds_is_said_to_be_its_trap(load: float, what: str) -> None:
    tight = {"lift_ft": 0.0, "load_lb_per_h": load, "orifice_in": 0.166}
    early = [trap("T-1", **tight), trap("T-2")]
    late = [trap("T-1", supply_psig=26.0, state="backed_up", cause="unknown", **tight),
            trap("T-2", supply_psig=26.0)]  # fmt: skip
    units = check_step(findings(*early), findings(*late), site=SITE)[0].units
    assert f"By the round before, its {what} needs " in units[0].words


def test_a_unit_without_a_lift_has_no_limit_to_name() -> None:
    early = [trap("T-1", lift_ft=None), trap("T-2")]
    late = [trap("T-1", lift_ft=None, supply_psig=26.0, state="backed_up", cause="check_valve"),
            trap("T-2", supply_psig=26.0)]  # fmt: skip
    assert "By the round before" not in check_step(
        findings(*early), findings(*late), site=SITE
    )[0].units[0].words


def paper(*, later, to=5.0, stations=()):
    west = [trap(f"W-{i}", station="West") for i in range(4)]
    early, late = ([*rows, *west] for rows in (before(), later))
    rounds = [Findings(findings(*rows), pd.DataFrame(), {}) for rows in (early, late)]
    return make_paper(rounds[1], site=SITE, wishes=Wishes(to, spare_share=0.6),
                      stations=stations, before=rounds[0])  # fmt: skip


def first_lines(said) -> str:
    return " ".join(plan_text(said).partition("Before anyone touches")[0].split())


def test_going_back_stands_first_and_nothing_further_down_is_planned() -> None:
    flooded = after(T_HIGH={"state": "backed_up", "cause": "check_valve"})
    top = first_lines(paper(later=flooded))
    assert top.partition("=")[2].lstrip("= ").startswith(
        "Station N (26.0 psig today) has to go back. 1 unit flooded (T-HIGH)"
    )
    own = top[:top.index("Station West")]
    assert "do not go on." in own
    assert "can go down" not in own
    assert "Down to" not in own
    plan, west = paper(later=flooded).plan.stations
    assert (plan.standing, plan.steps, plan.savings) == ("go_back", (), ())
    assert west.steps


def test_a_station_that_has_to_go_back_stands_before_others() -> None:
    flooded = after(T_HIGH={"state": "backed_up", "cause": "check_valve"})
    east = [trap(f"E-{i}", station="East") for i in range(4)]
    rounds = [Findings(findings(*rows, *east), pd.DataFrame(), {}) for rows in (before(), flooded)]
    said = make_paper(rounds[1], site=SITE, wishes=Wishes(5.0, spare_share=0.6), before=rounds[0])
    top = first_lines(said)
    assert top.index("Station N") < top.index("Station East")


def test_waiting_stands_first_too() -> None:
    top = first_lines(paper(later=after(T_2={"state": "cold", "cause": "unknown"})))
    own = top[:top.index("Station West")]
    assert "Station N (26.0 psig today) waits where it is. T-2 not yet warm. Stay at" in own
    assert "can go down" not in own


def test_a_step_that_has_held_lets_the_plan_go_on() -> None:
    said = paper(later=after(), to=20.0)
    assert said.checked[0].go_on == "go on"
    assert said.plan.stations[0].steps


def test_of_rows_that_two_stations_seem_to_feed_no_step_is_called_held() -> None:
    early = [trap(f"T-{i}", station="", supply_psig=40.0 if i else 60.0) for i in range(5)]
    late = [trap(f"T-{i}", station="", supply_psig=30.0 if i else 60.0) for i in range(5)]
    station = check_step(findings(*early), findings(*late), site=SITE)[0]
    assert station.go_on == "wait"
    assert "more than one station" in station.words
    rounds = [Findings(findings(*rows), pd.DataFrame(), {}) for rows in (early, late)]
    said = make_paper(rounds[1], site=SITE, wishes=Wishes(5.0), before=rounds[0])
    assert first_lines(said).count("more than one station") == 1
    assert "Rows that name no station: wait. Their pressures" in " ".join(plan_text(said).split())


def test_in_si_the_limit_beside_a_unit_is_in_si() -> None:
    flooded = after(T_HIGH={"state": "backed_up", "cause": "check_valve"})
    with manner.using(units="si"):
        text = " ".join(plan_text(paper(later=flooded)).split())
    assert re.search(r"By the round before, its lift of 15\.2 m needs \d\.\d+ bar gauge", text)
