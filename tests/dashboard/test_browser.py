"""The whole job in a real browser: a messy sheet in, a ranked list, a link opened and ended.

Needs Playwright and Chromium. Where they are missing the tests skip and say why, unless
SURVEY_REQUIRE_BROWSER=1, which makes that a failure. With SURVEY_ARTEFACTS set to a folder,
every page is also kept there as a picture, at both widths, light and dark.
"""

from __future__ import annotations

import os
import re
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from survey import Findings, analyze
from survey.reports import tables

from .conftest import SAMPLE
from .test_launch import launched

pytestmark = pytest.mark.browser

FLAGS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
ARTEFACTS = os.environ.get("SURVEY_ARTEFACTS", "")
WALKS = [(390, "light"), (1280, "dark")] + ([(390, "dark"), (1280, "light")] if ARTEFACTS else [])
WAIT_MS = 15_000


def without_browser(reason: str) -> None:
    words = f"NO BROWSER, so the screens were not tried in one: {reason}"
    if os.environ.get("SURVEY_REQUIRE_BROWSER") == "1":
        pytest.fail(words)
    pytest.skip(words)


@pytest.fixture(scope="module")
def chromium() -> Iterator[Any]:
    try:
        from playwright.sync_api import Error, sync_playwright
    except ImportError as error:
        without_browser(f"Playwright is not installed ({error})")
    path = shutil.which("chromium") or shutil.which("chromium-browser")
    if path is None:
        without_browser("there is no Chromium on the path (Debian: apt-get install chromium)")
    with sync_playwright() as playwright:
        try:
            browser = playwright.chromium.launch(executable_path=path, args=FLAGS)
        except Error as error:
            without_browser(f"Chromium does not start ({str(error)[:300]})")
        yield browser
        browser.close()


@pytest.fixture(scope="module")
def screens(tmp_path_factory: pytest.TempPathFactory, chromium: Any) -> Iterator[str]:
    with launched(tmp_path_factory.mktemp("home")) as (_, port, _, _):
        yield f"http://127.0.0.1:{port}/"


@pytest.fixture(scope="module")
def messy() -> Findings:
    return analyze(SAMPLE / "nursery_messy.xlsx")


class Technician:
    """One person at one screen, who notes whatever a page should not do."""

    def __init__(self, chromium: Any, screens: str, width: int, scheme: str) -> None:
        self.context = chromium.new_context(
            viewport={"width": width, "height": 844},
            color_scheme=scheme,
            reduced_motion="reduce",
        )
        self.context.set_default_timeout(WAIT_MS)
        self.page, self.width, self.scheme = self.context.new_page(), width, scheme
        self.complaints: list[str] = []
        self.page.on("console", lambda said: self._hear(said.type, said.text))
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))
        self.page.on("request", lambda request: self._see(screens, request.url))
        self.page.goto(screens)

    def _hear(self, kind: str, text: str) -> None:
        if kind == "error":
            self.complaints.append(text)

    def _see(self, screens: str, address: str) -> None:
        if not address.startswith((screens, screens.replace("http", "ws"), "data:", "blob:")):
            self.complaints.append(f"fetched from elsewhere: {address}")

    def press(self, label: str) -> None:
        self.page.get_by_role("button", name=label, exact=True).click()

    def go(self, page: str, heading: str) -> None:
        self.page.locator(".st-key-menu a").filter(has_text=page).click()
        self.sees(heading)

    def sees(self, heading: str) -> None:
        self.page.get_by_role("heading", name=heading, exact=True, level=1).wait_for()
        self.page.wait_for_function("!document.querySelector('[data-stale=\"true\"]')")

    def cell(self, words: str) -> Any:
        # A table is drawn on a canvas; the browser is told its cells for those who cannot see it.
        return (
            self.page.locator("td[role=gridcell]")
            .filter(has_text=re.compile(f"^{re.escape(words)}$"))
            .first
        )

    def checks(self, name: str) -> None:
        """Nothing scrolls sideways; keep a picture if asked."""
        wide, room = self.page.evaluate(
            "(() => { const main = document.querySelector('[data-testid=\"stMain\"]');"
            "return [Math.max(main.scrollWidth, document.documentElement.scrollWidth),"
            " main.clientWidth]; })()"
        )
        assert wide <= room == self.width, f"{name} scrolls sideways at {self.width} px"
        if ARTEFACTS:
            self._picture(name)

    def _picture(self, name: str) -> None:
        folder = Path(ARTEFACTS)
        folder.mkdir(parents=True, exist_ok=True)
        tall = self.page.evaluate("document.querySelector('[data-testid=\"stMain\"]').scrollHeight")
        self.page.set_viewport_size({"width": self.width, "height": min(4000, max(844, tall))})
        self.page.wait_for_timeout(700)
        self.page.screenshot(path=folder / f"{name}_{self.width}_{self.scheme}.png")
        self.page.set_viewport_size({"width": self.width, "height": 844})


