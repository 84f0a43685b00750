"""Chromium for every test that needs one.

Where it or Playwright is missing those tests skip and say why, unless SURVEY_REQUIRE_BROWSER=1,
which makes that a failure.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from typing import Any

import pytest

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
BROWSER_REQUIRED = os.environ.get("SURVEY_REQUIRE_BROWSER") == "1"


def without_browser(reason: str) -> None:
    words = f"NO BROWSER, so nothing was tried in one: {reason}"
    if BROWSER_REQUIRED:
        pytest.fail(words)
    pytest.skip(words)


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    try:
        from playwright.sync_api import Error, sync_playwright
    except ImportError as error:
        without_browser(f"Playwright is not installed ({error})")
    path = shutil.which("chromium") or shutil.which("chromium-browser")
    if path is None:
        without_browser("there is no Chromium on the path (Debian: apt-get install chromium)")
    with sync_playwright() as playwright:
        try:
            chromium = playwright.chromium.launch(executable_path=path, args=FLAGS)
        except Error as error:
            without_browser(f"Chromium does not start ({str(error)[:300]})")
        yield chromium
        chromium.close()
