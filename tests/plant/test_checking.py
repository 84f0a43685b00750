"""After a step: held, flooded, not yet warm, cannot tell, and whether to go on."""

from __future__ import annotations

import pytest

from survey.plant.checking import check_step
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
    assert outcome(checked(T_2=undecided), "T-2") == "cannot_tell"


def test_a_unit_in_trouble_before_is_not_the_steps_doing() -> None:
    rows = [*before()[:-1], trap("T-HIGH", lift_ft=50.0, state="backed_up", cause="lift")]
    later = after(T_HIGH={"state": "backed_up", "cause": "lift"})
    station = check_step(findings(*rows), findings(*later), site=SITE)[0]
    assert outcome(station, "T-HIGH") == "in_trouble_before"
    assert station.go_on == "go on"


def test_no_step_is_seen_as_none() -> None:
    station = check_step(findings(*before()), findings(*before()), site=SITE)[0]
    assert station.go_on == "no step"


def test_every_unit_has_one_outcome() -> None:
    station = checked(T_1={"state": "gone"}, T_2={"state": "cold", "cause": "unknown"})
    assert sum(station.counts.values()) == len(station.units) == 6


def test_a_flood_that_nobody_foresaw_is_a_flood_all_the_same() -> None:
    station = checked(T_2={"state": "backed_up", "cause": "unknown"})
    assert outcome(station, "T-2") == "flooded"
    assert station.go_on == "go back"
