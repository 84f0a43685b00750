"""The owner's page: whole, true to the findings, harmless, small, and its own master."""

from __future__ import annotations

import base64
import hashlib
import itertools
import re
from importlib import resources
from typing import Any

import pandas as pd
import pytest

from reports.build import SUMMARY, UNITS, findings, many
from reports.reading import Page
from survey.errors import UsageError
from survey.findings import Findings
from survey.reports import words
from survey.reports.page import OWNER_PAGE_BYTES, page_policy, render_page, script, style

HOSTILE = (
    '<script>alert(1)</script>', '"><img src=x onerror=alert(1)>', "' onmouseover='alert(1)",
    "</style><style>*{display:none}", "</script><script>alert(1)//", "{{ 7*7 }}{% raw %}",
    "<!--", "]]>", "&lt;b&gt;", "javascript:alert(1)", "\u202egnp.exe", "\u2066\u2069\u200f",
    "a\x00b\x07c\x1b[31md", "\ud800", "Z" + "\u0301" * 500, "w" * 200_000, "<" * 200_000,
    "\u2028\u2029", "<svg/onload=alert(1)>", "%3Cscript%3E", "=cmd|' /C calc'!A0", "\ufeff\u200b",
)
ALLOWED = {
    "html", "head", "meta", "title", "link", "style", "body", "a", "header", "div", "p", "h1", "h2",
    "h3", "h4", "strong", "data", "section", "dl", "dt", "dd", "nav", "ul", "ol", "li", "main",
    "figure", "figcaption", "svg", "desc", "defs", "pattern", "use", "g", "line", "rect", "circle",
    "text",
    "path", "details", "summary", "table", "thead", "tbody", "tr", "th", "td", "aside", "bdi", "b",
    "i", "em", "span", "small", "article", "label", "input", "select", "option", "footer", "script",
}


@pytest.fixture(scope="module")
def page() -> Page:
    return Page(render_page(findings()))


def test_every_device_is_there_with_its_evidence(page: Page) -> None:
    items = [e for e in page.all("li") if "data-g" in e.attributes]
    assert len(items) == len(UNITS)
    for unit in UNITS:
        state = words.state_words(unit["state"], unit.get("device", "trap"))
        item = next(e for e in items if f"{unit['tag']}{state}" in e.text)
        assert unit["evidence"] in item.text
        assert unit["state"] == "working" or unit["action"] in item.text


def test_the_worst_come_first_and_working_last(page: Page) -> None:
    items = [e for e in page.all("li") if "data-g" in e.attributes]
    ranked = [unit["tag"] for unit in sorted(UNITS, key=lambda u: u.get("rank", 99.0))]
    assert [re.search(r"[TV]-\d", item.text)[0] for item in items] == ranked


def test_figures_are_those_of_the_findings(page: Page) -> None:
    exact = {e.attributes["value"] for e in page.all("data")}
    assert {"3124.00", "53.000", "15.600"} <= exact  # the totals of the summary
    assert {"2446.00", "678.00"} <= exact  # by area: Glasshouse, Laundry
    text = page.text
    for said in ("USD 3,120 (1,900 to 4,600)", "53.0 lb/h (31 to 78)", "15.6 t",
                 "USD 2,430 a year (1,400 to 3,700)", "USD 560 a year (210 to 990)", "4 of 5",
                 "6 rows read, 5 judged and 1 set aside."):
        assert said in text, said


def test_every_cost_in_the_list_rounds_its_own_cell() -> None:
    judged = many(200)
    page = Page(render_page(judged))
    items = [e for e in page.all("li") if "data-g" in e.attributes]
    by_tag = judged.table.set_index("tag")["annual_cost"]
    seen = 0
    for item in items:
        tag = re.search(r"T-\d{5}", item.text)[0]
        shown = re.search(r"USD ([\d,]+)", item.text)
        if not shown:
            assert by_tag[tag] < 0.5
            continue
        seen += 1
        digits = shown[1].replace(",", "")
        unit = 10 ** max(0, len(digits) - 3)
        assert abs(by_tag[tag] - int(digits)) <= unit / 2 + 1e-9, (tag, digits, by_tag[tag])
    assert seen == 200


