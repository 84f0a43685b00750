"""Make README's screenshots again, in docs/: the sample round on the screens as they are now.

Needs Playwright and Chromium, as the browser tests do.
"""

from __future__ import annotations

import io
import shutil
import sys
import tempfile
from pathlib import Path
from typing import Any

from PIL import Image

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from tests.chromium import FLAGS  # noqa: E402
from tests.dashboard.browsing import Technician  # noqa: E402
from tests.dashboard.test_launch import launched  # noqa: E402

DOCS = ROOT / "docs"
BETWEEN = (216, 208, 196)
COLOURS = 128
GAP_PX, PHONE_TALL_PX = 24, 1180


def main() -> None:
    """Write ranking.png, a laptop, and phone.png, two phones side by side."""
    from playwright.sync_api import sync_playwright

    path = shutil.which("chromium") or shutil.which("chromium-browser")
    with (
        tempfile.TemporaryDirectory() as home,
        launched(Path(home)) as (_, port, _, _),
        sync_playwright() as playwright,
    ):
        browser = playwright.chromium.launch(executable_path=path, args=FLAGS)
        address = f"http://127.0.0.1:{port}/"
        for name, picture in (("ranking", _ranking), ("phone", _phones)):
            few = picture(browser, address).quantize(COLOURS)
            few.save(DOCS / f"{name}.png", optimize=True)


def _opened(browser: Any, address: str, width: int, scheme: str, tall: int) -> Technician:
    person = Technician(browser, address, width, scheme, tall=tall)
    person.settles()
    person.press("Try the sample round")
    person.sees("Overview")
    person.go("Ranking", "What to mend first")
    return person


def _ranking(browser: Any, address: str) -> Image.Image:
    person = _opened(browser, address, 1280, "light", 900)
    person.page.get_by_text("Touch a row").wait_for()
    box = person.page.locator('[data-testid="stDataFrame"]').first.bounding_box()
    person.page.mouse.click(box["x"] + 320, box["y"] + 44 * 2.5)
    person.page.locator(".st-key-open_touched").wait_for()
    return _picture(person)


def _phones(browser: Any, address: str) -> Image.Image:
    dark = _opened(browser, address, 390, "dark", PHONE_TALL_PX)
    light = _opened(browser, address, 390, "light", PHONE_TALL_PX)
    light.go("Unit", "One unit")
    left, right = _picture(dark), _picture(light)
    both = Image.new("RGB", (left.width + GAP_PX + right.width, PHONE_TALL_PX), BETWEEN)
    both.paste(left, (0, 0))
    both.paste(right, (left.width + GAP_PX, 0))
    return both


def _picture(person: Technician) -> Image.Image:
    person.page.mouse.move(0, 0)
    person.page.wait_for_timeout(1500)  # fonts and the drawing of the table
    return Image.open(io.BytesIO(person.page.screenshot())).convert("RGB")


if __name__ == "__main__":
    main()
