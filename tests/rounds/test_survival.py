"""The fit to brackets, against published data, scipy, and laws that are known."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pandas as pd
import pytest
import scipy.stats

from survey.rounds import survival
from survey.rounds.lives import Lives, lives_of
from survey.rounds.survival import REFERENCE_YEARS, Design, Prior, design_of, fit, prior_of
from tests.rounds.invented import walked, weibull_lives

NEVER = np.inf
# Months until a cosmetic deterioration was first seen, 46 patients with radiotherapy alone:
# Finkelstein and Wolfe, Biometrics 41 (1985), the classic set of interval-censored data.
# From memory; the test below recovers the printed survival table from it, so it is the data.
BRACKETS_MONTHS = [
    (45, NEVER), (25, 37), (37, NEVER), (6, 10), (46, NEVER), (0, 5), (0, 7), (26, 40),
    (18, NEVER), (46, NEVER), (46, NEVER), (24, NEVER), (46, NEVER), (27, 34), (36, NEVER),
    (7, 16), (36, 44), (5, 11), (17, NEVER), (46, NEVER), (19, 35), (7, 14), (36, 48), (17, 25),
    (37, 44), (37, NEVER), (24, NEVER), (0, 8), (40, NEVER), (32, NEVER), (4, 11), (17, 25),
    (33, NEVER), (15, NEVER), (46, NEVER), (19, 26), (11, 15), (11, 18), (37, NEVER), (22, NEVER),
    (38, NEVER), (34, NEVER), (46, NEVER), (5, 12), (36, NEVER), (46, NEVER),
]  # fmt: skip
# Turnbull's estimate for these data: mass in each of its intervals, by its end, as printed for
# them in Fay and Shaw, Journal of Statistical Software 36 (2010). From memory.
PRINTED_MASS = {
    5: 0.0463, 7: 0.0334, 8: 0.0887, 12: 0.0708, 25: 0.0926, 34: 0.0818, 40: 0.1209, 48: 0.4656,
}  # fmt: skip
MONTHS_PER_YEAR = 12.0
ALMOST_NO_PRIOR = Prior(np.array([0.0, 0.0, 0.0]), np.array([50.0, 50.0, 1e-3]))


def lives_from(brackets: list[tuple[float, float]]) -> Lives:
    low, high = np.array(brackets, dtype=float).T / MONTHS_PER_YEAR
    count = len(brackets)
    traps = pd.DataFrame({name: [""] * count for name in ("trap_type", "service", "pressure")})
    return Lives(traps, np.arange(count), low, high, np.ones(count), np.zeros(count))


def turnbull(brackets: list[tuple[float, float]]) -> dict[float, float]:
    """Return Turnbull's estimate by self-consistency: the mass up to each month."""
    ends = sorted({end for bracket in brackets for end in bracket})
    cells = list(pairwise(ends))
    inside = np.array([[lo <= a and b <= hi for a, b in cells] for lo, hi in brackets], float)
    mass = np.full(len(cells), 1.0 / len(cells))
    for _ in range(20_000):
        share = inside * mass
        mass = (share / share.sum(axis=1, keepdims=True)).mean(axis=0)
    return {end: one for (_, end), one in zip(cells, mass, strict=False)}


def test_the_data_are_the_published_ones() -> None:
    found = turnbull(BRACKETS_MONTHS)
    for month, mass in found.items():
        assert mass == pytest.approx(PRINTED_MASS.get(month, 0.0), abs=0.00006), month


def test_without_a_prior_the_fit_is_scipys() -> None:
    closed = np.array([one for one in BRACKETS_MONTHS if one[1] < NEVER])
    still = np.array([low for low, high in BRACKETS_MONTHS if high == NEVER])
    data = scipy.stats.CensoredData(
        interval=closed / MONTHS_PER_YEAR, right=still / MONTHS_PER_YEAR
    )
    shape, _, scale = scipy.stats.weibull_min.fit(data, floc=0)
    found = fit(lives_from(BRACKETS_MONTHS), prior=ALMOST_NO_PRIOR)
    assert np.exp(found.best[1]) == pytest.approx(shape, rel=2e-4)
    assert np.exp(found.best[0]) == pytest.approx((REFERENCE_YEARS / scale) ** shape, rel=2e-4)


