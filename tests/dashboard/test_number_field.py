"""A number typed with the screen's decimal mark is that number, whatever the browser speaks."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from survey.dashboard.remembered import remember_manner
from survey.reports import numerals
from survey.reports.manner import Manner, using

from .browsing import Technician
from .conftest import Opened, unfold
from .test_launch import launched

PRICE = "typed_kept_site_price_per_mmbtu"


@pytest.mark.parametrize(
    ("locale", "mark"),
    [("en", "."), ("en_GB", "."), ("de_DE", ","), ("fr_FR", ","), ("de_CH", "."), ("es_MX", ".")],
)
def test_the_mark_is_that_of_the_locale_as_cldr_has_it(locale: str, mark: str) -> None:
    assert numerals.decimal_mark(locale) == mark
    with using(locale=locale):
        assert numerals.decimal_mark() == mark


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        ("7,25", 7.25),
        ("1.250,5", 1250.5),
        ("7.25", 7.25),  # two digits after it: it can only be a decimal
        ("", None),
        ("seven", None),
        ("nan", None),
        ("20000", None),
        ("-3", None),
    ],
)
def test_german_figures_in_a_browser_that_is_not(
    open_app: Opened, typed: str, kept: float | None
) -> None:
    remember_manner(Manner("us", "de_DE"))
    app = unfold(open_app(), "site")
    app = app.text_input(key=PRICE).set_value(typed).run()
    assert not app.exception
    fuel = app.session_state["work"].site_given.get("fuel") or {}
    assert fuel.get("price_per_mmbtu") == kept
    refused = [each.value for each in app.error if "is not used" in each.value]
    assert len(refused) == (1 if typed and kept is None else 0)
    assert all("from 0 to 10.000" in said for said in refused)


def test_the_number_stays_when_the_screen_changes_its_marks(open_app: Opened) -> None:
    remember_manner(Manner("us", "de_DE"))
    app = unfold(unfold(open_app(), "site"), "figures")
    app = app.text_input(key=PRICE).set_value("7,123456").run()
    assert app.text_input(key=PRICE).value == "7,123456"
    app = app.selectbox(key="figures_locale").set_value("en").run()
    assert app.number_input(key="kept_site_price_per_mmbtu").value == 7.123456
    app = app.selectbox(key="figures_locale").set_value("de_DE").run()
    assert app.text_input(key=PRICE).value == "7,123"
    assert app.session_state["work"].site_given["fuel"]["price_per_mmbtu"] == 7.123456


@pytest.mark.browser
def test_a_comma_typed_into_an_english_browser_is_not_dropped(browser: Any, tmp_path: Path) -> None:
    home = tmp_path / "home"
    home.mkdir()
    (home / "figures.json").write_text('{"units": "us", "locale": "de_DE"}')
    with launched(home) as (_, port, _, _):
        person = Technician(browser, f"http://127.0.0.1:{port}/", 390, "light")
        person.page.get_by_text("Site settings: altitude, fuel price, hours").click()
        person.settles()
        price = person.page.get_by_label("Fuel price for each million Btu")
        price.fill("7,25")
        price.press("Enter")
        person.settles()
        assert price.input_value() == "7,25"
        person.checks("01_start_german")
        person.press("Try the sample round")
        person.sees("Overview")
        assert person.complaints == []
        person.context.close()
