"""Plant, Next round and Rounds in SI with a decimal comma: no US unit, no decimal point."""

from __future__ import annotations

import html
import re
from dataclasses import replace
from datetime import date
from functools import partial

import pytest
from streamlit.testing.v1 import AppTest

from survey import Findings, Site
from survey.dashboard.downloads import in_manner
from survey.dashboard.remembered import remember_manner
from survey.plant.stepdown import Wishes
from survey.reports import lost_chart
from survey.reports.lost_chart import chart_words
from survey.reports.manner import Manner
from survey.reports.plan import plan_html
from survey.reports.plan_paper import make_paper
from survey.reports.route_sheet import sheet_html
from survey.reports.route_sheet_phone import phone_page
from survey.reports.route_sheet_words import FILE_UNITS, SHEET_UNITS
from survey.rounds.route import plan_route

from .conftest import Opened

GERMAN = Manner("si", "de_DE")
US_LEFT = re.compile(
    r".{0,40}(?:°F|\bpsig?\b|\blb/h|\b1000 lb|Btu|\bklb\b|\d ft\b|\d in bore).{0,20}"
)
POINT = re.compile(r".{0,40}(?<![\d.])\d+\.\d{1,2}(?![\d.]).{0,20}")
COMMA = re.compile(r".{0,40}(?<![\d.,])[1-9]\d{0,2},\d{3}(?!\d).{0,20}")
VIEWS = ("Rounds", "Over time", "Before and after")


def words_of(markup: str) -> str:
    """Return the words of markup, what draws it left out, and days, which have points in them."""
    text = re.sub(r"<style.*?</style>|<[^>]*>", " ", markup, flags=re.S)
    return re.sub(r"\b\d{1,2}\.\d{1,2}\.\d{4}\b", " ", html.unescape(text))


def said(app: AppTest) -> str:
    kinds = ("text", "markdown", "html", "subheader", "info")
    return words_of(" ".join(str(each.value) for kind in kinds for each in app.get(kind)))


def assert_german(text: str) -> None:
    assert US_LEFT.findall(text) == []
    assert POINT.findall(text) == []
    assert COMMA.findall(text) == []


def test_the_plant(open_app: Opened, findings: Findings) -> None:
    remember_manner(GERMAN)
    app = open_app("plan.py", findings)
    assert not app.exception
    text = said(app)
    assert "bar gauge" in text
    assert "°C" in text
    assert_german(text)


def test_a_large_plants_units_are_counted_in_thousands(
    open_app: Opened, findings: Findings, monkeypatch: pytest.MonkeyPatch
) -> None:
    # What the chart says is in the manner of now already; told again, 1.234 would be read as 1,234.
    monkeypatch.setattr(
        lost_chart, "chart_words", lambda curve: chart_words(replace(curve, known=1234))
    )
    remember_manner(GERMAN)
    app = open_app("plan.py", findings)
    assert not app.exception
    assert "of 1.234 units whose needs" in said(app)
    assert_german(said(app))


def test_the_next_round(open_app: Opened, two_kept: None) -> None:
    remember_manner(GERMAN)
    app = open_app("next_round.py")
    assert not app.exception
    text = said(app)
    assert "bar gauge" in text
    assert "Likeliest to fail before" in text
    assert_german(text)


@pytest.mark.parametrize("view", VIEWS)
def test_rounds(open_app: Opened, two_kept: None, view: str) -> None:
    remember_manner(GERMAN)
    app = open_app("rounds.py")
    app = app.segmented_control(key="kept_rounds_view").set_value(view).run()
    assert not app.exception
    shown = " ".join(str(each.value) for each in app.get("html"))
    assert "04.11.2025" in shown
    assert "2025-11-04" not in said(app)
    assert_german(said(app))


def test_the_step_list_is_written_as_the_screen_is(findings: Findings, site: Site) -> None:
    paper = make_paper(findings, site=site, wishes=Wishes(5.0))
    text = words_of(in_manner(partial(plan_html, paper), GERMAN).decode())
    assert "Step 1" in text
    assert_german(text)
    assert "psig" in in_manner(partial(plan_html, paper), Manner()).decode()


def test_the_route_is_written_as_the_screen_is(findings: Findings, site: Site) -> None:
    route = plan_route([(date(2025, 11, 4), findings.table)], site=site,
                       on=date(2026, 5, 5))  # fmt: skip
    sheet = in_manner(partial(sheet_html, route), GERMAN).decode()
    assert_german(words_of(sheet).replace(SHEET_UNITS, ""))
    assert SHEET_UNITS in sheet
    assert FILE_UNITS in in_manner(partial(phone_page, route), GERMAN).decode()
    assert in_manner(partial(sheet_html, route), Manner()).decode() == sheet_html(route)