@pytest.mark.parametrize(("width", "scheme"), WALKS)
def test_from_a_messy_sheet_to_a_link_that_opens_and_ends(
    chromium: Any, screens: str, messy: Findings, width: int, scheme: str
) -> None:
    person = Technician(chromium, screens, width, scheme)
    page = person.page
    person.sees("survey")
    person.checks("1_start")

    page.get_by_test_id("stFileUploaderDropzoneInput").first.set_input_files(
        SAMPLE / "nursery_messy.xlsx"
    )
    person.sees("How your file was read")
    person.cell("Steam pressure [bar g]").wait_for(state="attached")
    person.cell("supply, bar gauge").wait_for(state="attached")
    person.checks("2_headers")

    person.press("Judge the round")
    person.sees("Overview")
    assert page.get_by_text(f"{messy.summary['rows_set_aside']} set aside").is_visible()
    person.checks("3_overview")

    person.go("Ranking", "What to mend first")
    worst = tables.worst(messy, 1)["tag"].iloc[0]
    person.cell(worst).wait_for(state="attached")
    person.checks("4_ranking")
    for view in ("Cost of each", "Cost added up"):
        page.get_by_role("radio", name=view).click()
        page.locator(".js-plotly-plot .main-svg").first.wait_for()
        person.checks(f"4_{view.lower().replace(' ', '_')}")

    person.go("Readings", "Readings")
    page.locator(".js-plotly-plot .main-svg").first.wait_for()
    person.checks("5_readings")
    person.go("One unit", "One unit")
    page.get_by_role("heading", name="What to do", exact=True).wait_for()
    person.checks("6_unit")

    person.go("Owner's link", "Owner's link")
    person.press("Make the link")
    link = page.get_by_test_id("stCode").inner_text().strip()
    person.checks("7_link")
    assert opened(chromium, link, width, scheme) == (200, True)

    person.press("End a link")
    person.press("End it now")
    person.cell("ended").wait_for(state="attached")
    assert opened(chromium, link, width, scheme) == (404, False)
    assert person.complaints == []
    person.context.close()


def opened(chromium: Any, link: str, width: int, scheme: str) -> tuple[int, bool]:
    """Open a link as an owner would, in a browser that knows nothing else."""
    context = chromium.new_context(
        viewport={"width": width, "height": 844}, color_scheme=scheme, java_script_enabled=False
    )
    page = context.new_page()
    answer = page.goto(link)
    shows = "Nothing here" not in page.content()
    if ARTEFACTS and answer.ok:
        page.screenshot(path=Path(ARTEFACTS) / f"8_owner_{width}_{scheme}.png")
    context.close()
    return answer.status, shows


def test_a_hostile_sheet_fetches_nothing_and_runs_nothing(
    chromium: Any, screens: str, tmp_path: Path
) -> None:
    trap = "![x](http://192.0.2.9/x.png) <img src=http://192.0.2.9/y.png onerror=alert(1)>"
    rows = "".join(f'"T{n} {trap}",{250 + n},"{trap}","{trap}"\n' for n in range(4))
    sheet = tmp_path / "hostile.csv"
    sheet.write_text(f'tag,inlet_temp_f,note,"{trap}"\n{rows}', encoding="utf-8")
    person = Technician(chromium, screens, 390, "light")
    person.page.get_by_test_id("stFileUploaderDropzoneInput").first.set_input_files(sheet)
    person.sees("Overview")
    for page, heading in (
        ("Headers", "How your file was read"),
        ("One unit", "One unit"),
        ("Ranking", "What to mend first"),
        ("Readings", "Readings"),
    ):
        person.go(page, heading)
        person.checks("hostile")
        assert person.page.locator("img").count() == 0
    assert person.complaints == []
    person.context.close()
