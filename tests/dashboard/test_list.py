"""The ranked list, its cards and the work list: what is ticked is what is taken along."""

from __future__ import annotations

import io
import time
from dataclasses import replace

import numpy as np
import openpyxl
import pandas as pd
import pytest
from streamlit.testing.v1 import AppTest

from survey import Findings, Site
from survey.dashboard import cards as drawn_cards
from survey.dashboard import downloads, frames, my_list, ranked_table, say, work_lines
from survey.plant.worklist import LEVELS, work_list
from survey.reports import tables, words
from survey.reports.manner import using

from .conftest import Opened, button, cards, go, table, texts, title, told, unfold

FILTER_S, OPEN_S = 0.5, 1.0


def test_the_list_is_in_the_order_of_the_reports(findings: Findings) -> None:
    ours = frames.listed(findings).tags
    assert ours == tables.worst_first(findings.table)["tag"].tolist()


def test_choices_are_every_value_once_in_order_and_blanks_are_named(findings: Findings) -> None:
    changed = findings.table.copy()
    changed["area"] = changed["area"].astype(object)
    changed.loc[:4, "area"] = [None, np.nan, "", "Zoo", "Attic"]
    listed = frames.listed(Findings(changed, findings.rejects, findings.summary))
    given = tables.texts(changed, "area").replace("", frames.NOT_GIVEN)
    assert listed.choices("area") == sorted(given.unique())
    assert len(listed.places({"area": [frames.NOT_GIVEN]})) == (given == frames.NOT_GIVEN).sum() > 2
    places = listed.places({"area": ["Attic", "Zoo"]})
    assert sorted(listed.column("area", places)) == ["Attic", "Zoo"]
    without = frames.listed(
        Findings(changed.drop(columns="area"), findings.rejects, findings.summary)
    )
    assert without.choices("area") == [frames.NOT_GIVEN]


@pytest.mark.parametrize("kind", [object, "category", "str"])
def test_what_is_said_of_a_state_is_the_same_whatever_kind_of_column_holds_it(
    findings: Findings, kind: object
) -> None:
    columns = ["state", "device"]
    table = findings.table[columns].astype(object)
    table.iloc[3] = [None, "trap"]
    held = table.astype(kind)[::-1]
    expected = [
        words.group_of(*pair)
        for pair in held.astype(object).where(held.notna(), "").itertuples(index=False, name=None)
    ]
    assert tables.groups(held).tolist() == expected
    assert tables.groups(held).index.equals(held.index)
    assert tables.groups(held.iloc[:0]).empty


def of_many(findings: Findings, count: int) -> Findings:
    times = count // len(findings.table) + 1
    large = pd.concat([findings.table] * times, ignore_index=True).head(count)
    return replace(findings, table=large.assign(tag=[f"T-{n:06d}" for n in range(count)]))


def test_a_large_round_is_listed_ticked_and_looked_up(
    open_app: Opened, findings: Findings
) -> None:
    app = open_app("ranking.py", of_many(findings, 20_000))
    assert not app.exception
    assert len(table(app)) == ranked_table.MOST_LISTED
    part = app.selectbox(key="kept_part")
    assert "filter to see fewer" in part.label
    app = app.text_input(key="kept_tag_part").set_value("T-0199").run()
    assert 0 < len(table(app)) <= 100
    tag = table(app)["tag"].iloc[0]
    app = app.button(key=f"pick_{tag}").click().run()
    assert not app.exception
    unit = go(app, "unit.py")
    assert not unit.exception
    assert len(unit.selectbox(key="kept_unit").options) == 1000


@pytest.fixture
def in_parts(
    open_app: Opened, findings: Findings, monkeypatch: pytest.MonkeyPatch
) -> AppTest:
    """Return the ranking of every row, 120 rows listed at a time."""
    monkeypatch.setattr(ranked_table, "MOST_LISTED", 120)
    app = open_app("ranking.py", findings)
    return app.toggle(key="kept_only_to_do").set_value(False).run()


def test_every_row_of_a_large_round_is_reached_part_by_part(
    in_parts: AppTest, findings: Findings
) -> None:
    app = in_parts
    tags: list[str] = []
    parts = app.selectbox(key="kept_part").options
    assert parts == ["1 to 120", "121 to 240", f"241 to {len(findings.table)}"]
    for start in range(0, len(findings.table), 120):
        app = app.selectbox(key="kept_part").set_value(start).run()
        tags += table(app)["tag"].tolist()
    assert tags == frames.listed(findings).tags
    app = app.text_input(key="kept_tag_part").set_value("T-16").run()
    assert not app.exception  # the part that was looked at is no more
    assert len(table(app)) == findings.table["tag"].str.contains("T-16").sum()


