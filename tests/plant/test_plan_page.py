"""The plan's screen, on the sample round."""

from __future__ import annotations

from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from survey import Findings, Site, analyze
from survey.dashboard import state
from survey.plant.stepdown import Wishes, plan_pressure
from survey.plant.worklist import LEVELS
from survey.reports import measures, words
from survey.reports.lost_chart import chart_words
from survey.reports.plan_paper import make_paper
from survey.reports.plan_words import STEP_CAUTIONS
from survey.reports.words import CAUTION_POINTS

ROOT = Path(__file__).resolve().parents[2]
PAGE = ROOT / "survey" / "dashboard" / "plan.py"


@pytest.fixture(scope="module")
def judged() -> tuple[Findings, Site]:
    site = Site.from_toml(ROOT / "sample_data" / "nursery_site.toml")
    return analyze(ROOT / "sample_data" / "nursery_round.csv", site=site), site


def opened(findings: Findings | None) -> AppTest:
    app = AppTest.from_file(str(PAGE), default_timeout=60)
    app.session_state[state._WORK] = state.Work(findings=findings)
    return app.run()


def test_the_page_shows_upstream_first_and_every_station(judged) -> None:
    app = opened(judged[0])
    assert not app.exception
    heads = [mark.value.strip("*").lower() for mark in app.markdown]
    levels = [LEVELS.index(head) for head in heads if head in LEVELS]
    assert levels == sorted(set(levels))
    assert LEVELS.index("valves that are shut") in levels
    said = " ".join(text.value for text in app.text)
    assert "**Station North**" in [mark.value for mark in app.markdown]
    assert "It can go down" in said
    assert "T-036 (Glasshouse C, UH-036) binds at" in said
    assert said.count(STEP_CAUTIONS[-1]) == 1
    assert said.count(CAUTION_POINTS[0]) == 1


def test_an_area_narrows_the_list(judged) -> None:
    app = opened(judged[0])
    app = app.selectbox(key="kept_plan_area").set_value("Laundry").run()
    jobs = [each.value for each in app.get("html") if '<article class="job"' in each.value]
    assert jobs
    assert all("Laundry" in job for job in jobs)


def test_without_a_round_it_says_where_to_go() -> None:
    app = opened(None)
    assert not app.exception
    assert app.info


def test_each_station_has_its_chart_and_says_what_it_shows(judged) -> None:
    findings, site = judged
    plan = plan_pressure(findings.table, site=site, wishes=Wishes(5.0))
    curves = [station.curve for station in plan.stations if station.curve is not None]
    app = opened(findings)
    assert sum("<svg" in mark.value for mark in app.markdown) == len(curves) > 0
    said = [text.value for text in app.text]
    assert all(chart_words(curve) in said for curve in curves)


def test_the_steps_and_the_saving_stand_on_the_screen(judged) -> None:
    findings, _ = judged
    plan = make_paper(findings, site=Site(), wishes=Wishes(5.0)).plan  # no site is given there
    station = next(one for one in plan.stations if one.steps)
    app = opened(findings)
    shown = [str(each.value) for each in app.get("html")]
    steps = next(each for each in shown if "watch these" in each)
    assert steps.count("<tr>") == 1 + len(station.steps)
    for step in station.steps:
        assert measures.figured(measures.GAUGE, step.psig) in steps
        assert f"{step.wait_hours:g} hours" in steps
        assert all(one.tag in steps for one in step.watch)
    saved = next(each for each in shown if "live steam through failed traps" in each)
    blown = station.savings[0]
    assert words.money(blown.cost, plan.currency, blown.cost_low, blown.cost_high) in saved
    assert measures.flow((blown.expected, blown.low, blown.high)) in saved
    said = " ".join(text.value for text in app.text)
    assert f"live steam through failed traps: {blown.note}" in said
    # Many steps are folded up; nothing is drawn for a station that stays.
    folded = [each for each in app.expander if each.label.startswith("The way down")]
    assert [each.label for each in folded] == [f"The way down, {len(station.steps)} steps"]
    assert not folded[0].proto.expanded


def test_few_steps_stand_open(judged) -> None:
    app = opened(judged[0])
    app = app.number_input(key="kept_plan_to_us").set_value(50.0).run()
    few = next(each for each in app.expander if each.label.startswith("The way down"))
    assert few.label == "The way down, 2 steps"
    assert few.proto.expanded
