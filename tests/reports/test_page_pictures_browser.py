"""The pictures of the owner's page in Chromium: heard, read in grey, on a phone, without faults."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from reports.test_page_browser import opened
from survey.pipeline import analyze
from survey.reports.page import OWNER_PAGE_BYTES, render_page
from survey.site import Site

pytestmark = pytest.mark.browser
SAMPLE = Path(__file__).resolve().parents[2] / "sample_data"
OPEN_ALL = "document.querySelectorAll('details').forEach(d => { d.open = true })"
TEXT_BOXES = """
[...document.querySelectorAll('svg.chart')].map(chart => [...chart.querySelectorAll('text')].map(
  text => { const b = text.getBoundingClientRect(); return [b.left, b.top, b.right, b.bottom]; }))
"""


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    site = Site.from_toml(SAMPLE / "nursery_site.toml")
    page = render_page(analyze(SAMPLE / "nursery_round.csv", site=site))
    assert len(page.encode()) < OWNER_PAGE_BYTES
    made = tmp_path_factory.mktemp("pictures") / "page.html"
    made.write_text(page, "utf-8")
    return made


@pytest.mark.parametrize(("width", "scheme"), [(390, "dark"), (1280, "light")])
def test_axe_finds_nothing_with_everything_open(
    browser: Any, path: Path, width: int, scheme: str
) -> None:
    axe = pytest.importorskip("axe_playwright_python.sync_playwright")
    page = opened(browser, path, viewport={"width": width, "height": 844}, color_scheme=scheme,
                  bypass_csp=True)
    page.evaluate(OPEN_ALL)
    found = axe.Axe().run(page).response["violations"]
    assert [(one["id"], one["impact"], one["nodes"][0]["html"][:200]) for one in found] == []
    page.context.close()


@pytest.mark.parametrize("width", [390, 1280])
def test_no_words_of_a_chart_lie_on_others_or_past_its_edge(
    browser: Any, path: Path, width: int
) -> None:
    page = opened(browser, path, viewport={"width": width, "height": 844})
    charts = page.evaluate(TEXT_BOXES)
    assert len(charts) >= 10
    for boxes in charts:
        for at, (left, top, right, bottom) in enumerate(boxes):
            assert bottom - top >= 12
            assert left >= 0
            assert right <= width
            for other in boxes[at + 1:]:
                over = min(right, other[2]) - max(left, other[0])
                down = min(bottom, other[3]) - max(top, other[1])
                assert not (over > 1 and down > 4), (boxes[at], other)
    assert page.said == []
    page.context.close()
