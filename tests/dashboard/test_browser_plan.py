"""The way down in pressure in a real browser, on a phone: all of it is there, nothing sideways."""

from __future__ import annotations

from typing import Any

import pytest

from .browsing import Technician, screens  # noqa: F401

pytestmark = pytest.mark.browser
SIDEWAYS = (
    "[...document.querySelectorAll('.told')].filter(each => each.offsetParent)"
    ".map(each => each.scrollWidth - each.clientWidth)"
)


def test_steps_and_saving_fit_a_phone(
    browser: Any,
    screens: str,  # noqa: F811
) -> None:
    person = Technician(browser, screens, 390, "light")
    person.press("Try the sample round")
    person.sees("Overview")
    person.go("Plant", "The plant, upstream first")
    steps = person.page.locator("summary").filter(has_text="The way down,")
    table = person.page.locator('.told[aria-label*="watch these"]')
    assert not table.is_visible()
    steps.click()
    table.wait_for()
    assert table.locator("tbody tr").count() >= 4
    person.page.locator("td").filter(has_text="flash steam from condensate").wait_for()
    beyond = person.page.evaluate(SIDEWAYS)
    assert len(beyond) >= 2
    assert max(beyond) <= 0
    person.checks("plan_steps")
    assert person.complaints == []
    person.context.close()
