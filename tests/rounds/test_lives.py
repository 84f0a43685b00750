"""Rounds as lives: what brackets a failure, what ends a life, and how verdicts count."""

from __future__ import annotations

from datetime import date

import numpy as np
import pandas as pd
import pytest

from survey.rounds.lives import AGE_AT_FIRST_LOOK, Lives, lives_of
from tests.rounds.invented import row

AUTUMN, SPRING, NEXT_AUTUMN = date(2025, 11, 1), date(2026, 5, 1), date(2026, 11, 1)
DAYS_TO_SPRING = 181 / 365.25


def rounds(*states: str, days: tuple[date, ...] = (AUTUMN, SPRING, NEXT_AUTUMN), **given: object):
    # Others make the round's share of failures 1 in 2, whatever the trap in question does.
    others = [row("W", "working"), row("F", "failed_open")]
    return [
        (day, pd.DataFrame([row("T-1", state, installed_at="2025-11-01", **given), *others]))
        for day, state in zip(days, states, strict=False)
    ]


def of(lives: Lives, unit: str) -> pd.DataFrame:
    return lives.traps.loc[lives.traps["unit"] == unit]


def bracket(lives: Lives, unit: str) -> tuple[float, float]:
    """The likeliest bracket of a unit's last life."""
    mine = np.flatnonzero(lives.life == of(lives, unit).index[-1])
    best = mine[lives.chance[mine].argmax()]
    return lives.low_years[best], lives.high_years[best]


def test_a_failure_between_two_rounds_is_bracketed_by_them() -> None:
    low, high = bracket(lives_of(rounds("working", "failed_open")), "T-1")
    assert (low, high) == (0.0, pytest.approx(DAYS_TO_SPRING))


def test_what_still_works_has_no_end() -> None:
    low, high = bracket(lives_of(rounds("working", "working")), "T-1")
    assert (low, high) == (pytest.approx(DAYS_TO_SPRING), np.inf)


def test_what_was_failed_at_first_failed_before() -> None:
    lives = lives_of([(AUTUMN, pd.DataFrame([row("T-1", "leaking"), row("W")]))])
    mine = lives.life == of(lives, "T-1").index[0]
    before = mine & (lives.low_years == 0)
    assert lives.chance[before].sum() > 50 * lives.chance[mine & lives.open].sum()
    assert sorted(lives.high_years[before]) == [age for age, _ in AGE_AT_FIRST_LOOK]


def test_a_mended_trap_begins_a_new_life_half_way() -> None:
    lives = lives_of(rounds("working", "failed_open", "working"))
    mine = of(lives, "T-1")
    assert list(mine["latest"]) == [False, True]
    low, high = bracket(lives, "T-1")
    assert high == np.inf
    assert low == pytest.approx(184 / 365.25 / 2, abs=0.01)


def test_a_noted_repair_begins_a_new_life_on_its_day() -> None:
    seen = rounds("working", "working", "working")
    lives = lives_of(seen, repairs={"T-1": [date(2026, 10, 1)]})
    assert len(of(lives, "T-1")) == 2
    assert bracket(lives, "T-1") == (pytest.approx(31 / 365.25), np.inf)


def test_a_repair_after_the_last_round_starts_from_new() -> None:
    lives = lives_of(rounds("working", "failed_open"), repairs={"T-1": [date(2026, 6, 1)]})
    last = of(lives, "T-1").iloc[-1]
    assert (last["seen"], last["latest"]) == (date(2026, 6, 1), True)
    assert bracket(lives, "T-1") == (0.0, np.inf)


def test_another_type_of_trap_is_another_trap() -> None:
    first, second, *_ = rounds("working", "working")
    second[1].loc[0, "trap_type"] = "thermostatic"
    assert len(of(lives_of([first, second]), "T-1")) == 2


def test_a_victim_says_nothing_about_itself() -> None:
    for state in ("cold", "backed_up"):
        lives = lives_of(rounds("working", state))
        mine = np.flatnonzero(lives.life == of(lives, "T-1").index[0])
        # Failed by spring or not: as likely read this way, but for the least doubt of a verdict.
        after = lives.low_years[mine] >= 0
        assert lives.chance[mine][after][-2:].max() < 1.05 * lives.chance[mine][after][-2:].min()


def test_a_doubt_that_all_share_is_not_counted_as_failures() -> None:
    chances = {"p_working": 0.9, "p_leaking": 0.1}
    table = pd.DataFrame([row(f"T-{i}", **chances) for i in range(20)])
    lives = lives_of([(AUTUMN, table)])
    weight = np.array([w for _, w in AGE_AT_FIRST_LOOK])
    each = lives.chance.reshape(20, len(weight), 2)
    assert np.allclose(each[..., 0], each[..., 1])
    assert np.allclose(each[0, :, 0], weight)


def test_order_of_rounds_changes_nothing_and_units_follow_their_number() -> None:
    seen = rounds("working", "failed_open", "working")
    seen[1][1].loc[0, "tag"] = "T-ONE"
    for _, table in seen:
        table["unit"] = ["7", "8", "9"]
    forward, backward = lives_of(seen), lives_of(seen[::-1])
    pd.testing.assert_frame_equal(forward.traps, backward.traps)
    assert np.array_equal(forward.chance, backward.chance)
    assert list(of(forward, "7")["tag"]) == ["T-ONE", "T-1"]


def test_vents_and_rows_without_a_verdict_are_left_out() -> None:
    table = pd.DataFrame([row("V-1", device="air_vent"), row("T-9", p_working=np.nan), row("T-1")])
    assert list(lives_of([(AUTUMN, table)]).traps["unit"]) == ["T-1"]


def test_two_rounds_on_one_day_are_no_time() -> None:
    lives = lives_of(rounds("working", "working", days=(AUTUMN, AUTUMN)))
    assert np.isfinite(lives.low_years).all()
    assert (lives.high_years >= lives.low_years).all()


def test_a_day_of_fitting_that_no_calendar_has_is_not_known() -> None:
    told = [(day, table.assign(installed_at="0000-01-01")) for day, table in rounds("working")]
    untold = [(day, table.drop(columns="installed_at")) for day, table in told]
    pd.testing.assert_frame_equal(lives_of(told).traps, lives_of(untold).traps)