def test_counts_add_up(page: Page) -> None:
    legend = [e.text for e in page.all("li") if "data-g" not in e.attributes][:40]
    counts = {t for t in legend if re.match(r"^\d+ ", t)}
    assert counts == {
        "2 steam going out", "1 water, air or heat held back",
        "1 undecided, one more reading needed", "1 working",
    }


def test_nothing_outside_is_asked_for(page: Page) -> None:
    html = render_page(findings())
    assert not re.search(r"https?:|//[a-z]|url\((?!#)|@import|fetch\(|XMLHttp|import\(", html)
    for element in page.elements:
        for name, value in element.attributes.items():
            assert name not in ("src", "srcset", "action", "formaction", "style", "ping")
            assert not name.startswith("on")
            if name in ("href", "xlink:href"):
                assert value.startswith("#") or value == "data:,"


def test_the_policy_lets_only_its_own_style_and_script_through(page: Page) -> None:
    metas = [e for e in page.all("meta") if e.attributes.get("http-equiv")]
    assert [e.attributes["content"] for e in metas] == [page_policy()]
    head = [e.name for e in page.elements if "head" in e.inside]
    assert head.index("meta", 1) < head.index("style")
    for name, inside in (("style", style()), ("script", script())):
        found = page.all(name)
        assert len(found) == 1
        assert "".join(found[0].texts) == inside
        digest = base64.b64encode(hashlib.sha256(inside.encode()).digest()).decode()
        assert f"{name}-src 'sha256-{digest}'" in page_policy()
    assert "unsafe" not in page_policy()
    assert page_policy().startswith("default-src 'none'")


@pytest.mark.parametrize("nasty", HOSTILE, ids=range(len(HOSTILE)))
def test_hostile_text_is_harmless_wherever_it_stands(nasty: str) -> None:
    fields = ("tag", "equipment", "area", "station", "note", "action", "evidence", "flags",
              "trap_type", "service", "state", "cause", "device", "read_at", "sound_pattern")
    cell = nasty.encode("utf-8", "replace").decode()  # a table holds no half characters
    units = [dict(unit) | dict.fromkeys(fields if at != 3 else (), cell)
             for at, unit in enumerate(UNITS)]
    summary = SUMMARY | {
        "site_name": nasty, "currency": nasty, "assumptions": [nasty] * 100, "notes": [nasty] * 100,
        "calibration": [{"words": nasty, "group": nasty}] * 100, "loss_basis": nasty,
        "version": nasty, "made_at": nasty,
    }
    judged = findings(units, summary)
    for name in judged.rejects.columns:
        judged.rejects[name] = pd.Series([nasty], dtype=object)
    html = render_page(judged)
    page = Page(html)
    assert len(html.encode()) < OWNER_PAGE_BYTES
    assert {e.name for e in page.elements} <= ALLOWED
    assert len(page.all("script")) == len(page.all("style")) == len(page.all("title")) - len(
        [e for e in page.all("title") if "svg" in e.inside]) == 1
    assert not any(name.startswith("on") or name in ("style", "src") for e in page.elements
                   for name in e.attributes)
    assert not re.search(
        "[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069\u200b-\u200f]", html
    )
    assert "49" not in page.all("h1")[0].text
    assert max(map(len, re.findall(r"w+", html)), default=0) <= words.LONGEST_SENTENCE


def test_money_can_be_left_out_altogether() -> None:
    html = render_page(findings(), show_money=False)
    for word in ("USD", "cost", "Cost", "price", "3,12", "2,43", "2431", "2446"):
        assert word not in Page(html).text, word
        assert word not in re.sub(r"<style>.*</style>|<script>.*</script>", "", html, flags=re.S)
    assert "53.0 lb/h" in html
    assert "41.2 lb/h (21 to 66)" in Page(html).text


