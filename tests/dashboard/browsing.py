"""A technician at a real browser: what a test can do there, and what no page may do.

Needs Playwright and Chromium. Where they are missing the tests skip and say why, unless
SURVEY_REQUIRE_BROWSER=1, which makes that a failure and tries every width and scheme: the screen
turns from light to dark, or back, at every page that is looked at. With SURVEY_ARTEFACTS set to a
folder, every page is also kept there as a picture.
"""

from __future__ import annotations

import contextlib
import os
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from survey.reports import palette
from tests.chromium import BROWSER_REQUIRED

from .test_launch import launched

ARTEFACTS = os.environ.get("SURVEY_ARTEFACTS", "")
# How wide each walk is, and in which schemes everything is checked: it begins in the first.
WALKS: list[tuple[int, tuple[str, ...]]] = [(390, ("light",))]
if BROWSER_REQUIRED or ARTEFACTS:
    WALKS = [(390, ("light", "dark")), (1280, ("dark", "light"))]
WAIT_MS = 60_000
# What axe finds in Streamlit's own shell, by rule and by where: nothing at present. A line
# belongs here only where the element is not one that this package draws.
SHELL_FINDINGS: tuple[tuple[str, str], ...] = ()
COLOURS = {"light": palette.LIGHT, "dark": palette.DARK}
# A colour twice: as the script's own style has it, and as Streamlit's shell shows its own.
TURNED = """([paper, ink]) => {
    const probe = document.body.appendChild(document.createElement('i'));
    probe.style.color = ink;
    const wanted = getComputedStyle(probe).color;
    probe.remove();
    const app = getComputedStyle(document.querySelector('[data-testid="stApp"]'));
    const named = getComputedStyle(document.documentElement).getPropertyValue('--paper');
    return named.trim() === paper && app.color === wanted;
}"""


@pytest.fixture
def screens(tmp_path: Path, browser: Any) -> Iterator[str]:
    """The address of screens of one's own, with nothing kept yet."""
    with launched(tmp_path / "home") as (_, port, _, _):
        yield f"http://127.0.0.1:{port}/"


