"""The route sheets as files: complete in themselves, and nothing from a round becomes markup."""

from __future__ import annotations

import base64
import hashlib
import json
import re
from dataclasses import replace
from datetime import date

import pandas as pd
import pytest

from survey.columns import INPUT_BY_NAME, INPUT_NAMES
from survey.reports.route_sheet import groups_of, route_frame, route_text, sheet_html
from survey.reports.route_sheet_phone import CSV_COLUMNS, SIGNED, phone_page
from survey.reports.route_sheet_words import FIELD_WORDS, SHORT_WORDS
from survey.reports.words import CAUTION_POINTS
from survey.rounds.route import Route, plan_route
from survey.site import Site
from tests.rounds.invented import row

HOSTILE = (
    "</script><script>alert(1)</script>", "<img src=x onerror=alert(1)>", "=HYPERLINK(1)",
    "{{ 7*7 }}", "<!--<script>", "\u2028\u2029", "\u202egnp", "a" * 3000, "]]>", "&lt;b&gt;",
)  # fmt: skip


def route_of(*rows: dict, name: str = "Nursery", **asked: object) -> Route:
    return plan_route(
        [(date(2026, 5, 1), pd.DataFrame(list(rows)))], site=Site(name=name),
        on=date(2026, 11, 1), **asked,
    )  # fmt: skip


def data_of(page: str) -> dict:
    found = re.search(r'<script type="application/json"[^>]*>(.*?)</script>', page, re.DOTALL)
    assert found is not None
    return json.loads(found[1])


ROUTE = route_of(
    row("T-1", inlet_temp_f=250.0, sound_pattern="quiet", saturation_f=287.0),
    row("T-2", "leaking", confidence=0.8, hours_per_year=5000.0, note="behind the boiler"),
    row("V-1", device="air_vent", present="yes"),
)


def test_every_field_has_words_and_is_a_column() -> None:
    assert set(FIELD_WORDS) == set(SHORT_WORDS)
    assert set(CSV_COLUMNS) <= set(INPUT_NAMES)
    assert all(INPUT_BY_NAME[name].low < 0 for name in SIGNED)


def test_the_phone_page_holds_ranges_and_choices_of_the_nomenclature() -> None:
    data = data_of(phone_page(ROUTE))
    field = data["fields"]["inlet_temp_f"]
    column = INPUT_BY_NAME["inlet_temp_f"]
    assert (field["low"], field["high"], field["unit"]) == (column.low, column.high, "°F")
    listed = [choice for choice, _ in data["fields"]["observed"]["choices"]]
    assert listed == list(INPUT_BY_NAME["observed"].choices)
    assert data["stops"][0]["shown"]["inlet_temp_f"] == "250"
    assert data["stops"][0]["steam"] == 287.0
    assert data["stops"][1]["why"] == "last time leaking steam: see whether it was mended"
    assert data["stops"][1]["fixed"]["hours_per_year"] == 5000.0


@pytest.mark.parametrize("make", [phone_page, sheet_html], ids=["phone", "print"])
def test_it_is_complete_in_itself_with_cautions_once(make) -> None:
    page = make(ROUTE)
    assert not re.search(r"(?:src|href)=[\"'](?!#)", page)
    assert "http:" not in page
    assert "https:" not in page
    for point in CAUTION_POINTS:
        assert page.count(point.replace("'", "&#39;")) == 1


@pytest.mark.parametrize("make", [phone_page, sheet_html], ids=["phone", "print"])
def test_its_policy_lets_through_its_own_blocks_and_nothing_else(make) -> None:
    page = make(ROUTE)
    policy = re.search(r'Content-Security-Policy" content="([^"]*)"', page)
    assert policy is not None
    allowed = policy[1].replace("&#39;", "'")
    assert allowed.startswith("default-src 'none'; style-src 'sha256-")
    assert "unsafe" not in allowed
    for block in re.findall(r"<style>(.*?)</style>|<script>(.*?)</script>", page, re.DOTALL):
        text = next(part for part in block if part)
        digest = base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
        assert f"'sha256-{digest}'" in allowed
    if make is sheet_html:
        assert "<script" not in page


@pytest.mark.parametrize("text", HOSTILE, ids=range(len(HOSTILE)))
def test_hostile_text_stays_text(text: str) -> None:
    fields = ("tag", "area", "station", "equipment", "trap_type", "service", "note",
              "sound_pattern")  # fmt: skip
    route = route_of(row("T-0") | dict.fromkeys(fields, text), name=text[:200])
    for page in (phone_page(route), sheet_html(route)):
        assert "<script>alert" not in page
        assert "<img" not in page
        assert "49" not in re.findall(r"<h1[^>]*>(.*?)</h1>", page)[0]
    page = phone_page(route)
    assert page.count("</script>") == 2
    assert page.count("<!--") == 0
    (stop,) = data_of(page)["stops"]
    # The tag goes back as it came; what is shown is cut to a length.
    assert stop["fixed"]["tag"] == text
    assert len(stop["name"]) <= 60


def test_another_route_has_another_place_on_the_phone() -> None:
    pages = [phone_page(route_of(row("T-1"))), phone_page(route_of(row("T-2")))]
    kept = [re.search(r'data-identity="([0-9a-f]{16})"', page)[1] for page in pages]
    assert kept[0] != kept[1]
    assert phone_page(route_of(row("T-1"))) == pages[0]


def test_the_print_numbers_the_boxes_and_shows_the_last_readings() -> None:
    (group,) = groups_of(ROUTE)
    first = group.lines[0]
    assert sorted(order for order, _ in first.boxes) == list("1234567")
    assert ("250" in dict.fromkeys(last for _, last in first.boxes)) is True
    assert first.last == "2026-05-01: working (100 % sure)"
    vent = next(line for line in group.lines if line.tag == "V-1")
    assert "" in [order for order, _ in vent.boxes]


def test_the_text_counts_and_gives_reasons() -> None:
    text = route_text(ROUTE)
    assert text.startswith("Route: 3 devices by area, station and heater.")
    assert "  T-2  last time leaking steam: see whether it was mended" in text
    assert "T-1" not in text


def test_the_empty_round_has_every_column_and_no_reading() -> None:
    frame = route_frame(ROUTE)
    assert list(frame.columns) == list(dict.fromkeys(CSV_COLUMNS))
    assert list(frame["tag"]) == [stop.tag for stop in ROUTE.stops]
    assert frame[list(FIELD_WORDS)].isna().all(axis=None)


def test_a_bore_noted_in_millimetres_is_written_as_short_as_it_was_measured() -> None:
    stop = replace(ROUTE.stops[0], fittings={"tag": "T-1", "orifice_in": 4.8 / 25.4})
    frame = route_frame(replace(ROUTE, stops=(stop,)))
    assert str(frame["orifice_in"][0]) == "0.188976"


def test_a_lone_surrogate_does_not_stop_the_page() -> None:
    stop = replace(ROUTE.stops[0], tag="T-\ud800", fittings={"tag": "T-\ud800"})
    route = replace(ROUTE, stops=(stop,))
    assert phone_page(route).encode("utf-8")
    assert sheet_html(route).encode("utf-8")
