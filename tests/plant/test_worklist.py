"""The work list: upstream first, victims under what explains them, everything on it once."""

from __future__ import annotations

from survey.plant.air import air_bound
from survey.plant.common import CommonCause
from survey.plant.worklist import LEVELS, work_list
from tests.plant.build import SITE, device, findings, trap

COLD = {"state": "cold", "cause": "air_vent", "subcooling_f": 140.0}


def plant():
    return findings(
        trap("T-1", equipment="UH-1", **COLD),
        device("V-1", "air_vent", "UH-1", state="isolated", cause="valved_off"),
        trap("T-2", equipment="UH-2", state="backed_up", cause="check_valve"),
        device("C-2", "check_valve", "UH-2", state="stuck", cause="check_valve"),
        trap("T-3", equipment="UH-3", state="failed_open", cause="trap", annual_cost=900.0),
        trap("T-4", equipment="UH-4", state="leaking", cause="trap", orifice_in=None,
             annual_cost=100.0),
        trap("T-5", equipment="UH-5", state="backed_up", cause="lift"),
        trap("T-6", equipment="UH-6", state="undecided", cause="unknown", confidence=0.4),
        trap("T-7", equipment="UH-7", **COLD),
        trap("T-8", equipment="UH-8"),
    )  # fmt: skip


def test_upstream_comes_before_trap() -> None:
    lines = work_list(plant(), site=SITE)
    levels = [line.level for line in lines]
    assert levels == sorted(levels)
    assert [line.tag for line in lines if LEVELS[line.level] == "traps"] == ["T-3", "T-4"]


def test_victims_stand_under_what_explains_them_and_have_no_line_of_their_own() -> None:
    lines = {line.tag: line for line in work_list(plant(), site=SITE)}
    assert lines["V-1"].explains == ("T-1",)
    assert lines["C-2"].explains == ("T-2",)
    assert "T-1" not in lines
    assert "T-2" not in lines


def test_everything_that_is_not_working_is_on_the_list_once() -> None:
    table = plant()
    lines = work_list(table, site=SITE)
    named = [tag for line in lines for tag in (line.tag, *line.explains) if tag]
    assert sorted(named) == sorted(table.loc[table["state"] != "working", "tag"])


def test_a_vent_that_is_not_in_the_round_is_worked_on_all_the_same() -> None:
    line = next(one for one in work_list(plant(), site=SITE) if one.explains == ("T-7",))
    assert (line.tag, line.parts) == ("", "air vent, not in the round")


def test_a_vent_that_is_blamed_though_it_reads_well_is_named_with_how_it_was_judged() -> None:
    table = findings(
        trap("T-7", equipment="UH-7", **COLD), device("V-7", "air_vent", "UH-7", state="working")
    )
    lines = work_list(table, site=SITE)
    line = next(one for one in lines if one.explains == ("T-7",))
    assert line.parts == "air vent, though V-7 is judged working: try it once more"
    table.loc[table["tag"] == "V-7", "state"] = "undecided"
    line = next(one for one in work_list(table, site=SITE) if one.explains == ("T-7",))
    assert line.parts == "air vent, though V-7 is undecided: try it once more"


def test_parts_have_type_and_bore_or_say_that_they_are_not_known() -> None:
    lines = {line.tag: line for line in work_list(plant(), site=SITE)}
    assert lines["T-3"].parts == "trap, float thermostatic, 0.166 in bore"
    assert "bore not recorded" in lines["T-4"].parts
    assert "its pipe should come to about 283 °F" in lines["V-1"].read_again


def test_one_shared_repair_heads_the_list_with_its_units_under_it() -> None:
    shared = CommonCause("lift", "station", "N", 3, 9, 0, 9, 0.001, 20, ("T-5",), "Said.", "Look.")
    lines = work_list(plant(), site=SITE, common=[shared])
    assert (lines[0].level, lines[0].explains, lines[0].why) == (0, ("T-5",), "Said.")
    assert all(line.tag != "T-5" for line in lines)


def test_the_same_equipment_name_in_another_area_is_another_heater() -> None:
    table = findings(
        trap("T-1", equipment="UH-1", area="Hall 2", **COLD),
        device("V-1", "air_vent", "UH-1", area="Hall 1", state="isolated", cause="valved_off"),
    )
    lines = {line.tag: line for line in work_list(table, site=SITE)}
    assert lines["V-1"].explains == ()


def test_devices_listed_without_an_area_are_those_of_the_heater_that_they_name() -> None:
    # As on a second sheet that has no column of areas; the verdicts take them so.
    table = plant()
    heaters = table["device"] == "trap"
    table["area"] = table["area"].where(heaters, None)
    lines = {line.tag: line for line in work_list(table, site=SITE)}
    assert (lines["V-1"].explains, lines["C-2"].explains) == (("T-1",), ("T-2",))
    assert air_bound(table, site=SITE)[0].vents == ("V-1",)
    # Where two areas have a heater of that name, it is not known which is meant.
    table.loc[table["tag"] == "T-8", ["area", "equipment"]] = ["Elsewhere", "UH-1"]
    lines = {line.tag: line for line in work_list(table, site=SITE)}
    assert (lines["V-1"].explains, lines["C-2"].explains) == ((), ("T-2",))


def test_air_is_what_dalton_says_and_the_most_heat_comes_first() -> None:
    # Dalton's law on IAPWS-IF97: 10 % air at 15 psig is 243.8 °F, 20 % at 50 psig 283.18 °F.
    rows = [
        trap("T-A", supply_psig=15.0, state="cold", cause="air_vent", saturation_f=249.76,
             subcooling_f=249.76 - 243.8),
        trap("T-B", supply_psig=50.0, state="cold", cause="air_vent", saturation_f=297.7,
             subcooling_f=297.7 - 283.18),
        trap("T-C", supply_psig=50.0, saturation_f=297.7, subcooling_f=60.0,
             state="cold", cause="air_vent"),
    ]  # fmt: skip
    found = air_bound(findings(*rows), site=SITE)
    assert [one.tag for one in found] == ["T-C", "T-B", "T-A"]
    share = {one.tag: one.air_share for one in found}
    assert abs(share["T-A"] - 0.10) < 0.004
    assert abs(share["T-B"] - 0.20) < 0.004
    for one in found:
        ends = (one.heat_back_low_btu_per_h, one.heat_back_high_btu_per_h)
        assert ends[0] < one.heat_back_btu_per_h < ends[1]


def test_heat_back_of_an_unknown_load_is_not_made_up() -> None:
    row = trap("T-A", orifice_in=None, **COLD)
    one = air_bound(findings(row), site=SITE)[0]
    assert one.heat_back_btu_per_h != one.heat_back_btu_per_h
    given = air_bound(findings(row | {"Load lb per h": "150"}), site=SITE)[0]
    assert given.load_given
    assert 0 < given.heat_back_btu_per_h < 150 * 970


def test_a_list_of_nothing_is_empty() -> None:
    assert work_list(findings(trap("T-1")), site=SITE) == []
