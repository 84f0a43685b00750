"""Rates and odds: pooled where a plant is small, its own where it is large."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import pairwise

import numpy as np
import pandas as pd
import pytest

from survey.rounds.reliability import fails_next, reliability
from tests.rounds.invented import FIRST, YEAR, row, walked, weibull_lives


def rate(result, by: str, level: str) -> pd.Series:
    rates = result.rates
    found = rates.loc[(rates["by"] == by) & (rates["level"] == level)]
    assert len(found) == 1
    return found.iloc[0]


def mixed(count: int, years: dict[str, float], looks=(1, 2, 3, 4)):
    """Rounds of several trap types, each with its mean life in years, failing by chance alone."""
    parts = [
        walked(weibull_lives(count, scale_years=mean, shape=1.0, seed=place), looks, trap_type=kind)
        for place, (kind, mean) in enumerate(years.items())
    ]
    joined = []
    for same_day in zip(*parts, strict=False):
        tables = [table.assign(tag=table["tag"] + f"-{i}") for i, (_, table) in enumerate(same_day)]
        joined.append((same_day[0][0], pd.concat(tables, ignore_index=True)))
    return joined


def test_types_are_told_apart_where_there_are_many() -> None:
    result = reliability(mixed(800, {"thermostatic": 20.0, "thermodynamic": 4.0}))
    for kind, mean in (("thermostatic", 20.0), ("thermodynamic", 4.0)):
        found = rate(result, "trap_type", kind)
        assert found["low"] < 100 / mean < found["high"]
        assert found["per_100"] == pytest.approx(100 / mean, rel=0.15)
        assert found["from_rounds"] > 0.9


def test_a_few_of_a_type_stay_near_the_rest() -> None:
    many = mixed(400, {"thermostatic": 20.0})
    few = walked([0.5, 0.6], (1, 2, 3, 4), trap_type="bimetallic")
    both = [
        (day, pd.concat([table, other.assign(tag=other["tag"] + "-b")], ignore_index=True))
        for (day, table), (_, other) in zip(many, few, strict=False)
    ]
    result = reliability(both)
    found, others = (rate(result, "trap_type", k) for k in ("bimetallic", "thermostatic"))
    # Both failed in their first year, 200 per 100 a year by their own count.
    assert others["per_100"] < found["per_100"] < 4 * others["per_100"]
    assert found["high"] / found["low"] > 2 * others["high"] / others["low"]


def test_a_round_without_anything_gives_the_published_rate() -> None:
    table = pd.DataFrame([row(f"T-{i}", p_working=0.5, p_leaking=0.5) for i in range(30)])
    result = reliability([(FIRST, table)])
    share, low, high = result.share_at_4_years
    assert 0.15 < share < 0.30
    assert low < 0.15
    assert high > 0.30
    assert rate(result, "all", "all traps")["from_rounds"] < 0.1


def test_one_round_alone_is_told_to_be_little() -> None:
    lives = weibull_lives(300, scale_years=16, shape=1.2)
    once = walked(lives, [4])
    unknown = [(day, table.assign(installed_at=None)) for day, table in once]
    known, guessed = (reliability(rounds) for rounds in (once, unknown))
    spread = [r["high"] / r["low"] for r in (rate(x, "all", "all traps") for x in (known, guessed))]
    # Not to know how old they are leaves more doubt than to know it.
    assert spread[1] > 1.3 * spread[0]


def test_failures_and_years_are_counted_between_rounds() -> None:
    result = reliability(walked([0.5, 1.5, 9.0, 9.0], [1, 2, 3]))
    found = rate(result, "all", "all traps")
    # One failed before the first look, one between the first and the second.
    assert found["failures"] == pytest.approx(1.0, abs=0.05)
    assert found["years"] == pytest.approx(2 + 2 + 0.5, abs=0.1)


def test_wear_shows_in_the_ages() -> None:
    worn = reliability(walked(weibull_lives(2000, scale_years=6, shape=2.5), [1, 2, 3, 4, 6, 8]))
    ages = worn.rates.loc[worn.rates["by"] == "age", "per_100"].to_numpy()
    assert (np.diff(ages) > 0).all()
    assert worn.shape_low > 2


def test_odds_come_true() -> None:
    lives = weibull_lives(3000, scale_years=9, shape=1.5)
    rounds = walked(lives, [1, 2, 3])
    before = FIRST + timedelta(days=round(4 * YEAR))
    odds = fails_next(reliability(rounds), before=before)
    working = lives > 3
    assert len(odds) == working.sum()
    assert odds["chance"].sum() == pytest.approx(((lives > 3) & (lives <= 4)).sum(), rel=0.15)
    assert (odds["chance_low"] <= odds["chance"]).all()
    assert (odds["chance"] <= odds["chance_high"]).all()


def test_what_has_failed_is_not_waited_for() -> None:
    odds = fails_next(reliability(walked([0.5, 9, 9], [1])), before=date(2022, 1, 1))
    assert sorted(odds["tag"]) == ["T-1", "T-2"]


def test_longer_is_never_less_likely_and_no_time_is_no_chance() -> None:
    result = reliability(walked(weibull_lives(50, scale_years=6, shape=1.3), [1, 2]))
    seen = result.lives.traps["seen"].max()
    chances = [
        fails_next(result, before=seen + timedelta(days=days)).set_index("tag")["chance"]
        for days in (0, 100, 400, 4000)
    ]
    assert (chances[0] == 0).all()
    for sooner, later in pairwise(chances):
        assert (later.loc[sooner.index] > sooner).all()


def test_the_likeliest_come_first_and_more_traps_of_a_bad_type_raise_it() -> None:
    odds = fails_next(
        reliability(mixed(100, {"thermostatic": 20.0, "thermodynamic": 3.0})),
        before=date(2025, 1, 1),
    )
    assert list(odds["chance"]) == sorted(odds["chance"], reverse=True)
    assert odds["trap_type"].iloc[0] == "thermodynamic"


def test_hostile_names_and_missing_kinds_are_no_trouble() -> None:
    table = pd.DataFrame([
        row("=1+1", trap_type=None, service=None, supply_psig=None),
        row("T-2", "leaking", trap_type="<b>", service="\u202eabc"),
    ])  # fmt: skip
    result = reliability([(FIRST, table)])
    assert set(result.rates["by"]) == {"all", "trap_type", "service", "pressure", "age"}
    assert np.isfinite(result.rates["per_100"]).all()
