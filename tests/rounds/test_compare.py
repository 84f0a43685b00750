"""Two rounds compared: a case worked by hand, and claims that the readings cannot support."""

from __future__ import annotations

from datetime import date

import pandas as pd
import pytest

from survey import Site, analyze
from survey.errors import UsageError
from survey.findings import Findings
from survey.reports.before_after_words import left_out_words
from survey.rounds.compare import Comparison, compare_findings, compare_rounds
from survey.rounds.known import NOTHING_KNOWN
from survey.rounds.repairs import add_repair
from survey.rounds.savings import claim
from survey.rounds.store import Store
from survey.rounds.uncertain import Figure
from survey.rounds.units import find_unit
from tests.rounds.build import findings, trap

LATER = "2026-01-20T08:00:00"
# 6,000 h at USD 10 per 1000 lb, then 8,000 h at USD 12: by hand, a pound an hour costs 60, then 96.
DEARER = {"klb_per_lb_per_h": 8.0, "cost_per_klb": 12.0, "read_at": LATER}
BEFORE = findings(
    trap("T-1", state="failed_open", loss=(20.0, 10.0, 30.0)),
    trap("T-2"),
    trap("T-3", state="leaking", loss=(5.0, 2.0, 9.0)),
    trap("T-4"),
    trap("T-5", state="leaking", loss=(4.0, 2.0, 7.0)),
    trap("T-6", state="undecided", loss=(3.0, 0.0, 8.0)),
    trap("T-7", state="failed_open", loss=(7.0, 4.0, 10.0)),
    trap("V-1", device="air_vent", state="isolated"),
)
AFTER = findings(
    trap("T-1", **DEARER),
    trap("T-2", **DEARER),
    trap("T-3", state="leaking", loss=(5.0, 2.0, 9.0), **DEARER),
    trap("T-4", state="failed_open", loss=(10.0, 6.0, 14.0), **DEARER),
    trap("T-5", state="failed_open", loss=(9.0, 5.0, 14.0), **DEARER),
    trap("T-6", **DEARER),
    trap("T-8", state="failed_closed", **DEARER),
    trap("V-1", device="air_vent", **DEARER),
)


@pytest.fixture(scope="module")
def compared() -> Comparison:
    return compare_findings(BEFORE, AFTER)


def test_every_unit_has_its_outcome(compared: Comparison) -> None:
    assert {unit.tag: unit.outcome for unit in compared.units} == {
        "T-1": "mended", "T-2": "still_working", "T-3": "still_failing", "T-4": "newly_failed",
        "T-5": "got_worse", "T-6": "undecided", "T-7": "not_read", "T-8": "new", "V-1": "mended",
    }  # fmt: skip
    assert sum(compared.counts.values()) == len(compared.units) == 9


def test_what_is_saved_by_hand(compared: Comparison) -> None:
    # 20 + 0 + (5-5) - 10 + (4-9) lb/h over the units read and decided twice.
    saved = compared.saved
    assert saved.units == 6
    assert saved.steam_lb_per_h.expected == pytest.approx(5.0)
    assert saved.annual_klb.expected == pytest.approx(5.0 * 8)
    assert saved.annual_cost.expected == pytest.approx(5.0 * 96)
    assert saved.annual_co2_t.expected == pytest.approx(5.0 * 8 * 0.068)
    assert saved.as_found_cost.expected == pytest.approx(29 * 60 - 24 * 96)
    assert saved.baseline_cost.expected == pytest.approx(29 * 96)
    assert saved.reporting_cost.expected == pytest.approx(24 * 96)
    assert {k: round(v.expected) for k, v in saved.by_outcome.items()} == {
        "mended": 20 * 96, "got_worse": -5 * 96, "still_failing": 0, "newly_failed": -10 * 96,
        "still_working": 0,
    }  # fmt: skip
    assert saved.undecided_cost.expected == pytest.approx(3 * 96)
    assert saved.not_read_lb_per_h.expected == pytest.approx(7.0)
    assert saved.new_lb_per_h.expected == 0
    assert sum(saved.spread_by_source.values()) == pytest.approx(1.0)


def test_at_the_earlier_rounds_conditions_by_hand() -> None:
    saved = compare_findings(BEFORE, AFTER, at="before").saved
    assert saved.annual_cost.expected == pytest.approx(5.0 * 60)
    assert saved.as_found_cost.expected == pytest.approx(29 * 60 - 24 * 96)


