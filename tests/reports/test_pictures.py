"""Pictures of a round: their words, their twins, and what they draw, against rows counted here."""

from __future__ import annotations

import re
from typing import Any

import pytest

from reports.build import SUMMARY, UNITS, findings, many
from survey.reports import manner
from survey.reports.pictures import (
    MARKS_PER_GROUP,
    Picture,
    calibration_found,
    sound_against_background,
    temperatures_against_saturation,
)
from survey.reports.shares import cause_tree, cost_pareto

HOT = {"subcooling_f": 5.0, "sound_over_background_db": 6.0}
ROUND = [
    UNITS[0] | HOT | {"sound_over_background_db": 22.0},
    UNITS[2] | HOT | {"trap_type": "float_thermostatic", "sound_over_background_db": 2.0},
    UNITS[2] | HOT | {"tag": "T-7", "trap_type": "bimetallic", "subcooling_f": 36.0},
    UNITS[3] | HOT | {"trap_type": "bimetallic", "subcooling_f": 300.0, "state": "cold",
                      "cause": "air_vent"},
    UNITS[4], UNITS[1],
]
TOLD = SUMMARY | {"calibration": [
    {"what": "contact thermometer", "group": "North", "value": 0.97, "low": 0.96, "high": 0.98,
     "unit": "share of saturation", "words": "It read about 3 % low."},
    {"what": "gauge", "group": "South", "value": 8.0, "low": 5.0, "high": 11.0,
     "unit": "psi to add", "words": "The gauge seems to read about 8 psi low."},
]}


def drawn() -> list[Picture]:
    judged = findings(ROUND, TOLD)
    made = [temperatures_against_saturation(judged), sound_against_background(judged),
            calibration_found(judged), cost_pareto(judged), cause_tree(judged)]
    assert all(made)
    return [one for one in made if one]


@pytest.mark.parametrize("at", range(5))
def test_each_has_words_a_table_twin_and_no_colour_alone(at: int) -> None:
    one = drawn()[at]
    assert one.title
    assert one.sentence.endswith(".")
    assert one.rows
    assert {len(row) for row in one.rows} == {len(one.heads)}
    svg = str(one.chart)
    assert f">{one.title}</title>" in svg
    assert "<desc id=" in svg
    assert 'role="img"' in svg
    assert not re.search(r"(?:fill|stroke|style)=\"(?!url\(#)", svg)
    assert not re.search(r"https?:|<script|<image|<foreignObject", svg)
    ids = re.findall(r'id="([^"]+)"', svg)
    assert len(ids) == len(set(ids))
    assert {href[1:] for href in re.findall(r'href="([^"]+)"', svg)} <= set(ids)


def test_temperatures_are_counted_by_type_against_what_is_expected() -> None:
    one = temperatures_against_saturation(findings(ROUND))
    assert one
    # Bimetallic: 35 °F under its steam, spread 15 °F, and 3 % of (331.4 or 307.4 - 70) °F.
    half = 1.2816 * (15.0**2 + (0.03 * ((331.4 + 307.4) / 2 - 70)) ** 2) ** 0.5
    ends = f"{35 - half:.0f} to {35 + half:.0f}"
    assert one.rows == (
        ("Float and thermostatic", one.rows[0][1], "2", "2", "0", "0", "5"),
        ("Bimetallic", ends, "2", "1", "1", "0", "168"),
    )
    assert "Of 4 traps whose inlet and pressure are known, 3 stand" in one.sentence
    assert one.chart.count('href="#bs-w"') == 2 + 1  # two working ones, and the key
    assert one.heads[1] == "Expected, °F under its steam"
    with manner.using(units="si"):
        metric = temperatures_against_saturation(findings(ROUND))
    assert metric
    assert metric.heads[1] == "Expected, °C under its steam"
    assert metric.rows[1][-1] == "93"  # 168 °F of difference


def test_sound_is_by_state_with_its_middle() -> None:
    one = sound_against_background(findings(ROUND))
    assert one
    assert one.rows == (
        ("Working", "2", "4", "2 to 6"), ("Blown open", "1", "22", "22 to 22"),
        ("Cold, no steam reaches it", "1", "6", "6 to 6"),
    )
    assert "working traps stand 4 dB over their background and blown-open ones 22 dB" in \
        one.sentence


def test_what_the_calibration_found_is_drawn_and_told() -> None:
    one = calibration_found(findings(ROUND, TOLD))
    assert one
    assert one.rows == (
        ("Contact thermometer, North", "3.0 %", "2.0 to 4.0 %", "It read about 3 % low."),
        ("Gauge, South", "", "", "The gauge seems to read about 8 psi low."),
    )
    assert calibration_found(findings(ROUND, SUMMARY | {"calibration": []})) is None


def test_the_dearest_devices_carry_their_share() -> None:
    one = cost_pareto(findings())
    assert one
    assert [row[0] for row in one.rows] == ["T-1, Heater 1", "T-3, Ironer", "T-4"]
    assert one.rows[0][1:3] == ("2,430", "1,400 to 3,700")
    whole = 2431.4 + 560.0 + 118.0 + 14.6
    assert one.rows[1][3] == f"{100 * (2431.4 + 560.0) / whole:.0f} %"
    unpriced = cost_pareto(findings(), show_money=False)
    assert unpriced
    assert unpriced.heads[1] == "Steam lost, lb/h"
    assert "USD" not in unpriced.chart


def test_causes_hang_under_their_station_with_their_units() -> None:
    one = cause_tree(findings(ROUND))
    assert one
    assert one.rows == (
        ("North", "The trap itself", "1", "T-1"), ("North", "A closed valve", "1", "V-1"),
        ("South", "An air vent", "1", "T-3"), ("South", "Not known yet", "1", "T-4"),
    )
    assert cause_tree(findings([UNITS[2]])) is None


def test_every_ranked_device_is_counted_once_in_the_tree() -> None:
    judged = many(300)
    one = cause_tree(judged)
    assert one
    assert sum(int(row[2].replace(",", "")) for row in one.rows) == \
        judged.table["rank"].notna().sum()


def test_a_large_round_is_thinned_and_says_so() -> None:
    judged = many(3000)
    judged.table["subcooling_f"] = range(3000)
    one = temperatures_against_saturation(judged)
    assert one
    marks = one.chart.count("<use ") - 2
    assert marks == 2 * MARKS_PER_GROUP
    assert one.sentence.endswith(f"{marks} marks stand for 3,000.")
    assert len(one.chart) < 12_000


@pytest.mark.parametrize("missing", ["subcooling_f", "sound_over_background_db", "trap_type",
                                     "station", "saturation_f", "cause"])
def test_a_column_less_is_no_trouble(missing: str) -> None:
    judged = findings(ROUND)
    made: list[Any] = [temperatures_against_saturation, sound_against_background, cost_pareto,
                       cause_tree]
    less = type(judged)(judged.table.drop(columns=missing), judged.rejects, judged.summary)
    for make in made:
        one = make(less)
        assert one is None or one.rows


def test_nothing_read_draws_nothing() -> None:
    for judged in (findings([]), findings([UNITS[1]])):
        assert temperatures_against_saturation(judged) is None
        assert sound_against_background(judged) is None
        assert cost_pareto(judged) is None
