"""Rounds on the screens: kept, listed, compared, planned from; a unit's history and repairs."""

from __future__ import annotations

import html
from dataclasses import replace
from datetime import date
from functools import partial
from pathlib import Path

import pytest
from click.testing import CliRunner

from survey import Findings, Site
from survey.cli import main
from survey.dashboard import drawing
from survey.dashboard.downloads import in_manner
from survey.dashboard.other_readings import other_verdicts
from survey.dashboard.what_if import calibrated
from survey.reports import manner, tables, words
from survey.reports.before_after import (
    before_after_blocks,
    before_after_html,
    before_after_pdf,
)
from survey.reports.blocks import Table
from survey.reports.manner import Manner
from survey.rounds.ahead import Ahead, days_to_choose, how_traps_fail
from survey.rounds.compare import compare_rounds
from survey.rounds.repairs import add_repair, repairs
from survey.rounds.series import series_in_store
from survey.rounds.store import open_store
from survey.rounds.units import find_unit

from .conftest import SAMPLE, Opened, go, texts, told

HOSTILE = "<img src=x> $x$ **b** ![y](http://192.0.2.1/y.png) :red[z] &amp; a_b_c"


def test_the_open_round_is_kept_once_under_its_name(open_app: Opened, findings: Findings) -> None:
    app = open_app("rounds.py", findings)
    app.text_input(key="round_name").set_value("Autumn")
    [keep] = [each for each in app.button if each.label == "Keep this round"]
    app = keep.click().run()
    assert not app.exception
    assert "This round is kept." in [each.value for each in app.success]
    listed = told(app, "Read on").iloc[0]
    assert listed[["Round", "Read on", "Devices"]].tolist() == ["Autumn", "2025-11-04", "318"]

    again = open_app("rounds.py", replace(findings, table=findings.table.copy()))
    [keep] = [each for each in again.button if each.label == "Keep this round"]
    again = keep.click().run()
    assert again.error
    with open_store() as store:
        assert len(store.rounds()) == 1


def test_looking_makes_no_store(open_app: Opened, findings: Findings, own_home) -> None:
    for page in ("rounds.py", "next_round.py", "unit.py"):
        assert not open_app(page, findings).exception
    assert not list(own_home.rglob("rounds.sqlite*"))


def test_the_trend_shows_every_round_with_its_range(
    open_app: Opened, two_kept: None, findings: Findings, repaired: Findings
) -> None:
    app = open_app("rounds.py")
    app = app.segmented_control(key="kept_rounds_view").set_value("Over time").run()
    assert not app.exception
    shown = told(app, "10–90 % range")
    for line, its in zip(shown.itertuples(), (findings, repaired), strict=True):
        assert line[2] == words.money(its.summary["annual_cost"], "USD")
    counted = told(app, words.GROUPS["out"])
    groups = [tables.groups(its.table).value_counts() for its in (findings, repaired)]
    assert counted[words.GROUPS["out"]].tolist() == [str(one["out"]) for one in groups]
    assert sum("<svg" in mark.value for mark in app.markdown) == 3


def test_before_and_after_says_what_the_paper_says(open_app: Opened, two_kept: None) -> None:
    app = open_app("rounds.py")
    app = app.segmented_control(key="kept_rounds_view").set_value("Before and after").run()
    assert not app.exception
    with open_store() as store:
        first, last = store.rounds()
        comparison = compare_rounds(store, first, last)
    [captions] = [[b.caption for b in before_after_blocks(comparison) if isinstance(b, Table)]]
    assert captions
    assert all(caption in texts(app) for caption in captions)
    paper = in_manner(partial(before_after_html, comparison), Manner())
    assert b"Before and after" in paper or b"before and after" in paper
    offered = [each.label for each in app.get("download_button")]
    assert offered == ["Before and after, PDF", "Before and after, web page"]
    with manner.using(units="si", locale="de_DE"):
        expected = before_after_pdf(comparison)
    assert in_manner(partial(before_after_pdf, comparison), Manner("si", "de_DE")) == expected


