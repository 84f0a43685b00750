"""The owner's link with before and after, what a repair cost, and a choice that stays chosen."""

from __future__ import annotations

import gzip
import re
from datetime import date
from typing import Any

import pytest
from click.testing import CliRunner

from survey import Findings
from survey.cli import main
from survey.dashboard.remembered import remember_manner
from survey.reports.manner import Manner
from survey.rounds.repairs import add_repair, repairs
from survey.rounds.store import open_store
from survey.rounds.units import find_unit
from survey.sharing import LinkStore

from .browsing import Technician, screens  # noqa: F401
from .conftest import Opened, texts

SINCE = "kept_link_since"


def page_at(url: str) -> str:
    with LinkStore() as links:
        found = links.lookup(url.strip().rpartition("/")[2])
    assert found is not None
    return gzip.decompress(found.gzipped).decode()


def before_after(page: str) -> str:
    found = re.search(r'<section class="before-after">.*?</section>', page, re.DOTALL)
    return found[0] if found else ""


def made(app: Any) -> str:
    app = app.button(key="make_link").click().run()
    assert not app.exception
    [code] = app.code
    return page_at(code.value)


def test_the_link_has_before_and_after_as_the_command_makes_it(
    open_app: Opened, two_kept: None, findings: Findings, repaired: Findings, own_home: Any
) -> None:
    with open_store() as store:
        unit = find_unit(store, "T-160")
        add_repair(store, unit.number, on=date(2025, 12, 1), what="New seat & disc")
    app = open_app("owner_link.py", repaired)
    assert app.selectbox(key=SINCE).options == ["Nothing: this round alone", "Autumn, 2025-11-04"]
    assert before_after(made(app)) == ""

    app = app.selectbox(key=SINCE).set_value(1).run()
    part = before_after(made(app))
    assert "Mended: " in part
    assert "New seat &amp; disc" in part
    files = []
    for name, each in (("a", findings), ("b", repaired)):
        each.save(own_home / f"{name}.parquet")
        files.append(str(own_home / f"{name}.parquet"))
    done = CliRunner().invoke(main, ["share", files[1], "--before", files[0]])
    assert done.exit_code == 0
    assert before_after(page_at(done.stdout)) == part


def test_only_earlier_rounds_are_offered(
    open_app: Opened, two_kept: None, findings: Findings
) -> None:
    app = open_app("owner_link.py", findings)
    assert not [each for each in app.selectbox if each.key == SINCE]


def test_without_rounds_there_is_no_choice_and_no_store(
    open_app: Opened, findings: Findings, own_home: Any
) -> None:
    app = open_app("owner_link.py", findings)
    assert not [each for each in app.selectbox if each.key == SINCE]
    assert not list(own_home.rglob("rounds.sqlite*"))


def test_a_round_that_was_taken_out_since_is_no_longer_chosen(
    open_app: Opened, two_kept: None, repaired: Findings
) -> None:
    app = open_app("owner_link.py", repaired)
    app = app.selectbox(key=SINCE).set_value(1).run()
    with open_store() as store:
        store.remove(1)
    app = app.run()
    assert not app.exception
    assert before_after(made(app)) == ""


def test_the_link_is_in_the_units_of_the_screens(open_app: Opened, findings: Findings) -> None:
    remember_manner(Manner("si", "de_DE"))
    page = made(open_app("owner_link.py", findings))
    assert " kg/h" in page
    assert " lb/h" not in page


@pytest.mark.parametrize(("locale", "typed", "cost"), [
    ("en", 240.5, 240.5), ("de_DE", "240,50", 240.5), ("en", None, None), ("de_DE", "", None),
])  # fmt: skip
def test_what_a_repair_cost_is_noted_on_the_screen(
    open_app: Opened, two_kept: None, repaired: Findings, locale: str, typed: Any, cost: Any
) -> None:
    remember_manner(Manner("us", locale))
    app = open_app("unit.py", repaired)
    app = app.selectbox(key="kept_unit").set_value("T-160").run()
    fields = [*app.number_input, *app.text_input]
    [field] = [one for one in fields if one.label == "What it cost, parts and labour, USD"]
    if typed is not None:
        field.set_value(typed)
    [note] = [each for each in app.button if each.label == "Note it"]
    app = note.click().run()
    assert not app.exception
    with open_store() as store:
        assert [one.cost for one in repairs(store)] == [cost]
    assert ("at a cost of" in texts(app)) == (cost is not None)
    fields = [*app.number_input, *app.text_input]
    [field] = [one for one in fields if one.label == "What it cost, parts and labour, USD"]
    assert field.value in (None, ""), "the next repair does not cost the same by itself"


@pytest.mark.browser
def test_touching_what_is_chosen_changes_nothing(browser: Any, screens: str) -> None:  # noqa: F811
    person = Technician(browser, screens, 390, "light")
    person.press("Try the sample round")
    person.sees("Overview")
    for page, heading, choice, words in (
        ("Rounds", "Rounds over time", "Before and after", "Keep two rounds, one before"),
        ("Ranking", "What to mend first", "Cost added up", "Mend the dearest first"),
        ("Charts", "The round in pictures", "Sound", ""),
    ):
        person.go(page, heading)
        one = person.page.get_by_role("radio", name=choice, exact=True)
        for _ in range(2):
            one.click()
            person.settles()
            assert one.get_attribute("aria-checked") == "true", page
        if words:
            person.reads(words)
    assert person.complaints == []
    person.context.close()
