"""What a technician does to the ranked list in a real browser stays as it was done."""

from __future__ import annotations

from typing import Any

import pytest

from .browsing import WAIT_MS, Technician, screens  # noqa: F401

pytestmark = pytest.mark.browser
TABLE = '[data-testid="stDataFrame"]'


def test_a_row_put_on_the_list_by_the_large_button_leaves_the_order_alone(
    browser: Any,
    screens: str,  # noqa: F811
) -> None:
    person = Technician(browser, screens, 1280, "light")
    person.press("Try the sample round")
    person.sees("Overview")
    person.go("Ranking", "What to mend first")
    by_rank = first_tags(person)
    box = person.stands(TABLE)
    for _ in range(2):  # up, then down
        person.page.mouse.click(box["x"] + 80, box["y"] + 22)
        person.page.wait_for_timeout(500)
    by_tag = first_tags(person)
    assert by_tag != by_rank
    person.page.mouse.click(box["x"] + 300, box["y"] + 44 + 22)
    person.press(f"{by_tag[0]} to my list")
    person.reads("1 unit ticked")
    person.page.get_by_role("button", name=f"{by_tag[0]} off my list", exact=True).wait_for()
    assert first_tags(person) == by_tag
    assert ticked(person) == [by_tag[0]]
    person.press(f"{by_tag[0]} off my list")
    person.page.get_by_role("button", name=f"{by_tag[0]} to my list", exact=True).wait_for()
    assert first_tags(person) == by_tag
    assert ticked(person) == []
    assert person.complaints == []
    person.context.close()


def test_a_phone_that_wakes_up_shows_the_list_as_it_was_filtered(
    browser: Any,
    screens: str,  # noqa: F811
) -> None:
    from playwright.sync_api import expect

    person = Technician(browser, screens, 390, "dark")
    person.press("Try the sample round")
    person.sees("Overview")
    person.go("Ranking", "What to mend first")
    person.page.get_by_text("Filter by place, device, state, cause or type").click()
    person.chooses("Area", "Laundry")
    person.page.keyboard.press("Escape")
    person.page.get_by_label("Tag has in it").fill("t-1")
    person.page.keyboard.press("Enter")
    shown = count(person)
    assert not shown.startswith("60 of")  # all that need something done
    person.page.reload()
    person.sees("What to mend first")
    person.press("Open the last round")
    person.reads(shown)
    person.page.get_by_role("button", name="Laundry").first.wait_for()  # nobody unfolded it
    expect(person.page.get_by_label("Tag has in it")).to_have_value("t-1", timeout=WAIT_MS)
    person.checks("04_ranking_after_a_reload")
    assert person.complaints == []
    person.context.close()


def count(person: Technician) -> str:
    person.settles()
    said: str = person.page.get_by_text("devices shown.").inner_text()
    return said


def first_tags(person: Technician, count: int = 5) -> list[str]:
    return [tag for tag, _ in rows(person)[:count]]


def ticked(person: Technician) -> list[str]:
    return [tag for tag, selected in rows(person) if selected == "true"]


def rows(person: Technician) -> list[tuple[str, str]]:
    """Return the tag of each row drawn and whether it is ticked, as a screen reader is told."""
    person.settles()
    found: list[tuple[str, str]] = person.page.evaluate(
        "[...document.querySelectorAll('[data-testid=\"stDataFrame\"] tbody tr')].map("
        "row => [row.querySelector('td').innerText, row.getAttribute('aria-selected')])"
    )
    return found
