"""When to survey again: against the closed form, a simulation, and the published intervals."""

from __future__ import annotations

import math
from datetime import date

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from survey.rounds.interval import Effort, best_seasons, intervals, yearly_cost
from survey.rounds.pressure_classes import (
    CLASS_BY_NAME,
    PRESSURE_CLASSES,
    WEEKS_PER_YEAR,
    pressure_class,
)
from survey.rounds.reliability import reliability
from tests.rounds.invented import row

AUTUMN = date(2025, 11, 1)


@pytest.mark.parametrize(
    ("rate", "loss", "traps", "look"),
    [(0.01, 100.0, 100.0, 50.0), (0.02, 5000.0, 300.0, 300.0), (0.005, 800.0, 40.0, 10.0)],
)
def test_a_small_steady_rate_gives_the_closed_form(
    rate: float, loss: float, traps: float, look: float
) -> None:
    closed = math.sqrt(2 * look / (rate * traps * loss))
    assert best_seasons(rate=rate, loss=loss, traps=traps, look=look) == pytest.approx(
        closed, rel=0.005
    )


def test_the_cost_is_what_a_simulated_plant_pays() -> None:
    rate, loss, traps, look, interval, years = 0.3, 700.0, 200, 900.0, 0.5, 400.0
    random = np.random.default_rng(3)
    looks = int(years / interval)
    # Each trap works at each look; if it fails before the next, it loses from then on.
    fails_after = random.exponential(1 / rate, size=(traps, looks))
    lost = np.maximum(interval - fails_after, 0.0).sum() * loss
    paid = (lost + looks * look) / years
    found = yearly_cost(seasons=np.array(interval), rate=rate, loss=loss, traps=traps, look=look)
    assert float(found) == pytest.approx(paid, rel=0.01)


@given(
    rate=st.floats(1e-4, 3.0), loss=st.floats(1.0, 1e5), traps=st.floats(1, 1e4),
    look=st.floats(0.1, 1e5), factor=st.floats(1.05, 20.0),
)  # fmt: skip
def test_dearer_steam_is_looked_after_more_often(
    rate: float, loss: float, traps: float, look: float, factor: float
) -> None:
    usual = best_seasons(rate=rate, loss=loss, traps=traps, look=look)
    assert best_seasons(rate=rate, loss=loss * factor, traps=traps, look=look) <= usual
    assert best_seasons(rate=rate, loss=loss, traps=traps, look=look * factor) >= usual


@given(seasons=st.floats(1e-3, 10.0), rate=st.floats(1e-9, 5.0))
def test_a_trap_is_failed_for_a_share_of_the_time(seasons: float, rate: float) -> None:
    share = float(
        yearly_cost(seasons=np.array(seasons), rate=rate, loss=1.0, traps=1.0, look=0.0)
    )
    assert 0.0 <= share <= min(1.0, rate * seasons / 2) * (1 + 1e-9)


@pytest.mark.parametrize(
    ("psig", "name"),
    [(-5.0, "under 30 psig"), (29.9, "under 30 psig"), (30.0, "30 to 150 psig"),
     (149.9, "30 to 150 psig"), (150.0, "150 psig and over"), (None, "")],
)  # fmt: skip
def test_pressure_classes(psig: float | None, name: str) -> None:
    assert list(pressure_class(pd.DataFrame([{"supply_psig": psig}]))) == [name]


def test_a_pressure_that_was_not_read_is_taken_from_its_saturation() -> None:
    # 338.7 °F is the saturation temperature at about 100 psig.
    table = pd.DataFrame([{"supply_psig": None, "saturation_f": 338.0}])
    assert list(pressure_class(table)) == ["30 to 150 psig"]


def test_the_published_intervals() -> None:
    """US DOE AMO Steam Tip Sheet 1: weekly to monthly, monthly to quarterly, yearly."""
    weeks = {one.name: (one.shortest_weeks, one.longest_weeks) for one in PRESSURE_CLASSES}
    month = WEEKS_PER_YEAR / 12
    assert weeks["150 psig and over"] == pytest.approx((1.0, month))
    assert weeks["30 to 150 psig"] == pytest.approx((month, 3 * month))
    assert weeks["under 30 psig"] == pytest.approx((12 * month, 12 * month))