def test_what_was_adjusted_for_adds_up_by_hand(compared: Comparison) -> None:
    adjusted = {one.what: one for one in compared.adjustments}
    assert adjusted["pressure"].cost_a_year == pytest.approx(0.0, abs=1e-6)
    assert (adjusted["hours"].before, adjusted["hours"].after) == pytest.approx((6000.0, 8000.0))
    assert adjusted["hours"].cost_a_year == pytest.approx(29 * 20)  # 2,000 h more at USD 10
    assert adjusted["price"].cost_a_year == pytest.approx(29 * 16)  # USD 2 more on 8,000 h
    as_found = 29 * 60 + sum(one.cost_a_year for one in compared.adjustments)
    assert as_found == pytest.approx(compared.saved.baseline_cost.expected)


def test_a_lower_pressure_is_no_saving() -> None:
    """The same hole at 30 psig passes 0.598 of what it does at 60 psig, by Napier's rule."""
    leaking = {"state": "leaking", "saturation_f": 307.3, "return_saturation_f": 212.0}
    before = findings(trap("T-1", loss=(10.0, 5.0, 16.0), **leaking))
    lower = leaking | {"saturation_f": 274.0}
    after = findings(trap("T-1", loss=(5.98, 3.0, 9.6), read_at=LATER, **lower))
    compared = compare_findings(before, after)
    assert compared.saved.as_found_lb_per_h.expected == pytest.approx(4.02)
    # Napier and the nozzle differ by 2 % between these pressures.
    assert compared.saved.steam_lb_per_h.expected == pytest.approx(0.0, abs=0.02 * 10)
    assert claim(compared.saved.annual_cost) == "cannot_tell"
    assert compared.adjustments[0].cost_a_year < 0


def test_the_same_round_again_saves_nothing_for_sure(sample_findings: Findings) -> None:
    again = Findings(sample_findings.table, sample_findings.rejects, sample_findings.summary)
    saved = compare_findings(sample_findings, again).saved
    assert saved.annual_cost.expected == pytest.approx(0.0, abs=1e-6)
    assert claim(saved.annual_cost) == "cannot_tell"


def test_the_planted_repairs_are_found(
    sample_findings: Findings, sample_after_repair: Findings
) -> None:
    compared = compare_findings(sample_findings, sample_after_repair)
    outcome = {unit.tag: unit.outcome for unit in compared.units}
    mended = ("T-160", "T-017", "T-045", "T-103", "T-112", "T-011", "T-022", "T-039", "V-002")
    assert {outcome[tag] for tag in mended} == {"mended"}
    still = {"T-019", "T-029", "T-036", "T-118", "T-153", "B-042", "V-035"}
    assert {outcome[tag] for tag in still} <= {"still_failing", "got_worse"}
    assert outcome["T-134"] == "newly_failed"
    assert claim(compared.saved.annual_cost) == "saved"
    as_in_summary = sample_findings.summary["annual_cost"]
    assert compared.before.annual_cost == pytest.approx(as_in_summary)


def test_a_range_that_holds_nothing_claims_nothing() -> None:
    assert claim(Figure(100.0, -5.0, 300.0)) == "cannot_tell"
    assert claim(Figure(100.0, 0.0, 300.0)) == "cannot_tell"
    assert claim(Figure(100.0, 5.0, 300.0)) == "saved"
    assert claim(Figure(-100.0, -300.0, -5.0)) == "lost_more"
    assert claim(Figure(0.0, 0.0, 0.0)) == "nothing"


def test_a_loss_that_was_not_estimated_is_kept_out() -> None:
    unknown = trap("V-1", device="air_vent", state="failed_open", loss=float("nan"))
    vent = trap("V-1", device="air_vent", read_at=LATER)
    compared = compare_findings(
        findings(unknown, trap("T-1", state="leaking", loss=5.0)),
        findings(vent, trap("T-1", read_at=LATER)),
    )
    assert compared.saved.steam_lb_per_h.expected == pytest.approx(5.0)
    assert (compared.saved.units, compared.saved.not_estimated) == (1, 1)
    assert compared.of("mended")[0].tag in ("T-1", "V-1")


def test_all_mended_takes_the_price_of_the_other_round() -> None:
    compared = compare_findings(
        findings(trap("T-1", state="failed_open", loss=10.0)),
        findings(trap("T-1", read_at=LATER)),
    )
    assert compared.saved.annual_cost.expected == pytest.approx(600.0)


PASSING = {"state": "failed_open", "loss": (20.0, 10.0, 30.0)}
HEARD = {"sound_db": 48.0, "sound_pattern": "continuous"}


def compared_once(before: dict[str, object], after: dict[str, object]) -> Comparison:
    other = trap("T-2"), trap("T-2", read_at=LATER)
    return compare_findings(
        findings(trap("T-1", **before), other[0]),
        findings(trap("T-1", read_at=LATER, **after), other[1]),
    )


