"""The small tables: nothing lost, nothing counted twice, worst first."""

from __future__ import annotations

from pathlib import Path

import pytest

from reports.build import UNITS, findings, many
from survey import analyze
from survey.reports import tables
from survey.reports.narrowing import narrowed
from survey.reports.sentences import headline


@pytest.mark.parametrize("column", ["area", "station", "cause", "state", "equipment", "trap_type"])
def test_any_split_adds_up_to_the_whole(column: str) -> None:
    judged = many(500)
    rows = tables.cost_by(judged, column)
    assert rows["devices"].sum() == 500
    assert rows["to_do"].sum() == judged.table["rank"].notna().sum()
    for name in tables.SUMMED:
        assert rows[name].sum() == pytest.approx(judged.table[name].sum(), rel=1e-12)
    assert rows["annual_cost"].is_monotonic_decreasing


def test_a_split_by_area() -> None:
    rows = tables.cost_by(findings(), "area").set_index("name")
    assert list(rows.index) == ["Glasshouse", "Laundry"]
    assert rows.loc["Laundry", ["devices", "to_do", "annual_cost"]].tolist() == [2, 2, 678.0]
    assert rows.loc["Glasshouse", "annual_cost_high"] == 3739.0


def test_a_blank_name_gathers_the_rows_without_one() -> None:
    judged = findings([*UNITS, {"tag": "T-5", "state": "working", "annual_cost": 3.0}])
    rows = tables.cost_by(judged, "area").set_index("name")
    assert rows.loc["", ["devices", "annual_cost"]].tolist() == [1, 3.0]


def test_states_are_counted_by_device() -> None:
    counts = tables.state_counts(findings())
    assert counts["count"].sum() == 5
    found = {(r.device, r.state, r.group) for r in counts.itertuples()}
    assert ("air_vent", "isolated", "held") in found
    assert ("trap", "failed_open", "out") in found


def test_totals_come_from_the_summary_and_else_from_the_rows() -> None:
    total = tables.totals(findings())
    assert (total.annual_cost, total.annual_cost_low) == (3124.0, 1913.0)
    assert (total.read, total.judged, total.set_aside, total.to_do) == (6, 5, 1, 4)
    assert total.groups == {"out": 2, "held": 1, "undecided": 1, "working": 1}
    bare = tables.totals(findings(summary={}))
    assert bare.annual_cost == pytest.approx(2431.4 + 14.6 + 560 + 118)
    assert bare.annual_cost_high == pytest.approx(3719 + 20 + 990 + 450)
    assert bare.read == 6


@pytest.mark.parametrize(("extra", "said"), [
    ("Total 40 traps,\nST-3,hot\n", "2 rows of 4 were set aside, not judged; 1 of them is a line "
     "of totals, not a device."),
    ("Total 40 traps,\n", "1 row of 3 was set aside, not judged: a line of totals, not a device."),
    ("Total 40 traps,\nTotal 40 traps,\nST-3,hot\n", "3 rows of 5 were set aside, not judged; "
     "2 of them are lines of totals, not devices."),
    ("ST-3,hot\n", "1 row of 3 was set aside, not judged."),
])  # fmt: skip
def test_lines_of_totals_are_told_from_devices_set_aside(
    tmp_path: Path, extra: str, said: str
) -> None:
    given = tmp_path / "round.csv"
    given.write_text(f"tag,inlet_temp_f\nST-1,200\nST-2,210\n{extra}")
    found = analyze(given)
    assert len(found.table) + len(found.rejects) == found.summary["rows_read"]
    assert headline(tables.totals(found), show_money=True).endswith(said)


def test_worst_first_then_undecided_then_the_rest_by_tag() -> None:
    order = tables.worst_first(findings().table)["tag"].tolist()
    assert order == ["T-1", "T-3", "T-4", "V-1", "T-2"]
    assert tables.worst(findings(), 2)["tag"].tolist() == ["T-1", "T-3"]


def test_the_curve_runs_up_to_what_the_ranked_devices_carry() -> None:
    curve = tables.cumulative(findings())
    assert curve["tag"].tolist() == ["T-1", "T-3", "T-4"]
    assert curve["running"].tolist() == pytest.approx([2431.4, 2991.4, 3109.4])
    assert curve["share"].iloc[-1] == pytest.approx(3109.4 / 3124.0)
    assert tables.flattens_at(curve, 0.7) == 1
    assert tables.flattens_at(curve, 0.9) == 2
    assert tables.flattens_at(curve, 1.0) == 3


def test_jobs_gather_the_devices_of_one_heater() -> None:
    found = tables.jobs(findings())
    (first, second), count = found["out"]
    assert count == 2
    assert (first.equipment, first.area) == ("Heater 1", "Glasshouse")
    assert first.devices["tag"].tolist() == ["T-1", "V-1"]
    assert first.sums["annual_cost"] == 2431.4
    assert second.devices["tag"].tolist() == ["T-3"]
    assert [job.devices["tag"].tolist() for job in found["undecided"][0]] == [["T-4"]]
    assert found["held"] == ([], 0)


def test_a_device_without_an_area_is_in_the_job_of_the_only_heater_of_its_name() -> None:
    cold = {"equipment": "UH-1", "state": "cold"}
    units = [{"tag": "T-1", "area": "A", "rank": 1.0, **cold}, {"tag": "V-1", "rank": 2.0, **cold}]
    jobs, _ = tables.jobs(findings(units))["held"]
    assert [job.devices["tag"].tolist() for job in jobs] == [["T-1", "V-1"]]
    # A heater of that name elsewhere makes it unknown which is meant, ranked or not.
    units.append({"tag": "T-9", "area": "B", "equipment": "UH-1", "state": "working"})
    jobs, _ = tables.jobs(findings(units))["held"]
    assert [job.devices["tag"].tolist() for job in jobs] == [["T-1"], ["V-1"]]


def test_devices_without_equipment_are_jobs_of_their_own() -> None:
    units = [{"tag": f"T-{n}", "area": "A", "state": "cold", "rank": float(n)} for n in (1, 2, 3)]
    jobs, count = tables.jobs(findings(units))["held"]
    assert [job.devices["tag"].tolist() for job in jobs] == [["T-1"], ["T-2"], ["T-3"]]
    first, count = tables.jobs(findings(units), most={"held": 1})["held"]
    assert (len(first), count) == (1, 3)


def test_every_ranked_device_is_in_exactly_one_job() -> None:
    judged = many(400)
    tags = [tag for jobs, _ in tables.jobs(judged).values() for job in jobs
            for tag in job.devices["tag"]]
    assert sorted(tags) == sorted(judged.table["tag"][judged.table["rank"].notna()])


def test_a_choice_of_areas_sums_only_those() -> None:
    kept = narrowed(findings(), ["Laundry"])
    total = tables.totals(kept)
    assert (total.judged, total.read, total.set_aside) == (2, 3, 1)
    assert total.annual_cost == 678.0
    assert (total.annual_cost_low, total.annual_cost_high) == (210.0, 1440.0)
    assert kept.summary["assumptions"][2] == "Hours taken from station South."
    assert [c["group"] for c in kept.summary["calibration"]] == ["South, contact"]
    assert "notes" not in kept.summary
    assert narrowed(findings(), None).summary["notes"]
