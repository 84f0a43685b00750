"""Who else must get through: a keyboard alone, a screen at twice the size, a hostile sheet."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from .browsing import Technician, screens  # noqa: F401  fixtures

pytestmark = pytest.mark.browser


def test_a_hostile_sheet_fetches_nothing_and_runs_nothing(
    browser: Any,
    screens: str,  # noqa: F811
    tmp_path: Path,
) -> None:
    trap = "![x](http://192.0.2.9/x.png) <img src=http://192.0.2.9/y.png onerror=alert(1)> $x$"
    rows = "".join(
        f'"T{n} {trap}",{250 + n},60,{60 if n % 2 else 20},20,"{trap}","{trap}"\n'
        for n in range(8)
    )
    sheet = tmp_path / "hostile.csv"
    sheet.write_text(
        f'tag,inlet_temp_f,supply_psig,sound_db,background_db,area,"{trap}"\n{rows}',
        encoding="utf-8",
    )
    person = Technician(browser, screens, 390, "light")
    person.give(sheet)
    person.sees("Overview")
    for page, heading in (
        ("Ranking", "What to mend first"),
        ("Charts", "The round in pictures"),
        ("Plant", "The plant, upstream first"),
        ("Unit", "One unit"),
        ("Start", "survey"),
    ):
        person.go(page, heading)
        person.checks("hostile")
        assert person.page.locator("img, .katex").count() == 0
    person.press("How its headers were read")
    person.sees("How your file was read")
    person.checks("hostile")
    assert person.page.locator("img, .katex").count() == 0
    assert person.complaints == []
    person.context.close()


def test_a_keyboard_alone_reaches_the_ranked_list_and_a_work_list(
    browser: Any,
    screens: str,  # noqa: F811
) -> None:
    person = Technician(browser, screens, 390, "light")
    tab_to(person, "Try the sample round")
    person.page.keyboard.press("Enter")
    person.sees("Overview")
    tab_to(person, "See what to mend first")
    person.page.keyboard.press("Enter")
    person.sees("What to mend first")
    tab_to(person, "T-160 to my list")
    person.page.keyboard.press("Enter")
    person.reads("1 unit ticked")
    person.context.close()


def tab_to(person: Technician, label: str) -> None:
    """Press Tab until the focus, which must be seen, is on this button."""
    person.settles()
    for _ in range(60):
        person.page.keyboard.press("Tab")
        said, outlined = person.page.evaluate(
            "(() => { const at = document.activeElement, look = getComputedStyle(at);"
            " return [at.innerText, look.outlineStyle !== 'none' || look.boxShadow !== 'none'];})()"
        )
        if said.strip() == label:
            assert outlined, f"the focus on {label!r} cannot be seen"
            return
    raise AssertionError(f"no Tab leads to {label!r}")


def test_twice_the_size_still_fits(browser: Any, screens: str) -> None:  # noqa: F811
    """A laptop of 1280 px at 200 % shows 640 px of page."""
    person = Technician(browser, screens, 640, "light", tall=400)
    person.press("Try the sample round")
    person.sees("Overview")
    for page, heading in (
        ("Ranking", "What to mend first"),
        ("Charts", "The round in pictures"),
        ("Unit", "One unit"),
        ("Plant", "The plant, upstream first"),
        ("Owner's link", "Owner's link"),
    ):
        person.go(page, heading)
        person.checks(f"zoomed_{page.lower().replace(' ', '_')}")
    assert person.complaints == []
    person.context.close()