def test_other_areas_leave_no_trace() -> None:
    html = render_page(findings(), areas=["Glasshouse"])
    text = Page(html).text
    for word in ("Laundry", "Ironer", "South", "T-3", "T-4", "T-9", "3,12", "331"):
        assert word not in html, word
    assert "USD 2,450" in text  # 2431.4 + 14.6
    assert "At station North it read 3 % low." in text
    assert "3 rows read, 3 judged and 0 set aside." in text
    assert "Altitude taken as sea level." in text


def test_an_unknown_area_is_an_error_in_words() -> None:
    with pytest.raises(UsageError, match=r"Found: Attic.*choose from: Glasshouse, Laundry"):
        render_page(findings(), areas=["Glasshouse", "Attic"])
    with pytest.raises(UsageError, match=r"Found: none"):
        render_page(findings(), areas=[])


def test_a_reader_of_headings_finds_the_way(page: Page) -> None:
    levels = [int(e.name[1]) for e in page.elements if re.fullmatch(r"h[1-6]", e.name)]
    assert levels[0] in (1, 2)
    assert levels.count(1) == 1
    after = levels[levels.index(1):]
    assert all(b - a <= 1 for a, b in itertools.pairwise(after))
    assert page.all("html")[0].attributes["lang"] == "en"
    links = [e.attributes["href"] for e in page.all("a")]
    ids = [e.attributes["id"] for e in page.elements if "id" in e.attributes]
    assert links[0] == "#findings"
    assert len(ids) == len(set(ids))
    assert {link[1:] for link in links} <= set(ids)
    for element in page.elements:
        for name in ("aria-labelledby", "aria-describedby"):
            assert set(element.attributes.get(name, "").split()) <= set(ids)


def test_tables_and_charts_say_what_they_are(page: Page) -> None:
    assert page.all("table")
    assert all(e.attributes.get("scope") in ("col", "row") for e in page.all("th"))
    charts = [e for e in page.all("svg") if e.attributes.get("role") == "img"]
    assert len(charts) >= 6
    for chart in charts:
        key = chart.attributes["aria-labelledby"].removesuffix("-t")
        titles = [e for e in page.all("title") if e.attributes.get("id") == f"{key}-t"]
        sentences = [e for e in page.all("desc") if e.attributes.get("id") == f"{key}-d"]
        assert titles[0].text
        assert sentences[0].text.endswith(".")


def test_cautions_stand_once_and_before_the_first_thing_to_do(page: Page) -> None:
    text = page.text
    for point in words.CAUTION_POINTS:
        assert text.count(point) == 1
    assert text.index(words.CAUTION_POINTS[-1]) < text.index("Replace the trap.")


def test_a_round_with_nothing_wrong_says_so() -> None:
    page = Page(render_page(findings([UNITS[2] | {"steam_loss_lb_per_h": 0.0, "annual_cost": 0.0}],
                                     {"currency": "EUR"})))
    assert "Nothing in this round needs anything done." in page.text
    assert "No steam loss was found" in page.text
    assert words.CAUTION_POINTS[0] not in page.text


@pytest.mark.parametrize("without", ["area", "station", "equipment", "note", "flags", "read_at",
                                     "saturation_f", "evidence", "annual_cost_low"])
def test_a_column_less_is_no_trouble(without: str) -> None:
    judged = findings()
    less = Findings(judged.table.drop(columns=without), judged.rejects, judged.summary)
    assert "T-1" in Page(render_page(less)).text


def test_findings_without_a_summary_are_summed_from_their_rows() -> None:
    text = Page(render_page(findings(summary={}))).text
    assert "3,120" in text
    assert "53.0 lb/h" in text


def test_no_rows_at_all_still_make_a_page() -> None:
    empty: list[dict[str, Any]] = []
    page = Page(render_page(findings(empty, {"rows_read": 1, "rows_set_aside": 1})))
    assert "1 row read, 0 judged and 1 set aside." in page.text
    assert "below absolute zero" in page.text


def test_the_shape_of_the_page_holds_no_words_of_its_own() -> None:
    shape = resources.files("survey.reports").joinpath("page.html").read_text("utf-8")
    bare = re.sub(r"\{%.*?%\}|\{\{.*?\}\}|<[^>]*>", " ", shape, flags=re.S)
    assert re.findall(r"[A-Za-z]{2,}", bare) == []
