"""The tests of chance: published worked values, and what must hold under no effect."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from survey.plant.exact import chance_of_as_many, chance_of_as_many_at_rate, holm

CHANCES = st.lists(st.floats(0.0, 1.0), min_size=1, max_size=40)


def test_the_lady_tasting_tea() -> None:
    # Fisher, The Design of Experiments, 1935: all four right of eight cups, 1 in 70; three, 17/70.
    assert chance_of_as_many(bad=4, group=4, all_bad=4, everyone=8) == pytest.approx(1 / 70)
    assert chance_of_as_many(bad=3, group=4, all_bad=4, everyone=8) == pytest.approx(17 / 70)


@given(st.data())
def test_as_another_library_has_it(data) -> None:
    everyone = data.draw(st.integers(1, 3000))
    group, all_bad = (data.draw(st.integers(0, everyone)) for _ in range(2))
    lowest = max(0, group + all_bad - everyone)
    bad = data.draw(st.integers(lowest, min(group, all_bad)))
    ours = chance_of_as_many(bad=bad, group=group, all_bad=all_bad, everyone=everyone)
    theirs = stats.hypergeom.sf(bad - 1, everyone, all_bad, group)
    assert ours == pytest.approx(theirs, rel=1e-6, abs=1e-280)


@given(st.integers(0, 400), st.integers(0, 400), st.floats(0.01, 0.9))
def test_the_binomial_as_another_library_has_it(a: int, b: int, rate: float) -> None:
    bad, group = sorted((a, b))
    ours = chance_of_as_many_at_rate(bad=bad, group=group, rate=rate)
    assert ours == pytest.approx(stats.binom.sf(bad - 1, group, rate), rel=1e-6, abs=1e-280)


def test_under_no_effect_every_chance_is_as_common_as_it_says() -> None:
    # A test of counts is stepped; a step taken at random within it must be spread evenly.
    dice = np.random.default_rng(20260708)
    everyone, group, all_bad = 120, 30, 18
    bad = dice.hypergeometric(all_bad, everyone - all_bad, group, 4000)
    at_least = [
        chance_of_as_many(bad=k, group=group, all_bad=all_bad, everyone=everyone)
        for k in range(all_bad + 2)
        if k <= min(group, all_bad)
    ] + [0.0]
    whole = np.array([at_least[k] for k in bad])
    more = np.array([at_least[k + 1] for k in bad])
    spread = more + dice.random(len(bad)) * (whole - more)
    assert stats.kstest(spread, "uniform").pvalue > 0.01
    for level in (0.01, 0.05, 0.2):
        assert (whole <= level).mean() <= level + 3 * np.sqrt(level / len(bad))


@given(CHANCES)
def test_allowing_for_looks_never_makes_a_chance_smaller(chances: list[float]) -> None:
    given_ = np.array(chances)
    corrected = holm(given_)
    assert np.all(corrected >= given_)
    assert np.all(corrected <= 1.0)
    order = np.argsort(given_, kind="stable")
    assert np.all(np.diff(corrected[order]) >= 0)


def test_holms_own_steps() -> None:
    corrected = holm(np.array([0.01, 0.04, 0.03, 0.005]))
    np.testing.assert_allclose(corrected, [0.03, 0.06, 0.06, 0.02])


@pytest.mark.parametrize("bad", [-1, 5])
def test_numbers_that_cannot_be_are_refused(bad: int) -> None:
    with pytest.raises(ValueError, match="no such group"):
        chance_of_as_many(bad=bad, group=4, all_bad=6, everyone=10)
    with pytest.raises(ValueError, match="no such group"):
        chance_of_as_many_at_rate(bad=bad, group=4, rate=0.2)
