"""The owner's page of a large round: small, and nothing in it lost."""

from __future__ import annotations

import re

import pandas as pd
import pytest

from reports.build import many
from reports.papers import NUMBER, is_shown
from reports.reading import Page
from survey.findings import Findings
from survey.reports.page import OWNER_PAGE_BYTES, render_page
from survey.reports.tables import SUMMED, worst_first


def test_ten_thousand_units_stay_small_and_every_one_is_accounted_for() -> None:
    html = render_page(many(10_000))
    assert len(html.encode()) < OWNER_PAGE_BYTES
    page = Page(html)
    whole = [e for e in page.all("li") if "data-g" in e.attributes]
    named = sum(len(e.text.split(", ")) for e in page.all("dd") if "T-0" in e.text)
    hidden = re.search(r"([\d,]+) devices not named here", page.text)
    assert hidden
    assert len(whole) >= 200
    assert len(whole) + named + int(hidden[1].replace(",", "")) == 10_000
    assert f"{len(whole)} devices shown whole above" in page.text


def test_a_middling_round_names_every_device() -> None:
    html = render_page(many(1500))
    assert OWNER_PAGE_BYTES * 0.9 < len(html.encode()) < OWNER_PAGE_BYTES
    page = Page(html)
    whole = [e for e in page.all("li") if "data-g" in e.attributes]
    named = sum(len(e.text.split(", ")) for e in page.all("dd") if "T-0" in e.text)
    assert len(whole) + named == 1500
    assert "not named here" not in page.text


@pytest.mark.thorough
def test_a_hundred_thousand_units_fit_and_what_is_left_out_adds_up() -> None:
    base = many(2000)
    table = pd.concat([base.table.assign(tag=base.table["tag"] + f"-{copy}")
                       for copy in range(50)], ignore_index=True)
    table["rank"] = table["annual_cost"].where(table["rank"].notna()).rank(
        ascending=False, method="first")
    sums = {name: float(table[name].sum()) for name in SUMMED}
    html = render_page(Findings(table, base.rejects, base.summary | sums))
    assert len(html.encode()) < OWNER_PAGE_BYTES
    page = Page(html)
    whole = [e for e in page.all("li") if "data-g" in e.attributes]
    order = worst_first(table)["annual_cost"]
    rest = re.search(rf"they lose USD ({NUMBER}) a year between them", page.text)
    hidden = re.search(
        rf"({NUMBER}) devices not named here.*?they lose USD ({NUMBER}) a year", page.text)
    assert rest
    assert hidden
    assert is_shown(rest[1], float(order.iloc[len(whole):].sum()))
    left = int(hidden[1].replace(",", ""))
    assert is_shown(hidden[2], float(order.iloc[-left:].sum()))
    named = sum(len(e.text.split(", ")) for e in page.all("dd") if "T-0" in e.text)
    assert len(whole) + named + left == 100_000
