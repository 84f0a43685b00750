"""`survey pressure`: words, files and exit codes."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pandas as pd
import pytest
from click.testing import CliRunner, Result

from survey.cli import main
from survey.findings import Findings
from survey.plant.common import common_causes
from survey.plant.stepdown import Wishes, plan_pressure
from survey.plant.worklist import LEVELS
from survey.reports.plan import PlanPaper, plan_html, plan_json, plan_text
from survey.reports.plan_paper import make_paper
from survey.reports.plan_words import STEP_CAUTIONS
from tests.plant.build import SITE, findings, trap

SAMPLE = Path(__file__).resolve().parents[2] / "sample_data"
ROUND = SAMPLE / "nursery_round.csv"


def run(*arguments: object) -> Result:
    return CliRunner().invoke(main, ["pressure", *map(str, arguments)], prog_name="survey")


def joined(text: str) -> str:
    return " ".join(text.split())


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> tuple[str, dict]:
    place = tmp_path_factory.mktemp("plan") / "plan.json"
    done = run(ROUND, "--to", 5, "--site", SAMPLE / "nursery_site.toml", "--out", place)
    assert (done.exit_code, done.stderr) == (0, "")
    return done.stdout, json.loads(place.read_text(encoding="utf-8"))


def test_the_nursery_is_planned(planned) -> None:
    text, plan = planned
    north, south = plan["stations"]
    assert (north["station"], north["standing"]) == ("North", "part_way")
    assert (south["station"], south["standing"]) == ("South", "stay")
    # The three lifts that 15 psig cannot make hold the station up.
    assert [unit["tag"] for unit in south["binding"][:3]] == ["T-036", "T-019", "T-029"]
    assert north["known"] == 34
    assert north["units"] == 78
    assert "That holds for the 34 of 78 units whose lift is known" in joined(text)
    assert "Step 1: 55.0 psig" in text
    assert "44 units whose needs are not known are not in these figures" in joined(text)


def test_cautions_are_shown_once(planned) -> None:
    text = joined(planned[0])
    for caution in STEP_CAUTIONS:
        assert text.count(caution) == 1


def test_upstream_repairs_come_first_on_the_paper(planned) -> None:
    text, plan = planned
    assert text.index("Mend first") < text.index("Step 1")
    levels = [line["level"] for line in plan["mend_first"]]
    assert levels == sorted(levels)
    assert max(levels) == LEVELS.index("traps")  # none that wants one more reading first
    vent = next(line for line in plan["mend_first"] if line["tag"] == "V-002")
    assert vent["explains"] == ["T-002"]


def test_what_is_not_known_is_null_in_json(planned) -> None:
    costs = [one["cost"] for one in planned[1]["stations"][0]["savings"]]
    assert costs[-1] is None


def test_a_page_is_complete_in_itself_and_safe(tmp_path: Path) -> None:
    place = tmp_path / "plan.html"
    done = run(ROUND, "--to", 20, "--station", "North", "--out", place)
    assert done.exit_code == 0
    assert f"Plan saved to {place}" in done.stdout
    page = place.read_text(encoding="utf-8")
    assert "<script" not in page
    assert not re.search(r"(?:src|href)=", page)
    assert page.count("<svg") == 1
    assert "Station South" not in page


def test_names_from_the_round_stay_text() -> None:
    table = findings(*(trap(f"<b>T-{i}</b>", area="<script>alert(1)</script>") for i in range(4)))
    plan = plan_pressure(table, site=SITE, wishes=Wishes(5.0, spare_share=0.6))
    page = plan_html(PlanPaper("<i>N</i>", plan))
    assert "<script" not in page
    assert "<b>T-" not in page
    assert "&lt;b&gt;T-0&lt;/b&gt;" in page


def test_a_station_without_lifts_says_so_on_paper() -> None:
    table = findings(*(trap(f"T-{i}", lift_ft=None) for i in range(4)))
    plan = plan_pressure(table, site=SITE, wishes=Wishes(5.0))
    text = joined(plan_text(PlanPaper("", plan)))
    assert "cannot be told. No lift is known for any of its 4 units" in text
    assert "measure the rise from the trap to the highest point of its return" in text
    assert "Step 1" not in text


def test_common_causes_stand_above_the_list() -> None:
    rows = [trap(f"T-{i}", station="NS"[i % 2]) for i in range(40)]
    for row in rows[1::2][:16]:
        row |= {"state": "backed_up", "cause": "lift", "p_backed_up": 0.97, "p_working": 0.01}
    table = findings(*rows)
    paper = PlanPaper(
        "", plan_pressure(table, site=SITE, wishes=Wishes(5.0)), common=common_causes(table)
    )
    text = joined(plan_text(paper))
    assert text.count("The pressure is too low for the lift at station S: 16 of 20") == 1
    assert json.loads(plan_json(paper))["common_causes"][0]["fault"] == "lift"


def test_a_second_round_is_held_against_the_first() -> None:
    done = run(ROUND, "--to", 10, "--after", SAMPLE / "nursery_after_repair.csv")
    assert done.exit_code == 0
    text = joined(done.stdout)
    assert "What the round after the step shows" in text
    assert "Station South, 15.1 to 14.9 psig: no step." in text


def test_a_second_round_that_is_lower_is_judged(tmp_path: Path) -> None:
    table = pd.read_csv(SAMPLE / "nursery_after_repair.csv")
    north = table["station"] == "North"
    table.loc[north, "supply_psig"] -= 12.0
    # Steam at 48 psig is 12 °F cooler than at 60.
    table.loc[north, ["inlet_temp_f", "outlet_temp_f"]] -= 12.0
    after = tmp_path / "after.csv"
    table.to_csv(after, index=False)
    done = run(ROUND, "--to", 40, "--station", "North", "--after", after)
    text = joined(done.stdout)
    assert re.search(r"Station North, 59\.9 to 4[78]\.\d psig: (go on|wait)\.", text), text[:1500]
    assert "flooded (" not in text


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--to", "20", "--out", "plan.docx"], "A plan ends in .html, .pdf, .txt or .json."),
        (["--to", "20", "--station", "West"], "give one of: North, South."),
        (["--to", "warm"], "'warm' is not a valid float"),
        ([], "Missing option '--to'"),
        (["--to", "20", "--spare", "95"], "95.0 is not in the range"),
        (["--to", "20", "--after", "nowhere.csv"], "nowhere.csv"),
        (["--to", "20", "--out", str(ROUND)], "A plan ends in"),
    ],
)
def test_what_cannot_be_meant_is_said(arguments: list[str], said: str) -> None:
    done = run(ROUND, *arguments)
    assert done.exit_code == 2
    assert done.stdout == ""
    assert said in joined(done.stderr)
    assert "Traceback" not in done.stderr


def test_a_round_without_traps_is_refused(tmp_path: Path) -> None:
    place = tmp_path / "vents.csv"
    place.write_text("tag,device,inlet_temp_f\nV-1,air_vent,230\n", encoding="utf-8")
    done = run(place, "--to", 5)
    assert done.exit_code == 2
    assert "At least one trap was expected" in done.stderr


def test_a_shared_return_is_spoken_of_for_the_named_station_alone() -> None:
    rows = [trap(f"{name}-{i}", station=name) for name in ("East", "West") for i in range(4)]
    rounds = Findings(findings(*rows), pd.DataFrame(), {})
    wishes = Wishes(5.0, spare_share=0.6)
    every = make_paper(rounds, site=SITE, wishes=wishes)
    east = make_paper(rounds, site=SITE, wishes=wishes, stations=["East"])
    assert len(every.plan.returns) == 2
    # How its return bears on the others is still worked out from all of them.
    assert east.plan.returns == every.plan.returns[:1]
    assert "West" not in plan_text(east)


def test_a_cause_of_another_station_is_left_out_where_one_is_named() -> None:
    rows = [trap(f"T-{i}", station="NS"[i % 2]) for i in range(40)]
    for row in rows[1::2][:16]:
        row |= {"state": "backed_up", "cause": "lift", "p_backed_up": 0.97, "p_working": 0.01}
    rounds = Findings(findings(*rows), pd.DataFrame(), {})
    papers = {
        name: make_paper(rounds, site=SITE, wishes=Wishes(5.0), stations=[name]) for name in "NS"
    }
    assert [cause.group for cause in papers["S"].common] == ["S"]
    assert papers["N"].common == []
    assert "station S" not in plan_text(papers["N"])


def test_flash_that_is_not_known_is_said_to_be_so_on_paper_and_null_in_json() -> None:
    table = findings(*(trap(f"T-{i}", orifice_in=None) for i in range(4)))
    paper = PlanPaper("", plan_pressure(table, site=SITE, wishes=Wishes(5.0, spare_share=0.6)))
    text = joined(plan_text(paper))
    assert "flash steam from condensate; saved: not known; a year: not known; mind: No load" in text
    flash = json.loads(plan_json(paper))["stations"][0]["savings"][1]
    assert (flash["expected"], flash["cost"]) == (None, None)
