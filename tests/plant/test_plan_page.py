"""The plan's screen, on the sample round."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from streamlit.testing.v1 import AppTest

from survey import Findings, Site, analyze
from survey.dashboard import state
from survey.dashboard.plan import lost_figure
from survey.plant.stepdown import Wishes, plan_pressure
from survey.plant.worklist import LEVELS

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
    levels = [LEVELS.index(name) for name in app.dataframe[0].value["first"]]
    assert levels == sorted(levels)
    said = " ".join(text.value for text in app.text)
    assert "Station North can go down" in said
    assert "T-036 (Glasshouse C, UH-036) binds at" in said
    assert len(app.warning) == 1


def test_an_area_narrows_the_list(judged) -> None:
    app = opened(judged[0])
    app = app.selectbox(key="kept_plan_area").set_value("Laundry").run()
    assert set(app.dataframe[0].value["where"].str.split(",").str[0]) == {"Laundry"}


def test_without_a_round_it_says_where_to_go() -> None:
    app = opened(None)
    assert not app.exception
    assert app.info


def test_the_chart_holds_the_curve_and_its_range(judged) -> None:
    findings, site = judged
    plan = plan_pressure(findings.table, site=site, wishes=Wishes(5.0)).stations[1]
    figure = lost_figure(plan.curve, plan, "light")
    np.testing.assert_allclose(figure.data[1].y, plan.curve.expected)
    assert max(figure.data[0].y) == max(plan.curve.high)
