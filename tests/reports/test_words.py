"""Numbers and names as they are shown."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from survey.columns import CAUSES, DEVICES, SERVICES, STATES_BY_DEVICE, TRAP_TYPES
from survey.reports import words


@pytest.mark.parametrize(("value", "said"), [
    (0, "0"), (0.01234, "0.0123"), (9.996, "10.0"), (99.96, "100"), (197.258, "197"),
    (999.6, "1,000"), (12431.2, "12,400"), (1234567.0, "1,230,000"), (-41.26, "-41.3"),
    (math.nan, "not known"), (math.inf, "not known"),
])
def test_figures_keep_three_digits(value: float, said: str) -> None:
    assert words.figure(value) == said


@pytest.mark.parametrize(("figures", "said"), [
    ((12431.2, 9077.0, 15960.0), "USD 12,400 (9,100 to 16,000)"),
    ((570.4, 82.3, 1711.0), "USD 570 (82 to 1,700)"),
    ((4440.0, 4437.0, 4443.0), "USD 4,440 (4,440 to 4,440)"),
    ((1240.0, 1238.0, 1244.0), "USD 1,240 (1,240 to 1,240)"),
    ((0.4, 0.0, 1.6), "USD 0 (0 to 2)"), ((90.21, math.nan, math.nan), "USD 90"),
])
def test_money_has_its_range_and_no_cents(figures: tuple[float, ...], said: str) -> None:
    assert words.money(figures[0], "USD", *figures[1:]) == said


@given(st.floats(1, 1e9), st.floats(0, 1), st.floats(1, 3))
def test_a_range_never_leaves_its_figure_outside(value: float, down: float, up: float) -> None:
    low, high = (float(end.replace(",", "")) for end in words.ends(
        value, value * down, value * up, words.coins))
    assert low <= high
    assert low <= float(words.coins(value).replace(",", "")) * 1.005 + 1


@pytest.mark.parametrize(("share", "said"), [
    (0.0, "0 %"), (0.004, "under 1 %"), (0.501, "50 %"), (0.994, "over 99 %"), (1.0, "100 %"),
    (math.nan, "not known"),
])
def test_shares_never_claim_certainty(share: float, said: str) -> None:
    assert words.percent(share) == said


@pytest.mark.parametrize(("text", "said"), [
    (None, ""), (math.nan, ""), ("  a \n\t b  ", "a b"), ("a\u202eb", "ab"),
    ("x\x1b[31my", "x[31my"),
    ("\ud800ok", "ok"), ("é" + "\u0301" * 9, "é\u0301\u0301"), ("y" * 99, "y" * 59 + "…"),
    ("אב", "אב"), (12, "12"), ("z" * 60, "z" * 60),
])
def test_tidy_text_cannot_disguise_itself(text: object, said: str) -> None:
    assert words.tidy(text) == said


@given(st.text(), st.integers(2, 50))
def test_tidy_text_is_one_short_line_and_stays_as_it_is(text: str, longest: int) -> None:
    line = words.tidy(text, longest)
    assert len(line) <= longest
    assert all(mark.isprintable() for mark in line)
    assert words.tidy(line, longest) == line
    line.encode()


def test_every_name_of_the_nomenclature_has_words_of_its_own() -> None:
    for states in STATES_BY_DEVICE.values():
        for state in (*states, "undecided"):
            assert words.STATES[state]
            assert words.STATE_MEANINGS[state].endswith(".")
    assert set(words.CAUSES) == set(CAUSES)
    assert set(words.DEVICES) == set(DEVICES) == set(words.DEVICE_JOBS)
    assert set(words.TRAP_TYPES) == set(TRAP_TYPES)
    assert set(words.SERVICES) == set(SERVICES)


def test_a_new_name_is_still_readable() -> None:
    assert words.word("steam_too_wet") == "steam too wet"
    assert words.state_words("new_state") == "new state"


def test_cautions_say_what_must_be_said() -> None:
    said = words.CAUTIONS.lower()
    for word in ("steam", "hot metal", "stored pressure", "vacuum", "water hammer", "local codes",
                 "lock-out", "licensed"):
        assert word in said