def test_a_part_that_a_filter_takes_away_gives_way_to_the_first(
    in_parts: AppTest, findings: Findings
) -> None:
    app = in_parts.selectbox(key="kept_part").set_value(240).run()
    app = app.text_input(key="kept_tag_part").set_value("T-0").run()
    found = findings.table["tag"].str.contains("T-0").sum()
    assert 0 < found <= 240
    listed = frames.listed(findings)
    shown = [tag for tag in listed.tags if "T-0" in tag][:120]
    assert table(app)["tag"].tolist() == shown


def test_a_round_is_put_in_order_once_and_only_rows_drawn_are_fetched(
    open_app: Opened, findings: Findings, monkeypatch: pytest.MonkeyPatch
) -> None:
    ordered: list[int] = []
    fetched: list[int] = []
    listed, rows = frames.listed, frames.Listed.rows

    def once(its: Findings) -> frames.Listed:
        ordered.append(1)
        return listed(its)

    def counted(its: frames.Listed, places: np.ndarray) -> pd.DataFrame:
        fetched.append(len(places))
        return rows(its, places)

    monkeypatch.setattr(frames, "listed", once)
    monkeypatch.setattr(frames.Listed, "rows", counted)
    app = open_app("overview.py", of_many(findings, 20_000))
    app = go(app, "ranking.py")
    area = app.multiselect(key="kept_filter_area").options[0]
    app = app.multiselect(key="kept_filter_area").set_value([area]).run()
    app = go(go(app, "unit.py"), "readings.py")
    assert not app.exception
    assert ordered == [1]
    assert max(fetched) <= ranked_table.MOST_LISTED


@pytest.mark.parametrize("count", [10_000, 100_000])
def test_large_rounds_open_and_filter_at_once(findings: Findings, count: int) -> None:
    large = of_many(findings, count)
    # Processor time: what else the machine does just now says nothing of these screens.
    started = time.process_time()
    listed = frames.listed(large)
    area = listed.choices("area")[0]
    opened = time.process_time() - started
    started = time.process_time()
    places = listed.places({"area": [area]}, only_to_do=True)
    rows = listed.rows(places[: ranked_table.MOST_LISTED])
    shown = frames.with_range(frames.listing(rows))
    filtered = time.process_time() - started
    assert 0 < len(shown) <= len(places) < count
    assert opened < OPEN_S
    assert filtered < FILTER_S


def test_a_tick_on_a_card_puts_the_unit_on_the_work_list(
    open_app: Opened, findings: Findings
) -> None:
    worst = tables.worst(findings, 1).iloc[0]
    app = open_app("ranking.py", findings)
    shown = cards(app)
    assert words.capital(words.state_words(worst["state"])) in shown
    assert worst["action"] in shown
    app = app.button(key=f"pick_{worst['tag']}").click().run()
    assert app.session_state["work"].picked == [worst["tag"]]
    assert f"Read again</span> {worst['tag']}" in cards(app)
    labels = [each.label for each in app.get("download_button")]
    assert {"Work list to print", "Work list, Excel", "Work list, CSV"} <= set(labels)
    app = button(app, "Empty the work list")
    assert app.session_state["work"].picked == []


def test_large_buttons_beside_the_table_tick_and_open_what_its_boxes_do(
    open_app: Opened, findings: Findings
) -> None:
    first, second = tables.worst(findings, 2)["tag"]
    app = open_app("ranking.py", findings)
    assert not [each for each in app.button if str(each.key).startswith("large_")]
    app = unfold(app, "large")
    pressed = [each for each in app.button if str(each.key).startswith("large_pick_")]
    assert len(pressed) == drawn_cards.AT_A_TIME
    app = app.button(key=f"large_pick_{first}").click().run()
    assert app.session_state["work"].picked == [first]
    app = app.button(key=f"large_pick_{first}").click().run()
    assert app.session_state["work"].picked == []
    app = app.button(key=f"large_open_{second}").click().run()
    assert not app.exception
    assert title(app) == "One unit"
    assert app.selectbox(key="kept_unit").value == second


def test_a_row_that_is_touched_anywhere_is_opened_and_picked_with_large_buttons(
    open_app: Opened, findings: Findings
) -> None:
    first, second = tables.worst(findings, 2)["tag"]
    app = open_app("ranking.py", findings)
    assert "Touch a row to open it, or to put it on your list." in [m.value for m in app.markdown]
    app.session_state["work"].touched = second
    app = app.run().button(key="pick_touched").click().run()
    assert app.session_state["work"].picked == [second]
    assert app.button(key="pick_touched").label == f"{say.escaped(second)} off my list"
    app = app.button(key="pick_touched").click().run()
    assert app.session_state["work"].picked == []
    app.session_state["work"].touched = first
    app = app.run().button(key="open_touched").click().run()
    assert title(app) == "One unit"
    assert app.selectbox(key="kept_unit").value == first