def plant(count: int = 60, *, cost: float = 2000.0, psig: float = 100.0, hours: float = 8766.0):
    rows = [
        row(f"T-{i}", "failed_open" if i % 6 == 0 else "working", supply_psig=psig,
            annual_cost=cost if i % 6 == 0 else 0.0, hours_per_year=hours)
        for i in range(count)
    ]  # fmt: skip
    return pd.DataFrame(rows)


def found_for(table: pd.DataFrame, **effort: float):
    result = reliability([(AUTUMN, table)])
    return intervals(table, result, hours_per_year=5000.0, effort=Effort(**effort))


def test_a_plant_gets_one_interval_for_each_class_it_has() -> None:
    low = plant(psig=15.0)
    low["tag"] = low["tag"] + "-low"
    found = found_for(pd.concat([plant(psig=200.0), low], ignore_index=True))
    assert [one.pressure.name for one in found] == ["150 psig and over", "under 30 psig"]
    assert [one.traps for one in found] == [60, 60]


def test_the_best_is_the_least_and_near_it_is_within_a_tenth() -> None:
    (one,) = found_for(plant())
    look = 12.0 * one.traps
    given_to = {"rate": one.rate, "loss": one.loss, "traps": one.traps, "look": look}
    for weeks, most in ((one.flat_low, 1.1), (one.flat_high, 1.1), (one.weeks, 1.0)):
        cost = float(yearly_cost(seasons=np.array(weeks / one.season_weeks), **given_to))
        assert cost == pytest.approx(most * one.cost, rel=0.003)
    assert one.flat_low < one.weeks < one.flat_high
    assert one.weeks_low < one.weeks < one.weeks_high
    assert one.cost <= min(one.cost_yearly, one.cost_published_short, one.cost_published_long)
    assert one.worth >= 0


def test_a_loss_that_was_found_is_the_loss_that_is_reckoned_with() -> None:
    (one,) = found_for(plant(600, cost=2000.0))
    assert one.loss == pytest.approx(2000.0, rel=0.03)


def test_a_class_of_few_borrows_the_loss_of_the_others_by_pressure() -> None:
    few = plant(6, psig=15.0)
    few["p_failed_open"], few["p_working"], few["annual_cost"] = 0.001, 0.999, 0.0
    few["tag"] = few["tag"] + "-low"
    found = found_for(pd.concat([plant(600, psig=100.0), few], ignore_index=True))
    by_class = {one.pressure.name: one for one in found}
    expected = by_class["30 to 150 psig"].loss * (15.0 + 14.7) / (100.0 + 14.7)
    assert by_class["under 30 psig"].loss == pytest.approx(expected, rel=0.05)


def test_half_a_year_of_steam_holds_as_many_looks_in_half_the_weeks() -> None:
    """Nothing fails, leaks or can be read in summer: looks per season stay what they were."""
    (whole,), (half,) = found_for(plant()), found_for(plant(hours=8766.0 / 2))
    assert half.season_weeks == pytest.approx(whole.season_weeks / 2)
    looks = whole.season_weeks / whole.weeks
    assert half.season_weeks / half.weeks == pytest.approx(looks, rel=1e-6)
    assert half.weeks == pytest.approx(whole.weeks / 2, rel=1e-6)


def test_dearer_looking_is_done_less_often() -> None:
    (cheap,), (dear,) = found_for(plant()), found_for(plant(), per_trap=48.0)
    assert dear.weeks == pytest.approx(2 * cheap.weeks, rel=0.06)
    (visit,) = found_for(plant(), per_trap=12.0, per_visit=3 * 12.0 * 60)
    assert visit.weeks == pytest.approx(dear.weeks, rel=1e-9)


def test_a_plant_without_pressures_or_losses_is_no_trouble() -> None:
    nothing = plant(psig=None)  # type: ignore[arg-type]
    assert found_for(nothing) == []
    (one,) = found_for(plant(cost=0.0))
    assert math.isfinite(one.weeks)
    assert one.pressure == CLASS_BY_NAME["30 to 150 psig"]