@pytest.mark.parametrize("state", ["failed_open", "leaking", "working", "backed_up"])
@pytest.mark.parametrize("cause", ["unknown", "valved_off"])
def test_steam_that_was_off_saves_nothing(state: str, cause: str) -> None:
    lost = 0.0 if state == "working" else 20.0
    cold = {"state": "cold", "cause": cause}
    compared = compared_once({"state": state, "loss": lost}, cold)
    assert [unit.tag for unit in compared.of("no_steam")] == ["T-1"]
    assert (compared.saved.units, compared.saved.annual_cost.expected) == (1, 0.0)
    if state != "working":
        back = compared_once(cold, {"state": state, "loss": lost})
        assert back.counts["no_steam"] == 1
        assert back.saved.annual_cost.expected == 0.0


def test_cold_twice_still_fails_and_steam_that_came_back_is_mended() -> None:
    cold = {"state": "cold"}
    assert compared_once(cold, cold).counts["still_failing"] == 1
    assert compared_once(cold, {}).counts["mended"] == 1
    assert compared_once({"state": "undecided"}, cold).counts["undecided"] == 1


@pytest.mark.parametrize("state", ["working", "leaking", "failed_closed"])
@pytest.mark.parametrize("heard", [{"sound_db": 48.0}, {"sound_pattern": "continuous"},
                                   {"observed": "steam"}])  # fmt: skip
def test_what_was_not_listened_to_again_saves_nothing(
    heard: dict[str, object], state: str
) -> None:
    lost = 4.0 if state == "leaking" else 0.0
    blank = {"sound_db": float("nan"), "sound_pattern": None, "observed": " "}
    compared = compared_once(PASSING | heard, {"state": state, "loss": lost} | blank)
    assert [unit.tag for unit in compared.of("not_heard")] == ["T-1"]
    assert (compared.saved.units, compared.saved.annual_cost.expected) == (1, 0.0)


@pytest.mark.parametrize("again", [{"sound_db": 12.0}, {"sound_pattern": "quiet"},
                                   {"observed": "nothing"}])  # fmt: skip
def test_what_was_listened_to_or_watched_again_is_mended(again: dict[str, object]) -> None:
    compared = compared_once(PASSING | HEARD, again)
    assert compared.counts["mended"] == 1
    assert compared.saved.steam_lb_per_h.expected == pytest.approx(20.0)


def test_what_lost_more_counts_without_a_sound_and_what_never_had_one_too() -> None:
    worse = compared_once(PASSING | HEARD, {"state": "failed_open", "loss": 25.0})
    assert worse.saved.steam_lb_per_h.expected == pytest.approx(-5.0)
    assert compared_once(PASSING, {}).counts["mended"] == 1
    shut = compared_once({"state": "failed_closed"} | HEARD, {})
    assert shut.counts["mended"] == 1, "a temperature alone shows that it is warm again"


def test_two_moneys_do_not_compare() -> None:
    with pytest.raises(UsageError, match="Found: EUR and USD"):
        compare_findings(BEFORE, findings(trap("T-1"), currency="EUR"))


def test_a_recorded_bore_or_type_that_changed_is_named() -> None:
    after = findings(trap("T-1", orifice_in=0.25, read_at=LATER), trap("T-2", read_at=LATER))
    assert compare_findings(BEFORE, after).refitted == ("T-1",)


def test_in_a_store_units_are_followed_and_repairs_are_put_beside(store: Store) -> None:
    store.add(BEFORE, name="Autumn")
    store.add(AFTER, name="Winter")
    unit = find_unit(store, "T-1")
    add_repair(store, unit.number, on=date(2025, 12, 1), what="new trap", cost=240.0)
    add_repair(store, unit.number, on=date(2026, 3, 1), what="later")
    compared = compare_rounds(store, store.round("Autumn"), store.round("Winter"))
    assert compared.saved.annual_cost.expected == pytest.approx(480.0)
    assert compared.saved.with_repair_noted.expected == pytest.approx(20 * 96)
    mended = next(one for one in compared.of("mended") if one.tag == "T-1")
    assert [one.what for one in mended.repairs] == ["new trap"]
    assert mended.sure == pytest.approx((1 - 0.01) * 0.95)
    with pytest.raises(UsageError, match="Found: Autumn twice"):
        compare_rounds(store, store.round("Autumn"), store.round("1"))


def test_a_device_set_aside_in_both_rounds_is_named_as_left_out() -> None:
    frame = pd.DataFrame({"tag": ["A", "B", "C"], "inlet_temp_f": ["240", "241", "hot"],
                          "outlet_temp_f": 205.0, "supply_psig": 12.0})  # fmt: skip
    found = analyze(frame, site=Site())
    compared = compare_findings(found, found, known=NOTHING_KNOWN)
    assert compared.aside_in_both == ("C",)
    said = left_out_words(compared, show_money=True)
    assert "1 device whose row was set aside in both rounds: left out (C)." in said
    assert not any("no unit is left out" in words for words in said)
