"""What tells of areas left out is found among the names of a large round, fast and whole."""

from __future__ import annotations

import re
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from survey import Findings, Site, analyze
from survey.reports import narrowing
from survey.reports.narrowing import _folded, narrowed
from survey.reports.page import render_page

SAMPLE = Path(__file__).parents[2] / "sample_data"


@pytest.fixture(scope="module")
def findings() -> Findings:
    return analyze(SAMPLE / "nursery_round.csv", site=Site())


def _cased() -> str:
    letters = (chr(code) for code in range(sys.maxunicode + 1) if not 0xD800 <= code < 0xE000)
    return "".join(
        letter for letter in letters
        if {letter.lower(), letter.upper(), letter.title(), letter.casefold()} != {letter}
    )  # fmt: skip


def test_folding_tells_no_two_letters_apart_that_a_pattern_takes_for_one() -> None:
    letters = _cased()
    assert len(letters) > 2000
    for letter in letters:
        taken = re.findall(re.escape(letter), letters, re.IGNORECASE)
        assert {_folded(each) for each in taken} == {_folded(letter)}


@pytest.mark.parametrize("written", ["Potting Shed", "POTTING SHED", "pottıng shed"])
def test_words_that_name_what_is_left_out_are_dropped_however_written(
    findings: Findings, written: str
) -> None:
    table = findings.table.copy()
    table["area"] = table["area"].astype(object)
    elsewhere = table.index[table["area"] != "Laundry"][0]
    table.loc[elsewhere, "area"] = "Potting shed"
    told = ["Steam costs what it costs.", f"The air of {written} is 70 °F."]
    changed = replace(findings, table=table, summary={**findings.summary, "assumptions": told})
    assert narrowed(changed, ["Laundry"]).summary["assumptions"] == told[:1]


def test_only_names_that_may_be_in_the_words_become_a_pattern(
    findings: Findings, monkeypatch: pytest.MonkeyPatch
) -> None:
    patterns: list[set[str]] = []
    naming = narrowing._naming

    def kept(names: set[str]) -> re.Pattern[str]:
        patterns.append(names)
        return naming(names)

    monkeypatch.setattr(narrowing, "_naming", kept)
    told = {**findings.summary, "assumptions": ["T-001 was read twice."], "calibration": []}
    area = findings.table.set_index("tag")["area"]["T-001"]
    other = next(each for each in findings.table["area"].unique() if each != area)
    narrowed(replace(findings, summary=told), [other])
    assert patterns == [{"T-001"}]


def test_a_vent_without_an_area_goes_with_the_heater_that_it_names(findings: Findings) -> None:
    table = findings.table.copy()
    for name in ("area", "equipment"):
        table[name] = table[name].astype(object)
    vents = (table["device"] == "air_vent") & (table["area"] == "Laundry")
    table.loc[table["device"] == "air_vent", "area"] = None
    kept = narrowed(replace(findings, table=table), ["Laundry"])
    found = kept.table[kept.table["device"] == "air_vent"]
    assert vents.any()
    assert set(found["tag"]) == set(table["tag"][vents])
    assert kept.summary["rows_judged"] == len(kept.table)


def test_the_page_says_which_part_of_the_round_it_shows(findings: Findings) -> None:
    page = render_page(findings, areas=["Laundry"])
    assert "This page shows a part of the round: Laundry." in page
    assert "This page shows a part" not in render_page(findings)


def test_a_station_of_the_site_that_no_row_names_is_named_on_no_page_of_some_areas(
    findings: Findings,
) -> None:
    site = Site(stations={"Secret": {"supply_psig": 99.0}})
    frame = findings.table[["tag", "area", "device", "inlet_temp_f", "outlet_temp_f"]]
    told = analyze(frame, site=site)
    assert "The site's pressures of Secret are not used: no row names that station." in (
        told.summary["assumptions"]
    )
    assert "Secret" not in render_page(told, areas=["Laundry"])
