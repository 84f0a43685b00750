"""The paper and the block of two rounds: what is claimed, what is named, and no text that acts."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from survey.physics.saturation import saturation_f
from survey.reports import manner
from survey.reports.before_after import (
    before_after_block,
    before_after_html,
    before_after_text,
)
from survey.reports.before_after_words import claim_words
from survey.rounds.compare import compare_findings
from survey.rounds.uncertain import Figure
from tests.rounds.build import findings, trap
from tests.rounds.test_compare import AFTER, BEFORE

HOSTILE = '<script>alert(1)</script>"\'{{7*7}}\u202e'


def said_of(annual_cost: Figure, **given) -> str:
    compared = compare_findings(BEFORE, AFTER)
    saved = replace(compared.saved, annual_cost=annual_cost, **given)
    return claim_words(replace(compared, saved=saved), show_money=True)


def test_a_saving_is_claimed_only_where_the_range_is_over_nothing() -> None:
    steam = Figure(20.0, 10.0, 30.0)
    claimed = said_of(Figure(1200.0, 600.0, 1800.0), steam_lb_per_h=steam)
    assert claimed == (
        "Saved: USD 1,200 (600 to 1,800) a year by 6 units read and decided in both rounds."
    )
    doubtful = said_of(Figure(1200.0, -50.0, 1800.0), steam_lb_per_h=steam)
    assert doubtful == (
        "These readings do not show a saving. The expected difference, over 6 units read and "
        "decided in both rounds, is USD 1,200 a year, but it may be anything from USD 50 a year "
        "lost more to USD 1,800 a year saved (10 % to 90 % range)."
    )
    assert "Saved" not in doubtful


def test_money_alone_claims_nothing_that_the_steam_does_not() -> None:
    claimed = said_of(Figure(1200.0, 600.0, 1800.0), steam_lb_per_h=Figure(1.0, -3.0, 5.0))
    assert claimed.startswith("These readings do not show a saving.")


def test_more_lost_is_said_as_that() -> None:
    worse = Figure(-1200.0, -1800.0, -600.0)
    assert said_of(worse, steam_lb_per_h=Figure(-20.0, -30.0, -10.0)) == (
        "More is lost than before: USD 1,200 (600 to 1,800) a year by 6 units read and decided "
        "in both rounds."
    )


def test_no_unit_in_common_is_said() -> None:
    compared = compare_findings(BEFORE, findings(trap("Z-1", read_at="2026-01-20")))
    assert claim_words(compared, show_money=True) == (
        "No unit was read and decided in both rounds, so no saving can be told."
    )
    assert "not read this time" in before_after_text(compared)


def test_the_paper_has_all_that_an_engineer_looks_for() -> None:
    text = " ".join(before_after_text(compare_findings(BEFORE, AFTER)).split())
    for words in (
        "Baseline: before, read 4 November 2025, 8 devices.",
        "Reporting period: after, read 20 January 2026, 8 devices.",
        "Saved = baseline + adjustments - reporting period",
        "Steam pressure: the same in both rounds",
        "Hours under steam: 6,000 before, 8,000 after (h a year, middle unit; known for 6 units); "
        "+USD 580 a year on the baseline.",
        "Price of steam: 10.0 before, 12.0 after",
        "1 unit undecided in either round: left out",
        "1 unit not read this time: left out; 7.00 lb/h (",
        "1 unit new this time: left out",
        "option A (retrofit isolation, key parameter measured)",
        "from memory",
        "discharge coefficient",
        "Not in the range:",
    ):
        assert words in text, words
    for tag in ("T-1", "T-3", "T-4", "T-5", "T-6", "T-7", "T-8", "V-1"):
        assert re.search(rf"- {tag}\b", text), tag


def test_what_shows_nothing_is_named_and_counted() -> None:
    heard = {"sound_db": 48.0, "state": "failed_open", "loss": 20.0}
    later = {"read_at": "2026-06-20"}
    compared = compare_findings(
        findings(trap("T-1", **heard), trap("T-2", **heard), trap("T-3")),
        findings(trap("T-1", state="cold", **later), trap("T-2", **later), trap("T-3", **later)),
    )
    text = " ".join(before_after_text(compared).split())
    for words in (
        "1 no steam on it, so nothing is shown, 1 not listened to again, so not shown to be mended",
        "No steam on it, so nothing is shown (1) - T-1",
        "Not listened to again, so not shown to be mended (1) - T-2",
        "1 unit with no steam on it in one of the rounds, so nothing is shown",
        "1 unit found passing by sound or by what was seen, and neither listened to nor watched",
    ):
        assert words in text, words
    assert "Saved: " not in text


def test_without_money_there_is_none_anywhere() -> None:
    compared = compare_findings(BEFORE, AFTER)
    for made in (before_after_text, before_after_html, before_after_block):
        assert "USD" not in made(compared, show_money=False)


@pytest.mark.parametrize("made", [before_after_html, before_after_block])
def test_text_of_a_round_never_acts(made) -> None:
    given = {"equipment": HOSTILE, "area": HOSTILE}
    before = findings(trap(HOSTILE, state="failed_open", loss=9.0, **given), site_name=HOSTILE)
    after = findings(trap(HOSTILE, read_at="2026-01-20", **given), site_name=HOSTILE)
    page = made(compare_findings(before, after))
    assert "<script>alert" not in page
    assert "&lt;script&gt;" in page
    assert "\u202e" not in page


def test_the_block_is_a_section_with_its_own_heading() -> None:
    block = before_after_block(compare_findings(BEFORE, AFTER))
    assert block.startswith('<section class="before-after">')
    assert "<h2>Before and after: 4 November 2025 and 20 January 2026</h2>" in block
    assert "<script" not in block
    assert " style=" not in block


def pressures(*gauges_psig: float | None, air_psia: float = 14.696) -> str:
    """Return what is said of the pressure of two rounds whose gauges showed these."""
    rounds = []
    for psig, day in zip(gauges_psig, ("2025-11-04", "2026-01-20"), strict=True):
        absolute = 40.0 if psig is None else psig + air_psia
        row = trap("T-1", state="leaking", loss=5.0, read_at=f"{day}T08:00:00", supply_psig=psig,
                   saturation_f=float(saturation_f(pressure_psia=absolute)))  # fmt: skip
        rounds.append(findings(row))
    text = " ".join(before_after_text(compare_findings(*rounds)).split())
    return text[text.index("Steam pressure:"):].partition(" - Hours")[0]


@pytest.mark.parametrize("air_psia", [14.696, 12.228])
def test_pressures_are_said_as_gauges_show_them(air_psia: float) -> None:
    # 12.228 psia: a site 5,000 ft up, which findings do not say.
    said = pressures(15.0, 12.0, air_psia=air_psia)
    assert said.startswith("Steam pressure: 15.0 before, 12.0 after (psig, middle unit;")
    assert "absolute" not in said
    with manner.using(units="si"):
        said = pressures(15.0, 12.0, air_psia=air_psia)
    assert said.startswith("Steam pressure: 1.03 before, 0.827 after (bar gauge, middle unit;")


def test_the_same_pressure_is_said_as_a_gauge_shows_it() -> None:
    assert "the same in both rounds (15.0 psig, middle unit)" in pressures(15.0, 15.0)


def test_where_no_gauge_was_read_the_pressure_stays_absolute() -> None:
    assert "the same in both rounds (40.0 psi absolute, middle unit)" in pressures(None, None)