def test_the_fitted_law_runs_along_turnbulls_steps() -> None:
    found = fit(lives_from(BRACKETS_MONTHS), prior=ALMOST_NO_PRIOR)
    months = np.array(list(PRINTED_MASS), dtype=float)[:-1]
    steps = 1.0 - np.cumsum(list(PRINTED_MASS.values()))[:-1]
    law = survival.survival(
        months / MONTHS_PER_YEAR, log_scale=found.best[0], log_shape=float(found.best[1])
    )
    # Two standard errors of a share of 46 patients.
    assert (np.abs(law - steps) < 2 * np.sqrt(steps * (1 - steps) / len(BRACKETS_MONTHS))).all()


def test_the_gradient_is_the_slope() -> None:
    rounds = walked(weibull_lives(40, scale_years=6, shape=1.3), [1, 2, 4])
    for _, table in rounds:
        table.loc[::2, "installed_at"] = None
    lives = lives_of(rounds)
    design = design_of(lives)
    prior = prior_of(design.levels)
    at = prior.middle + 0.3 * prior.spread
    _, gradient = survival._loss(at, lives, design, prior)
    for place, step in enumerate(1e-5 * np.eye(len(at))):
        up, down = (survival._loss(at + way * step, lives, design, prior)[0] for way in (1, -1))
        assert gradient[place] == pytest.approx((up - down) / 2e-5, rel=1e-5, abs=1e-6)


@pytest.mark.thorough
@pytest.mark.parametrize(("scale_years", "shape"), [(5.0, 1.0), (8.0, 1.6), (12.0, 0.8)])
def test_a_large_plant_shows_its_own_law(scale_years: float, shape: float) -> None:
    lives, looks = weibull_lives(4000, scale_years=scale_years, shape=shape), [0.5, 1, 2, 3, 5, 8]
    found = fit(lives_of(walked(lives, looks)))
    # Every trap is of one type, service and class here: what all of them share is the sum.
    together = np.array([1.0, 0.0, 0.0, 1.0, 1.0, 1.0])
    truth = shape * np.log(REFERENCE_YEARS / scale_years)
    error = np.sqrt(together @ found.covariance @ together)
    assert abs(together @ found.best - truth) < 3 * error
    assert abs(found.best[1] - np.log(shape)) < 3 * np.sqrt(found.covariance[1, 1])
    # And against another fit of the same brackets.
    place = np.searchsorted(looks, lives)
    low, high = np.array([0, *looks])[place], np.array([*looks, NEVER])[place]
    closed = high < NEVER
    data = scipy.stats.CensoredData(
        interval=np.column_stack([low, high])[closed], right=low[~closed]
    )
    other, _, scale = scipy.stats.weibull_min.fit(data, floc=0)
    assert np.exp(found.best[1]) == pytest.approx(other, rel=0.02)
    assert np.exp(together @ found.best) == pytest.approx(
        (REFERENCE_YEARS / scale) ** other, rel=0.02
    )


def test_without_rounds_the_fit_is_the_prior() -> None:
    nothing = lives_of([])
    assert len(nothing) == 0
    design = Design((("trap_type", "thermostatic"),), np.zeros((0, 1)))
    found = fit(nothing, design=design)
    prior = prior_of(design.levels)
    assert np.allclose(found.best, prior.middle)
    assert np.allclose(np.sqrt(np.diag(found.covariance)), prior.spread, rtol=1e-4)


@pytest.mark.parametrize("years", [3.0, 4.0, 5.0])
def test_the_prior_gives_the_published_share_of_failures(years: float) -> None:
    """15 to 30 % failed after 3 to 5 years without maintenance: US DOE AMO Steam Tip Sheet 1."""
    drawn = survival.prior_draws(prior_of([]), 20_000)
    law = np.array([
        1.0 - float(survival.survival(np.array(years), log_scale=one[0], log_shape=float(one[1])))
        for one in drawn
    ])  # fmt: skip
    assert 0.15 <= np.median(law) <= 0.30
    if years == REFERENCE_YEARS:
        assert np.quantile(law, [0.1, 0.9]) == pytest.approx([0.15, 0.30], abs=0.01)


def test_the_prior_gives_the_published_share_under_a_programme() -> None:
    """Under 5 % failed where traps are looked at yearly: US DOE AMO Steam Tip Sheet 1."""
    scale, shape, _ = prior_of([]).middle
    months = np.linspace(0.0, 1.0, 200)
    failed = 1.0 - survival.survival(months, log_scale=scale, log_shape=float(shape))
    assert failed.mean() < 0.05


def test_a_better_known_plant_is_less_in_doubt() -> None:
    def doubt(count: int) -> float:
        lives = weibull_lives(count, scale_years=8, shape=1.2)
        return float(np.diag(fit(lives_of(walked(lives, [1, 2, 4]))).covariance)[1])

    assert doubt(400) < doubt(40) < prior_of([]).spread[1] ** 2
