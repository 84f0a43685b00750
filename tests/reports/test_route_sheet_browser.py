"""The phone's page in Chromium: filled in, reloaded without a network, saved, and judged."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from survey import Site, analyze
from survey.reports.route_sheet import sheet_html
from survey.reports.route_sheet_phone import CSV_COLUMNS, phone_page
from survey.rounds.route import plan_route
from tests.rounds.invented import row

pytestmark = pytest.mark.browser
PHONE = {"width": 390, "height": 844}
HOSTILE = "</script><img src=x onerror=alert(1)>"
LEAST_TARGET_PX = 48
BARRED_STORAGE = """Object.defineProperty(window, 'localStorage',
  { get() { throw new DOMException('no', 'SecurityError') } })"""

DEAF_TO_OTHERS = "addEventListener('storage', (event) => event.stopImmediatePropagation())"


def rows() -> list[dict[str, Any]]:
    known = {"saturation_f": 287.0, "supply_psig": 40.0, "return_psig": 2.0, "orifice_in": 0.166}
    return [
        row("T-1", inlet_temp_f=281.0, outlet_temp_f=220.0, sound_pattern="quiet", sound_db=30.0,
            **known),
        row("T-2", "failed_open", area="Laundry", **known),
        row("=1+1", area="Laundry", equipment=HOSTILE, note=HOSTILE, **known),
        row("V-1", area="Laundry", device="air_vent"),
    ]  # fmt: skip


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    route = plan_route([(date(2026, 5, 1), pd.DataFrame(rows()))], site=Site(name="Nursery"),
                       on=date(2026, 11, 1))  # fmt: skip
    made = tmp_path_factory.mktemp("route") / "phone.html"
    made.write_text(phone_page(route), "utf-8")
    made.with_name("sheet.html").write_text(sheet_html(route), "utf-8")
    return made


@pytest.fixture
def page(browser: Any, path: Path) -> Iterator[Any]:
    """The page on a phone without a network; anything on the console or asked for fails."""
    context = browser.new_context(viewport=PHONE, accept_downloads=True)
    context.set_offline(True)
    opened = listening(context)
    opened.goto(path.as_uri())
    started(opened)
    yield opened
    assert opened.said == []
    context.close()


def listening(context: Any) -> Any:
    page = context.new_page()
    page.said = []
    page.on("console", lambda message: page.said.append(message.text))
    page.on("pageerror", lambda error: page.said.append(str(error)))
    page.on("request", lambda request: page.said.append(request.url)
            if request.url.startswith("http") else None)
    return page


NOTED_AFTER_MS = 1500
"""A browser notes the place on a page a little later; on a busy machine in over 300 ms."""


def started(page: Any) -> None:
    page.locator("#needs-script").wait_for(state="hidden")


def open_device(page: Any, tag: str) -> None:
    back_to_the_list(page)
    page.locator("#devices button", has_text=tag).first.click()
    at_device(page, tag)


def at_device(page: Any, tag: str) -> None:
    # A browser tells a page of its new address only after the press has been dealt with.
    page.locator("#name", has_text=re.compile(f"^{re.escape(tag)}$")).wait_for()


def back_to_the_list(page: Any) -> None:
    if page.locator("#unit").is_visible():
        page.get_by_role("button", name="List").click()
        page.locator("#unit").wait_for(state="hidden")


def progress(page: Any, words: str) -> None:
    page.get_by_role("status").first.filter(has_text=words).wait_for()


def wake(page: Any, event: str = "visibilitychange") -> None:
    target = "window" if event == "pageshow" else "document"
    page.evaluate(f"{target}.dispatchEvent(new Event('{event}'))")


def saved(page: Any, tmp_path: Path) -> list[dict[str, str]]:
    back_to_the_list(page)
    with page.expect_download() as download:
        page.get_by_role("button", name="Save as a CSV file").click()
    place = tmp_path / download.value.suggested_filename
    download.value.save_as(place)
    assert place.suffix == ".csv"
    with place.open(encoding="utf-8-sig", newline="") as handle:
        return list(csv.DictReader(handle))


def warning(page: Any, field: str) -> str:
    return page.locator(f"#w-{field}").text_content()


def test_filled_in_reloaded_saved_and_judged(page: Any, tmp_path: Path) -> None:
    page.locator("#thermometer label", has_text="contact").click()
    page.get_by_role("button", name="Next not read").click()
    at_device(page, "T-1")
    page.locator("#f-inlet_temp_f").fill("283")
    page.locator("#f-outlet_temp_f").fill("281,5")
    page.locator("#f-sound_db").fill("58")
    page.locator("#f-background_db").fill("29")
    page.locator("#fields label", has_text="continuous").click()
    page.locator("#fields label", has_text="steam").click()
    page.locator("#note").fill('roars, "loudly"\nbehind the boiler')
    progress(page, "1 of 4 read")
    page.reload()
    progress(page, "1 of 4 read")
    assert page.locator("#f-outlet_temp_f").input_value() == "281,5"
    page.get_by_role("button", name="Next not read").click()
    page.locator("#name").filter(has_not_text="T-1").wait_for()
    (found,) = saved(page, tmp_path)
    assert list(found) == list(dict.fromkeys(CSV_COLUMNS))
    assert (found["tag"], found["outlet_temp_f"], found["observed"]) == ("T-1", "281.5", "steam")
    assert (found["thermometer"], found["orifice_in"]) == ("contact", "0.166")
    assert found["supply_psig"] == ""  # last time's gauge is no reading of today
    (place,) = tmp_path.glob("*.csv")
    judged = analyze(place, site=Site.from_mapping({"stations": {"N": {"supply_psig": 40.0}}}))
    assert judged.summary["rows_set_aside"] == 0
    (state,) = judged.table["state"]
    assert state in ("leaking", "failed_open")
    assert judged.table["p_working"].iloc[0] < 0.1
    assert judged.table["sound_db"].iloc[0] == 58.0
    assert judged.table["note"].iloc[0] == 'roars, "loudly"\nbehind the boiler'


@pytest.mark.parametrize(
    ("typed", "said"),
    [("9999", "It cannot be over 1500 °F."), ("-500", "It cannot be under -459.7 °F."),
     ("25o", "That is no number."), ("1.2.3", "That is no number."),
     ("150", "Far from last time (281)"), ("310", "Hotter than steam was here (287 °F)"),
     ("280", ""), ("280,4", ""), (" 280 ", "")],
)  # fmt: skip
def test_a_reading_that_cannot_be_is_said_at_once(page: Any, typed: str, said: str) -> None:
    open_device(page, "T-1")
    page.locator("#f-inlet_temp_f").fill(typed)
    assert warning(page, "inlet_temp_f").startswith(said)
    assert (warning(page, "inlet_temp_f") == "") == (said == "")
    cannot = said.startswith(("It cannot", "That is"))
    assert page.locator("#f-inlet_temp_f").get_attribute("aria-invalid") == str(cannot).lower()


@pytest.mark.parametrize(
    ("entries", "field", "said"),
    [({"inlet_temp_f": "240", "outlet_temp_f": "250"}, "outlet_temp_f", "Hotter after it"),
     ({"ambient_f": "90", "inlet_temp_f": "60"}, "inlet_temp_f", "Colder than the air"),
     ({"supply_psig": "3", "return_psig": "4"}, "return_psig", "More pressure after it"),
     ({"sound_db": "30", "background_db": "40"}, "background_db", "Louder on the bare pipe")],
)  # fmt: skip
def test_readings_that_hardly_go_together_are_said(
    page: Any, entries: dict[str, str], field: str, said: str
) -> None:
    open_device(page, "T-1")
    for name, text in entries.items():
        page.locator(f"#f-{name}").fill(text)
    assert warning(page, field).startswith(said)


def test_what_cannot_be_is_named_and_goes_into_the_note(page: Any, tmp_path: Path) -> None:
    open_device(page, "T-1")
    page.locator("#f-inlet_temp_f").fill("9999")
    page.locator("#f-outlet_temp_f").fill("220")
    (found,) = saved(page, tmp_path)
    assert found["inlet_temp_f"] == ""
    assert found["outlet_temp_f"] == "220"
    assert found["note"] == "inlet_temp_f was entered as 9999, which cannot be"
    page.locator("#wrong button").click()
    at_device(page, "T-1")


def test_nothing_in_the_file_starts_a_formula(page: Any, tmp_path: Path) -> None:
    open_device(page, "=1+1")
    page.locator("#f-sound_db").fill("12")
    page.get_by_role("button", name="Change the sign of: Sound on the device").click()
    page.locator("#note").fill("@SUM(A1)")
    (found,) = saved(page, tmp_path)
    assert found["tag"] == "'=1+1"
    assert found["note"] == "'@SUM(A1)"
    assert found["sound_db"] == "-12"


def test_hostile_text_is_shown_as_text(page: Any) -> None:
    page.on("dialog", lambda dialog: page.said.append("a script ran"))
    open_device(page, "=1+1")
    assert HOSTILE in page.locator("#where").text_content()
    assert HOSTILE in page.locator("#last").text_content()
    assert page.locator("img").count() == 0


def test_undo_takes_back_a_field_and_clearing_asks(page: Any) -> None:
    open_device(page, "T-1")
    page.locator("#f-inlet_temp_f").fill("280")
    page.locator("#f-outlet_temp_f").fill("220")
    page.get_by_role("button", name="Undo").click()
    assert page.locator("#f-outlet_temp_f").input_value() == ""
    assert page.locator("#f-inlet_temp_f").input_value() == "280"
    page.get_by_role("button", name="Clear this device").click()
    page.get_by_role("button", name="Keep them").click()
    assert page.locator("#f-inlet_temp_f").input_value() == "280"
    page.get_by_role("button", name="Clear this device").click()
    page.get_by_role("button", name="Clear", exact=True).click()
    assert page.locator("#f-inlet_temp_f").input_value() == ""
    progress(page, "0 of 4 read")
    page.get_by_role("button", name="Undo").click()
    assert page.locator("#f-inlet_temp_f").input_value() == "280"
    back_to_the_list(page)
    page.get_by_role("button", name="Clear every entry").click()
    page.get_by_role("button", name="Clear", exact=True).click()
    page.reload()
    progress(page, "0 of 4 read")
    assert page.evaluate("localStorage.length") == 0


def test_two_tabs_lose_nothing(page: Any, path: Path) -> None:
    other = listening(page.context)
    other.goto(path.as_uri())
    open_device(page, "T-1")
    open_device(other, "T-2")
    page.locator("#f-inlet_temp_f").fill("280")
    other.locator("#f-inlet_temp_f").fill("281")
    for tab in (page, other):
        progress(tab, "2 of 4 read")
        tab.reload()
        progress(tab, "2 of 4 read")


@pytest.mark.parametrize("woken", ["visibilitychange", "pageshow"])
def test_a_tab_that_slept_shows_what_another_wrote(
    page: Any, path: Path, tmp_path: Path, woken: str
) -> None:
    other = listening(page.context)
    other.goto(path.as_uri())
    other.locator("#thermometer label", has_text="contact").click()
    page.add_init_script(DEAF_TO_OTHERS)
    page.reload()
    open_device(page, "T-1")
    open_device(other, "T-1")
    other.locator("#f-inlet_temp_f").fill("281")
    page.locator("#f-outlet_temp_f").click()
    progress(page, "0 of 4 read")
    wake(page, woken)
    progress(page, "1 of 4 read")
    page.keyboard.type("220")  # where it was to be typed before
    page.get_by_role("button", name="Undo").click()
    page.locator("#f-outlet_temp_f").fill("219")
    (found,) = saved(other, tmp_path)
    assert [found[name] for name in ("inlet_temp_f", "outlet_temp_f", "thermometer")] == [
        "281", "219", "contact"
    ]  # fmt: skip
    (same,) = saved(page, tmp_path)
    assert same == found


def test_what_was_entered_outlives_the_store(page: Any, tmp_path: Path) -> None:
    open_device(page, "T-1")
    page.locator("#f-inlet_temp_f").fill("281")
    page.evaluate("localStorage.clear()")
    wake(page)
    page.reload()
    progress(page, "1 of 4 read")
    page.evaluate(BARRED_STORAGE)
    wake(page)
    page.get_by_role("alert").wait_for()
    (found,) = saved(page, tmp_path)
    assert found["inlet_temp_f"] == "281"


def test_the_place_in_the_list_outlives_a_reload(page: Any) -> None:
    page.set_viewport_size({"width": 390, "height": 300})
    page.evaluate("scrollTo(0, 500)")
    page.wait_for_timeout(NOTED_AFTER_MS)
    before = page.evaluate("scrollY")
    assert before > 400
    for _ in range(3):
        page.reload()
        started(page)
        page.wait_for_timeout(NOTED_AFTER_MS)
    assert abs(page.evaluate("scrollY") - before) < 200


def test_where_nothing_is_kept_it_says_so(browser: Any, path: Path, tmp_path: Path) -> None:
    context = browser.new_context(viewport=PHONE, accept_downloads=True)
    context.add_init_script(BARRED_STORAGE)
    page = listening(context)
    page.goto(path.as_uri())
    started(page)
    alarm = page.get_by_role("alert")
    assert alarm.is_visible()
    assert alarm.text_content().startswith("This browser keeps nothing")
    open_device(page, "T-1")
    page.locator("#f-inlet_temp_f").fill("280")
    (found,) = saved(page, tmp_path)
    assert found["inlet_temp_f"] == "280"
    assert page.said == []
    context.close()


def test_without_script_it_says_what_to_do(browser: Any, path: Path) -> None:
    context = browser.new_context(viewport=PHONE, java_script_enabled=False)
    page = context.new_page()
    page.goto(path.as_uri())
    assert page.get_by_text("This page needs script").is_visible()
    context.close()


def test_with_script_it_says_nothing_of_that(page: Any) -> None:
    assert not page.get_by_text("This page needs script").is_visible()


def test_the_list_finds_and_narrows(page: Any) -> None:
    shown = page.locator("#devices button:visible b")
    assert len(shown.all_text_contents()) == 4
    page.get_by_label("Search").fill("laundry air")
    assert shown.all_text_contents() == ["V-1"]
    page.get_by_label("Search").fill("")
    page.get_by_label("Only those with a reason").check()
    assert shown.all_text_contents() == ["T-2"]
    page.get_by_label("Only those with a reason").uncheck()
    open_device(page, "T-2")
    page.locator("#f-inlet_temp_f").fill("280")
    page.go_back()
    page.locator("#unit").wait_for(state="hidden")
    page.get_by_label("Only those not read").check()
    assert "T-2" not in shown.all_text_contents()


def test_the_text_to_copy_is_the_file(page: Any) -> None:
    from playwright.sync_api import expect

    open_device(page, "T-1")
    page.locator("#f-inlet_temp_f").fill("280")
    back_to_the_list(page)
    page.get_by_text("Or copy it as text").click()
    # The page's own policy bars the scripts that wait_for_function puts in: asked from outside.
    expect(page.locator("#text")).to_have_value(re.compile("^tag,device,"))
    assert "T-1" in page.locator("#text").input_value()


@pytest.mark.parametrize("width", [320, 390, 1280])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_it_fits_has_big_targets_and_is_accessible(
    browser: Any, path: Path, width: int, scheme: str
) -> None:
    axe = pytest.importorskip("axe_playwright_python.sync_playwright").Axe()
    context = browser.new_context(viewport={"width": width, "height": 844}, color_scheme=scheme)
    page = listening(context)
    page.goto(path.as_uri())
    for step in ("list", "device"):
        if step == "device":
            open_device(page, "T-1")
            page.locator("#f-inlet_temp_f").fill("9999")
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        small = page.evaluate(
            """least => [...document.querySelectorAll(
              'button, input:not([type=checkbox]), textarea, summary, .choices label, .tick')]
              .filter(e => e.offsetParent && !e.closest('.choices label input'))
              .map(e => [e.id || e.textContent, e.getBoundingClientRect()])
              .filter(([, box]) => box.height < least || box.width < least)
              .map(([name]) => name)""",
            LEAST_TARGET_PX,
        )
        assert small == []
        problems = axe.run(page).response["violations"]
        assert [(one["id"], one["nodes"][0]["html"]) for one in problems] == []
    modes = page.evaluate("[...document.querySelectorAll('#fields input[type=text]')]"
                          ".map(e => e.inputMode)")  # fmt: skip
    assert set(modes) == {"decimal"}
    assert page.said == []
    context.close()


def test_the_keyboard_alone_reads_a_device(page: Any) -> None:
    from playwright.sync_api import expect

    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "Skip to the devices"
    page.locator("#devices button").first.focus()
    page.keyboard.press("Enter")
    expect(page.locator("#name")).to_be_focused()
    page.keyboard.press("Tab")
    page.keyboard.type("281")
    progress(page, "1 of 4 read")


def test_the_sheet_to_print_fits_its_pages(browser: Any, path: Path) -> None:
    axe = pytest.importorskip("axe_playwright_python.sync_playwright").Axe()
    page = listening(browser.new_context())
    page.goto(path.with_name("sheet.html").as_uri())
    assert axe.run(page).response["violations"] == []
    page.emulate_media(media="print")
    # Letter, landscape, less its margins, at 96 px to the inch.
    width = round((279.4 - 20) / 25.4 * 96)
    page.set_viewport_size({"width": width, "height": 700})
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert page.said == []
    page.context.close()