def test_the_plants_work_list_is_folded_by_area_and_loses_no_repair(
    open_app: Opened, findings: Findings, site: Site
) -> None:
    app = open_app("plan.py", findings)
    lines = work_list(findings.table, site=site)
    names = [one.label for one in app.expander if "repair" in one.label]
    first = next(line.area for line in lines)
    mine = [line for line in lines if line.area == first]
    assert names[0] == f"{first}: {len(mine)} repairs"
    assert sum(int(name.split(": ")[1].split()[0]) for name in names) == len(lines)
    shown = cards(app)
    assert all(f"<bdi>{line.tag}</bdi>" in shown for line in mine)
    other = next(line for line in lines if line.area != first)
    assert f"<bdi>{other.tag}</bdi>" not in shown
    app = app.selectbox(key="kept_plan_area").set_value(other.area).run()
    assert f"<bdi>{other.tag}</bdi>" in cards(app)
    assert not [one.label for one in app.expander if "repair" in one.label]


def test_a_work_list_brings_what_is_upstream_with_the_units_it_explains(
    findings: Findings, site: Site
) -> None:
    victims = findings.table[
        (findings.table["device"] == "trap") & (findings.table["cause"] == "air_vent")
    ]
    tag = victims["tag"].iloc[0]
    lines = my_list.lines_for(findings, [tag], site)
    assert [line.explains for line in lines] == [(tag,)]
    assert LEVELS[lines[0].level] != "traps"
    every = findings.table["tag"].tolist()
    levels = [line.level for line in my_list.lines_for(findings, every, site)]
    assert levels == sorted(levels)


def test_a_work_list_opens_again_and_starts_no_formula(findings: Findings, site: Site) -> None:
    tag = tables.worst(findings, 1)["tag"].iloc[0]
    changed = findings.table.assign(
        action=findings.table["action"].astype(object).where(findings.table["tag"] != tag, "=1+1")
    )
    lines = my_list.lines_for(Findings(changed, findings.rejects, {}), [tag], site)
    rows = work_lines.as_table(lines)
    sheet = openpyxl.load_workbook(io.BytesIO(downloads.work_list("xlsx", rows, "Shed"))).active
    cells = {cell.value: cell.data_type for row in sheet.iter_rows() for cell in row}
    assert tag in cells
    assert "f" not in cells.values()
    listed = pd.read_csv(io.BytesIO(downloads.work_list("csv", rows, "Shed")))
    assert listed["What to do"].tolist() == ["'=1+1"]
    page = downloads.work_list("html", rows, "<b>Shed</b>").decode()
    assert "<b>Shed" not in page
    assert words.CAUTION_POINTS[0].split(",")[0] in page


def test_a_card_says_its_unit_and_escapes_it() -> None:
    row = {
        "tag": "<img src=x>", "device": "trap", "state": "leaking", "confidence": 0.9,
        "annual_cost": 50.0, "annual_cost_low": 25.0, "annual_cost_high": 100.0, "rank": 3.0,
        "action": "<script>",
    }  # fmt: skip
    drawn = drawn_cards.card(row, "USD", dearest=200.0)
    assert "<img" not in drawn
    assert "<script" not in drawn
    assert "USD 50 a year (25 to 100)" in drawn
    assert "width:25.0%" in drawn
    assert "left:12.5%;width:37.5%" in drawn


def test_si_units_rule_the_list_and_leave_the_findings_alone(findings: Findings) -> None:
    us = frames.listing(findings.table)["steam_loss_lb_per_h"]
    with using(units="si"):
        si = frames.listing(findings.table)["steam_loss_lb_per_h"]
    losing = us > 20
    assert (si[losing] / us[losing]).between(0.45, 0.457).all()
    heads = downloads.made("findings.csv", findings).split(b"\n")[0]
    assert b"steam_loss_lb_per_h" in heads


def test_units_chosen_on_the_first_page_rule_every_page(
    open_app: Opened, findings: Findings
) -> None:
    app = unfold(open_app("start.py", findings), "figures")
    app = app.radio(key="figures_units").set_value("si").run()
    tag = tables.worst(findings, 1)["tag"].iloc[0]
    app = go(app, "unit.py")
    readings = told(app, "Reading").set_index("Reading")["Value"]
    inlet_f = float(findings.table.set_index("tag").loc[tag, "inlet_temp_f"])
    assert float(readings["Inlet temperature, °C"]) == pytest.approx((inlet_f - 32) / 1.8, abs=0.06)
    assert "°F" not in texts(app)
    assert table(go(app, "ranking.py")).shape[0] > 0
