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
from survey.reports.before_after_claim_words import claim_words
from survey.rounds.compare import compare_findings
from survey.rounds.known import Known
from survey.rounds.uncertain import Figure
from tests.rounds.build import findings, trap
from tests.rounds.test_compare import AFTER, BEFORE

HOSTILE = '<script>alert(1)</script>"\'{{7*7}}\u202e'


COST = {
    "saved": Figure(1200.0, 600.0, 1800.0), "cannot_tell": Figure(100.0, -50.0, 1800.0),
    "lost_more": Figure(-1200.0, -1800.0, -600.0), "nothing": Figure(0.0, 0.0, 0.0),
}  # fmt: skip
STEAM = {
    "saved": Figure(20.0, 10.0, 30.0), "cannot_tell": Figure(1.0, -3.0, 5.0),
    "lost_more": Figure(-20.0, -30.0, -10.0), "nothing": Figure(0.0, 0.0, 0.0),
}  # fmt: skip


def said_of(mended: str, rest: str, whole: str, *, show_money: bool = True, **given) -> list[str]:
    """Return the claim for two units mended and four others, each part as the word says."""
    compared = compare_findings(BEFORE, AFTER)
    saved = replace(
        compared.saved,
        by_outcome=compared.saved.by_outcome | {"mended": COST[mended]},
        mended_lb_per_h=STEAM[mended], rest_lb_per_h=STEAM[rest], rest_cost=COST[rest],
        steam_lb_per_h=STEAM[whole], annual_cost=COST[whole],
    )  # fmt: skip
    return claim_words(replace(compared, saved=replace(saved, **given)), show_money=show_money)


def test_what_was_mended_is_said_first_and_all_together_last() -> None:
    assert said_of("saved", "cannot_tell", "cannot_tell") == [
        "Mended: 2 units, saving USD 1,200 (600 to 1,800) a year.",
        "The other 4 units show no sure change: USD 100 a year saved, but it may be anything from "
        "USD 50 a year lost more to USD 1,800 a year saved. All together, these readings do not "
        "show a saving. The expected difference, over 6 units read and decided in both rounds, is "
        "USD 100 a year, but it may be anything from USD 50 a year lost more to USD 1,800 a year "
        "saved (10 % to 90 % range).",
    ]
    assert said_of("saved", "lost_more", "saved")[1] == (
        "The other 4 units lose more than before: USD 1,200 (600 to 1,800) a year. All together, "
        "saved: USD 1,200 (600 to 1,800) a year by 6 units read and decided in both rounds."
    )
    assert said_of("saved", "saved", "lost_more")[1] == (
        "The other 4 units lose less than before: USD 1,200 (600 to 1,800) a year. All together, "
        "more is lost than before: USD 1,200 (600 to 1,800) a year by 6 units read and decided in "
        "both rounds."
    )


@pytest.mark.parametrize(("kind", "said"), [
    ("cannot_tell", "Mended: 2 units, but no saving by that is shown: USD 100 a year saved, but "
     "it may be anything from USD 50 a year lost more to USD 1,800 a year saved."),
    ("lost_more", "Mended: 2 units, losing USD 1,200 (600 to 1,800) a year more than before."),
    ("nothing", "Mended: 2 units, with no steam lost before or after."),
])  # fmt: skip
def test_mended_units_claim_no_more_than_their_own_range(kind: str, said: str) -> None:
    first = said_of(kind, "saved", "saved")[0]
    assert first == said
    assert "saving USD" not in first


@pytest.mark.parametrize("part", [0, 1, 2])
def test_money_alone_claims_nothing_that_the_steam_does_not(part: int) -> None:
    doubtful = ("mended_lb_per_h", "rest_lb_per_h", "steam_lb_per_h")[part]
    said = " ".join(said_of("saved", "saved", "saved", **{doubtful: STEAM["cannot_tell"]}))
    sure = ("saving USD 1,200", "lose less than before: USD 1,200", "All together, saved: USD")
    for at, words in enumerate(sure):
        assert (words in said) == (at != part), words