def test_a_unit_has_its_history_and_repairs_are_noted(
    open_app: Opened, two_kept: None, repaired: Findings
) -> None:
    app = open_app("unit.py", repaired)
    app = app.selectbox(key="kept_unit").set_value("T-160").run()
    history = told(app, "Read on")
    assert history["Read on"].tolist() == ["2026-01-20", "2025-11-04"]
    assert history["State"].tolist() == ["working", "blown open"]
    [what] = [each for each in app.text_input if each.label == "What was done"]
    what.set_value("New trap, <b>same bore</b>")
    [note] = [each for each in app.button if each.label == "Note it"]
    app = note.click().run()
    assert not app.exception
    with open_store() as store:
        assert [one.what for one in repairs(store)] == ["New trap, <b>same bore</b>"]
    assert "New trap, <b>same bore</b>" in texts(app)


def test_the_next_round_is_planned_and_taken_along(open_app: Opened, two_kept: None) -> None:
    app = open_app("next_round.py")
    assert not app.exception
    assert "Planned from the 2 rounds kept." in texts(app)
    assert told(app, "Look again after")["Traps"].astype("int64").sum() == 150
    labels = {each.label for each in app.get("download_button")}
    assert {"Route for the phone", "Route sheet to print", "Route as a table, CSV"} <= labels
    assert "318 stops, 0 left out." in [mark.value for mark in app.markdown]
    app = app.multiselect(key="kept_route_areas").set_value(["Laundry"]).run()
    stops = next(mark.value for mark in app.markdown if " stops, " in mark.value)
    count, left = (int(word) for word in stops.replace(",", "").split() if word.isdigit())
    assert 0 < count < 318
    assert count + left == 318


def test_the_screens_and_the_command_line_plan_the_same_next_round(
    open_app: Opened, two_kept: None, tmp_path: Path
) -> None:
    with open_store() as store:
        add_repair(store, find_unit(store, "T-160").number, on=date(2025, 12, 1), what="new trap")
    app = open_app("next_round.py")
    settings = Site.from_toml(SAMPLE / "nursery_site.toml")
    series = series_in_store()
    assert series.repairs
    ahead = Ahead(series, settings, how_traps_fail(series))
    _, usual, _ = days_to_choose(series)
    assert app.date_input(key="next_day").value == usual
    odds = ahead.odds(usual)
    assert told(app, "Chance")["Unit"].tolist() == odds["tag"].head(10).tolist()

    asked = ["--out", str(tmp_path / "paper.txt"), "--site", str(SAMPLE / "nursery_site.toml")]
    said = CliRunner().invoke(main, ["next", *asked], prog_name="survey").stdout
    assert f"before {usual}" in said
    assert all(tag in said for tag in told(app, "Chance")["Unit"])
    done = CliRunner().invoke(main, ["route", *asked[2:]], prog_name="survey").stdout
    stops = next(mark.value for mark in app.markdown if " stops, " in mark.value).split()[0]
    assert f"{stops} stops" in done or f"{stops} devices" in done, done[:400]


def test_without_rounds_the_open_one_is_planned_from(
    open_app: Opened, findings: Findings
) -> None:
    app = go(open_app("ranking.py", findings), "next_round.py")
    assert "Planned from the round that is open" in texts(app)


def test_other_readings_change_one_reading_and_nothing_else(
    findings: Findings, site: Site
) -> None:
    row = findings.table[findings.table["tag"] == "T-160"].iloc[0]
    told_of = other_verdicts(calibrated(findings, site), row)
    assert set(told_of["reading"]) >= {"Sound pattern", "What came out", "Valve position"}
    assert not ((told_of["was"] == told_of["had it been"]).any())
    quiet = told_of[told_of["had it been"] == "quiet"].iloc[0]
    assert quiet["changes"] == (quiet["verdict"] != words.state_words(row["state"], "trap"))
    assert findings.table[findings.table["tag"] == "T-160"].iloc[0].equals(row)


@pytest.mark.parametrize("drawn", [f"<svg><text>{html.escape(HOSTILE)}</text>\n\n</svg>"])
def test_text_in_a_picture_means_nothing_to_markdown(drawn: str) -> None:
    inert = drawing.inert(drawn)
    assert "\n" not in inert
    text = inert.split("<text>")[1].split("</text>")[0]
    assert not set("!#$()*[]_`|~\\") & set(text.replace("&#", ""))
    assert html.unescape(text).split() == HOSTILE.split()