class Technician:
    """One person at one screen, who notes whatever a page should not do."""

    def __init__(self, browser: Any, screens: str, width: int, *schemes: str, tall: int = 844):
        self.context = browser.new_context(
            viewport={"width": width, "height": tall},
            color_scheme=schemes[0],
            reduced_motion="reduce",
            accept_downloads=True,
        )
        self.context.set_default_timeout(WAIT_MS)
        self.page, self.width = self.context.new_page(), width
        self.schemes, self.scheme = schemes, schemes[0]
        self.complaints: list[str] = []
        self.page.on("console", lambda said: self._hear(said.type, said.text, said.location))
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))
        self.page.on("request", lambda request: self._see(screens, request.url))
        self.page.goto(screens)
        self.page.get_by_role("heading", level=1).first.wait_for()

    def _hear(self, kind: str, text: str, where: dict[str, Any]) -> None:
        # Opened at a page's own address, Streamlit first looks for its server beneath that page.
        probing = "/_stcore/" in str(where.get("url")) and "404" in text
        if kind == "error" and not probing:
            self.complaints.append(f"{text} {where.get('url')}")

    def _see(self, screens: str, address: str) -> None:
        if not address.startswith((screens, screens.replace("http", "ws"), "data:", "blob:")):
            self.complaints.append(f"fetched from elsewhere: {address}")

    def press(self, label: str) -> None:
        self.page.get_by_role("button", name=label, exact=True).first.click()
        self.settles()

    def give(self, path: Path) -> None:
        self.page.get_by_test_id("stFileUploaderDropzoneInput").first.set_input_files(path)

    def go(self, page: str, heading: str) -> None:
        name = re.compile(f"^{re.escape(page)}$")
        self.page.locator(".st-key-menu a").filter(has_text=name).click()
        self.sees(heading)

    def sees(self, heading: str) -> None:
        self.page.get_by_role("heading", name=heading, exact=True, level=1).wait_for()
        self.settles()

    def settles(self) -> None:
        """Wait until the script has run and nothing on the page is of the run before."""
        from playwright.sync_api import expect

        self.page.wait_for_timeout(150)
        busy = self.page.locator('[data-stale="true"], [data-testid="stStatusWidget"]')
        expect(busy).to_have_count(0, timeout=WAIT_MS)

    def chooses(self, label: str, wanted: str) -> None:
        self.settles()
        box = self.page.get_by_role("combobox", name=label).last
        box.scroll_into_view_if_needed()
        choice = self.page.get_by_role("option").first
        for _ in range(6):  # a script that is still at it draws the box anew, and shuts it
            box.click()
            self.page.wait_for_timeout(500)
            if choice.is_visible():
                break
            self.settles()
        choice.wait_for()
        box.press_sequentially(wanted)
        self.page.get_by_role("option").filter(has_text=wanted).first.click()
        self.settles()

    def stands(self, selector: str) -> dict[str, float]:
        """Return where something is, once it has stopped moving."""
        before = None
        for _ in range(100):
            box: dict[str, float] = self.page.locator(selector).first.bounding_box()
            if box == before:
                return box
            before = box
            self.page.wait_for_timeout(300)
        raise AssertionError(f"{selector} keeps moving")

    def reads(self, words: str) -> None:
        self.page.get_by_text(words).first.wait_for()

    def takes(self, label: str, folder: Path) -> Path:
        """Press a button that gives a file; return the file."""
        with self.page.expect_download() as coming:
            self.page.get_by_role("button", name=label, exact=True).click()
        path = folder / coming.value.suggested_filename
        coming.value.save_as(path)
        return path

    def cell(self, words: str) -> Any:
        # A table is drawn on a canvas; the browser is told its cells for those who cannot see it.
        return (
            self.page.locator("td[role=gridcell]")
            .filter(has_text=re.compile(f"^{re.escape(words)}$"))
            .first
        )

    def turns(self, scheme: str) -> None:
        """Have the screen turn light or dark; wait until the shell and our own style follow."""
        self.page.emulate_media(color_scheme=scheme)
        # Streamlit's shell turns at once, our style when the script has run again, which R asks
        # for; but not while it runs, nor from within a table.
        from playwright.sync_api import TimeoutError as NotYet

        colours = [COLOURS[scheme][name] for name in ("paper", "ink")]
        for patience_ms in (1_000, 2_000, 4_000, WAIT_MS):
            self.page.evaluate("document.activeElement.blur()")
            self.page.keyboard.press("r")
            with contextlib.suppress(NotYet):
                self.page.wait_for_function(TURNED, arg=colours, timeout=patience_ms)
                break
        self.page.wait_for_function(TURNED, arg=colours)
        self.scheme = scheme
        self.settles()

    def checks(self, name: str) -> None:
        """Check what is shown in every scheme of this walk; the screen stays in the last of them.

        So what follows is done in light and in dark by turns.
        """
        self.settles()
        self._checks_as_it_is(name)
        for scheme in self.schemes:
            if scheme != self.scheme:
                self.turns(scheme)
                self._checks_as_it_is(name)
                break

    def _checks_as_it_is(self, name: str) -> None:
        """Nothing scrolls sideways, nothing shuts anyone out; keep a picture if asked."""
        wide, room = self.page.evaluate(
            "(() => { const main = document.querySelector('[data-testid=\"stMain\"]');"
            "return [Math.max(main.scrollWidth, document.documentElement.scrollWidth),"
            " main.clientWidth]; })()"
        )
        assert wide <= room == self.width, f"{name} scrolls sideways at {self.width} px"
        unsafe = self.page.get_by_label("Download as CSV").filter(visible=True)
        assert unsafe.count() == 0, f"{name}: a table gives a file that can start formulas"
        faults = [*barriers(self.page), *small_targets(self.page)]
        assert not faults, f"{name}: {faults}"
        if ARTEFACTS:
            self._picture(name)

    def _picture(self, name: str) -> None:
        folder = Path(ARTEFACTS)
        folder.mkdir(parents=True, exist_ok=True)
        before = self.page.viewport_size
        tall = self.page.evaluate("document.querySelector('[data-testid=\"stMain\"]').scrollHeight")
        self.page.set_viewport_size({"width": self.width, "height": min(4000, max(844, tall))})
        self.page.wait_for_timeout(500)
        self.page.screenshot(path=folder / f"{name}_{self.width}_{self.scheme}.png")
        self.page.set_viewport_size(before)


def barriers(page: Any) -> list[str]:
    """What axe calls serious or critical, but for `SHELL_FINDINGS`."""
    from axe_playwright_python.sync_playwright import Axe

    found = []
    for rule in Axe().run(page).response["violations"]:
        for node in rule["nodes"] if rule["impact"] in ("serious", "critical") else ():
            where = str(node["target"])
            if not any(rule["id"] == one and part in where for one, part in SHELL_FINDINGS):
                found.append(f"{rule['id']}: {node['html'][:200]}")
    return found


def small_targets(page: Any) -> list[str]:
    """What is pressed on a page and is under 44 px high: too small for a glove."""
    return page.evaluate(
        """(() => [...document.querySelectorAll(
             '[data-testid="stMain"] button, [data-testid="stMain"] summary')]
           .concat([...document.querySelectorAll('.st-key-menu a')])
           .filter(one => one.tabIndex >= 0)
           .concat([...document.querySelectorAll(
             '[data-testid="stCheckbox"] > label, [data-testid="stRadioOption"]')])
           .filter(one => one.offsetParent)
           .filter(one => one.checkVisibility({opacityProperty: true}))
           .filter(one => !one.closest('[data-testid="stElementToolbar"]'))
           .filter(one => one.getBoundingClientRect().height < 43.5)
           .map(one => one.outerHTML.slice(0, 200)))()"""
    )