def test_the_three_parts_are_those_of_the_rounds() -> None:
    compared = compare_findings(BEFORE, AFTER)
    saved = compared.saved
    assert (saved.units, saved.mended_units) == (6, 2)
    assert saved.mended_lb_per_h.expected == pytest.approx(20.0)
    assert saved.rest_lb_per_h.expected == pytest.approx(-15.0)
    assert saved.by_outcome["mended"].expected == pytest.approx(20 * 96)
    assert saved.rest_cost.expected == pytest.approx(-15 * 96)
    said = claim_words(compared, show_money=True)
    assert said[0].startswith("Mended: 2 units, saving USD 1,920 (")
    assert said[1].startswith("The other 4 units lose more than before: USD 1,440 (")
    assert "do not show a saving" in said[1]
    text = " ".join(before_after_text(compared).split())
    assert " ".join(said) in text


def test_where_none_or_all_were_mended_nothing_is_said_twice() -> None:
    later = {"read_at": "2026-01-20"}
    leak = {"state": "failed_open", "loss": 9.0}
    alone = compare_findings(findings(trap("T-1", **leak)), findings(trap("T-1", **later)))
    assert [line.partition(" (")[0] for line in claim_words(alone, show_money=True)] == [
        "Mended: 1 unit, saving USD 540"
    ]
    none = compare_findings(findings(trap("T-1")), findings(trap("T-1", **later)))
    assert claim_words(none, show_money=True) == [
        "No unit was mended.",
        "All together, nothing is lost, before or after, by 1 unit read and decided in both "
        "rounds.",
    ]


def test_no_unit_in_common_is_said() -> None:
    compared = compare_findings(BEFORE, findings(trap("Z-1", read_at="2026-01-20")))
    assert claim_words(compared, show_money=True) == [
        "No unit was read and decided in both rounds, so no saving can be told."
    ]
    assert "not read this time" in before_after_text(compared)


def test_the_paper_has_all_that_an_engineer_looks_for() -> None:
    text = " ".join(before_after_text(compare_findings(BEFORE, AFTER)).split())
    for words in (
        "Baseline: read 4 November 2025, 8 devices.",
        "Reporting period: read 20 January 2026, 8 devices.",
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
    assert "aving USD" not in text
    assert "saved: USD" not in text


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


def test_what_still_fails_stands_in_a_table_with_what_to_do() -> None:
    leak = {"state": "leaking", "loss": 5.0, "action": "Replace the trap; note its type and bore."}
    compared = compare_findings(
        findings(trap("T-1", **leak), trap("T-2", state="failed_open", loss=20.0),
                 trap("T-3", **leak | {"loss": 3.0})),
        findings(trap("T-1", **leak, read_at="2026-01-20"), trap("T-2", read_at="2026-01-20"),
                 trap("T-3", **leak | {"loss": 2.0}, read_at="2026-01-20")),
    )  # fmt: skip
    block = before_after_block(compared)
    table = block.partition("Still failing (2)")[2].partition("</table>")[0]
    assert table.index("T-1") < table.index("T-3"), "the dearest first, not what changed most"
    for cell in ("<bdi>T-1</bdi>", "Glasshouse A, UH-T-1", ">leaking steam<", ">USD 300<",
                 ">5.0 lb/h<", ">Replace the trap; note its type and bore.<"):  # fmt: skip
        assert cell in table, cell
    bare = before_after_block(compared, show_money=False)
    assert "cost a year" not in bare
    assert "Replace the trap" in bare


@pytest.mark.parametrize("read_at", [None, "soon"])
def test_rounds_that_do_not_say_when_they_were_read_go_by_their_names(read_at) -> None:
    undated = [
        findings(trap("T-1", read_at=read_at), made_at="2026-11-26T10:00:00") for _ in range(2)
    ]
    named = compare_findings(*undated, known=Known(files=("autumn", "february")))
    assert "<h2>Before and after: autumn and february</h2>" in before_after_block(named)
    assert "<h2>Before and after: autumn</h2>" in before_after_block(
        compare_findings(*undated, known=Known(files=("autumn", "autumn")))
    )
    nameless = before_after_block(compare_findings(*undated))
    assert "<h2>Before and after</h2>" in nameless
    for block in (nameless, before_after_text(named)):
        assert "2026" not in block
        assert "not noted" in block
    dated = compare_findings(BEFORE, AFTER, known=Known(files=("autumn", "february")))
    assert "autumn" not in before_after_text(dated)
