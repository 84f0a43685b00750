"""The whole job in a real browser: a messy sheet in, a work list, a link opened and ended."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import openpyxl
import pandas as pd
import pytest

from survey import Findings, analyze
from survey.reports import tables
from survey.reports import words as said

from .browsing import ARTEFACTS, WALKS, Technician, screens  # noqa: F401  fixtures
from .conftest import SAMPLE

pytestmark = pytest.mark.browser
MESSY = SAMPLE / "nursery_messy.xlsx"


@pytest.fixture(scope="module")
def messy() -> Findings:
    return analyze(MESSY)


@pytest.mark.parametrize(("width", "schemes"), WALKS, ids=lambda given: str(given))
def test_from_a_messy_sheet_to_a_link_that_opens_and_ends(
    browser: Any,
    screens: str,  # noqa: F811
    messy: Findings,
    tmp_path: Path,
    width: int,
    schemes: tuple[str, ...],
) -> None:
    person = Technician(browser, screens, width, *schemes)
    person.sees("survey")
    person.checks("01_start")
    for words in ("Site settings: altitude, fuel price, hours", "Units and numbers"):
        person.page.get_by_text(words).click()
        person.settles()
    person.page.get_by_text("Fuel price for each million Btu").wait_for()
    person.checks("01_start_unfolded")
    judged_from_the_sheet(person, messy)
    worst = worst_on_a_work_list(person, messy, tmp_path)
    assert person.page.get_by_role("combobox").first.input_value() == worst
    person.checks("05_unit")
    papers_open_again(person, messy, tmp_path)
    a_link_made_opened_and_ended(browser, person)
    a_reload_loses_nothing(person)
    every_picture_of_the_sample(person)
    rounds_kept(person)
    assert person.complaints == []
    person.context.close()


def judged_from_the_sheet(person: Technician, messy: Findings) -> None:
    person.give(MESSY)
    person.sees("How your file was read")
    person.reads("Steam pressure [bar g]")
    person.reads("supply, bar gauge")
    person.page.get_by_text("Correct another header").click()
    person.chooses("Header", "Fitter's job")
    person.chooses("This column holds", "note")
    person.reads("note (as you set it)")
    person.checks("02_headers")
    person.press("Judge the round")
    person.sees("Overview")
    person.reads(f"{messy.summary['rows_set_aside']} set aside")
    person.checks("03_overview")


def worst_on_a_work_list(person: Technician, messy: Findings, folder: Path) -> str:
    """Filter the list, put the dearest unit on the work list, take it along, open its page."""
    person.go("Ranking", "What to mend first")
    dearest = tables.worst(messy, 1).iloc[0]
    worst, state = str(dearest["tag"]), str(dearest["state"])
    person.page.get_by_text("Filter by place, device, state, cause or type").click()
    person.chooses("State", said.word(state))
    person.page.keyboard.press("Escape")
    here = messy.table[(messy.table["state"] == state) & messy.table["rank"].notna()]
    person.reads(f"{len(here)} of {len(messy.table)} devices shown.")
    person.page.get_by_text("Filter by place, device, state, cause or type").click()
    if person.width < 640:
        person.press(f"{worst} to my list")
    else:
        person.cell(worst).wait_for(state="attached")
        box = person.stands('[data-testid="stDataFrame"]')  # the filters fold up first
        person.page.mouse.move(box["x"] + 300, box["y"] + 44)
        person.page.wait_for_timeout(300)  # a hand takes longer, and the table looks where it is
        person.page.mouse.click(box["x"] + 300, box["y"] + 44 + 22)  # anywhere on its row
        person.settles()
        person.page.get_by_role("button", name=f"Open {worst}", exact=True).wait_for()
        person.page.mouse.click(box["x"] + 20, box["y"] + 44 + 22)
        person.settles()
    person.reads("1 unit ticked")
    person.checks("04_ranking")
    sheet = openpyxl.load_workbook(person.takes("Work list, Excel", folder)).active
    assert worst in [str(cell.value) for row in sheet.iter_rows() for cell in row]
    listed = pd.read_csv(person.takes("Work list, CSV", folder))
    assert worst in [*listed["Unit"], *listed["Explains"]]
    page = person.takes("Work list to print", folder).read_text(encoding="utf-8")
    assert worst in page
    assert "lock-out" in page
    person.press(f"Open {worst}, ticked last")
    person.sees("One unit")
    return worst


def papers_open_again(person: Technician, messy: Findings, folder: Path) -> None:
    person.go("Ranking", "What to mend first")
    pdf = person.takes("Report, PDF", folder).read_bytes()
    assert pdf.startswith(b"%PDF-")
    assert b"%%EOF" in pdf[-1024:]
    book = openpyxl.load_workbook(person.takes("Report, Excel", folder))
    assert not any(cell.data_type == "f" for sheet in book for row in sheet for cell in row)
    person.page.get_by_text("As a table for other programs").click()
    back = Findings.load(person.takes("Findings, Excel", folder))
    assert sorted(back.table["tag"]) == sorted(messy.table["tag"])


def every_picture_of_the_sample(person: Technician) -> None:
    person.go("Start", "survey")
    person.press("Try the sample round")
    person.sees("Overview")
    person.go("Ranking", "What to mend first")
    for view in ("Cost of each", "Cost added up"):
        drawn(person, view, f"08_{view.lower().replace(' ', '_')}")
    person.go("Charts", "The round in pictures")
    for view in ("Heat", "Sound", "Causes", "Instruments"):
        drawn(person, view, f"09_{view.lower()}")
    person.go("Plant", "The plant, upstream first")
    person.reads("Bringing the pressure down")
    person.checks("10_plant")


def drawn(person: Technician, view: str, name: str) -> None:
    person.page.get_by_role("radio", name=view).click()
    person.settles()
    person.page.locator(".drawn svg.chart").first.wait_for()
    person.checks(name)


def rounds_kept(person: Technician) -> None:
    person.go("Rounds", "Rounds over time")
    person.page.get_by_label("A name for this round").fill("First look")
    person.press("Keep this round")
    person.reads("This round is kept.")
    person.checks("11_rounds")
    person.go("Next round", "The next round")
    person.page.get_by_role("button", name="Route for the phone").wait_for()
    person.checks("12_next_round")


def a_link_made_opened_and_ended(browser: Any, person: Technician) -> None:
    person.go("Owner's link", "Owner's link")
    person.press("Make the link")
    link = person.page.get_by_test_id("stCode").inner_text().strip()
    person.checks("06_link")
    for scheme in person.schemes:
        assert opened(browser, link, person.width, scheme) == (200, True)
    person.press("End a link")
    person.press("End it now")
    person.page.locator("td", has_text="ended").wait_for()
    for scheme in person.schemes:
        assert opened(browser, link, person.width, scheme) == (404, False)


def opened(browser: Any, link: str, width: int, scheme: str) -> tuple[int, bool]:
    """Open a link as an owner would, in a browser that knows nothing else."""
    context = browser.new_context(
        viewport={"width": width, "height": 844},
        color_scheme=scheme,
        java_script_enabled=False,
    )
    page = context.new_page()
    answer = page.goto(link)
    shows = "Nothing here" not in page.content()
    if ARTEFACTS and answer.ok:
        page.screenshot(path=Path(ARTEFACTS) / f"07_owner_{width}_{scheme}.png")
    context.close()
    return answer.status, shows


def a_reload_loses_nothing(person: Technician) -> None:
    """Reload on a page, open the round again there; the same headers are not asked about twice."""
    person.go("Overview", "Overview")
    person.page.reload()
    person.sees("Overview")
    person.press("Open the last round")
    person.reads("What the instruments were found to do")
    person.go("Start", "survey")
    person.press("Close this round")
    person.give(MESSY)
    person.sees("Overview")
