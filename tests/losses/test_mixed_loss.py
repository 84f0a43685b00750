"""Loss over several possible flows: against drawing it out of a hat, and where it is known."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from survey.losses.steam import Loss, mixed_loss

DRAWS = 200_000
KINDS = 4
NORMAL_90 = 1.2815515655


def one(flow: list[float], chance: list[float], spread: float) -> Loss:
    """Return the loss of one device."""
    return mixed_loss(
        flow_lb_per_h=np.array([flow], dtype=float),
        chance=np.array([chance], dtype=float),
        log_spread=np.array([spread]),
    )


def drawn(flow: list[float], chance: list[float], spread: float, seed: int = 4) -> np.ndarray:
    """Draw the loss of one device many times."""
    random = np.random.default_rng(seed)
    kind = random.choice(len(flow) + 1, size=DRAWS, p=[*chance, 1.0 - sum(chance)])
    middle = np.nan_to_num(np.array([*flow, 0.0]))[kind]
    return middle * np.exp(spread * random.standard_normal(DRAWS))


CASES = [
    ([12.0, 40.0, 90.0], [0.2, 0.5, 0.3], 0.17),
    ([12.0, 40.0, 90.0], [0.05, 0.10, 0.10], 0.17),
    ([3.0, 300.0], [0.5, 0.45], 0.6),
    ([75.8], [1.0], 0.15),
    ([75.8, 20.0], [0.96, 0.0], 0.6),
]


@pytest.mark.parametrize(("flow", "chance", "spread"), CASES)
def test_mean_points_and_variance_agree_with_draws(
    flow: list[float], chance: list[float], spread: float
) -> None:
    loss, drawn_loss = one(flow, chance, spread), drawn(flow, chance, spread)
    error = drawn_loss.std() / math.sqrt(DRAWS)
    assert loss.expected_lb_per_h[0] == pytest.approx(drawn_loss.mean(), abs=5.0 * error)
    assert math.sqrt(loss.variance[0]) == pytest.approx(drawn_loss.std(), rel=0.02)
    # A point is checked by the share of draws below it: 5 standard errors of a share.
    for point, share in ((loss.low_lb_per_h[0], 0.10), (loss.high_lb_per_h[0], 0.90)):
        if point > 0.0:
            assert (drawn_loss < point).mean() == pytest.approx(share, abs=0.0035)
        else:
            assert (drawn_loss <= 0.0).mean() >= share - 0.0035


def test_one_sure_flow_is_log_normal() -> None:
    loss = one([40.0], [1.0], 0.2)
    assert loss.expected_lb_per_h[0] == pytest.approx(40.0 * math.exp(0.02), rel=1e-12)
    assert loss.low_lb_per_h[0] == pytest.approx(40.0 * math.exp(-0.2 * NORMAL_90), rel=1e-3)
    assert loss.high_lb_per_h[0] == pytest.approx(40.0 * math.exp(0.2 * NORMAL_90), rel=1e-3)
    variance = (40.0 * math.exp(0.02)) ** 2 * math.expm1(0.04)
    assert loss.variance[0] == pytest.approx(variance, rel=1e-9)


@pytest.mark.parametrize("spread", [0.01, 0.2, 3.0])
def test_the_range_is_as_wide_as_the_spread_says(spread: float) -> None:
    loss = one([40.0], [1.0], spread)
    for point, sign in ((loss.low_lb_per_h[0], -1.0), (loss.high_lb_per_h[0], 1.0)):
        assert math.log(point / 40.0) == pytest.approx(sign * NORMAL_90 * spread, rel=1e-3)


@pytest.mark.parametrize("spread", [0.05, 0.2, 0.6])
@pytest.mark.parametrize("other", [0.5, 39.0, 4000.0])
def test_a_flow_without_a_chance_changes_nothing(spread: float, other: float) -> None:
    # It moves where the search for the points begins, and so shows how closely they are found.
    loss, alone = one([40.0, other], [0.95, 0.0], spread), one([40.0], [0.95], spread)
    for name in ("expected_lb_per_h", "low_lb_per_h", "high_lb_per_h", "variance"):
        assert getattr(loss, name)[0] == pytest.approx(getattr(alone, name)[0], rel=1e-9)


def test_a_chance_of_nine_in_ten_has_a_low_point_of_nothing() -> None:
    # One time in ten nothing at all is lost, so that is the 10 % point; just over, it no longer is.
    assert one([40.0], [0.9], 0.2).low_lb_per_h[0] == 0.0
    assert one([40.0], [0.9001], 0.2).low_lb_per_h[0] > 10.0


def test_nothing_flowing_is_nothing_lost() -> None:
    loss = one([0.0, 0.0], [0.5, 0.5], 0.2)
    for values in (loss.expected_lb_per_h, loss.low_lb_per_h, loss.high_lb_per_h, loss.variance):
        assert values.tolist() == [0.0]


def test_a_flow_that_is_not_known_counts_as_none() -> None:
    assert one([math.nan, 40.0], [0.3, 0.5], 0.2) == one([0.0, 40.0], [0.3, 0.5], 0.2)


def test_no_chance_of_losing_is_nothing_lost() -> None:
    loss = one([40.0, 90.0], [0.0, 0.0], 0.2)
    assert loss.expected_lb_per_h[0] == loss.low_lb_per_h[0] == loss.high_lb_per_h[0] == 0.0


def test_a_chance_under_one_in_ten_has_no_range_and_still_a_mean() -> None:
    loss = one([40.0], [0.09], 0.2)
    assert loss.low_lb_per_h[0] == loss.high_lb_per_h[0] == 0.0
    assert loss.expected_lb_per_h[0] == pytest.approx(0.09 * 40.0 * math.exp(0.02))


def test_flows_that_exclude_each_other_are_weighed_not_added() -> None:
    loss = one([40.0, 40.0], [0.5, 0.5], 0.2)
    alone = one([40.0], [1.0], 0.2)
    for name in ("expected_lb_per_h", "low_lb_per_h", "high_lb_per_h"):
        assert getattr(loss, name)[0] == pytest.approx(getattr(alone, name)[0], rel=1e-6)


flows = arrays.arrays(float, (3, KINDS), elements=st.one_of(st.just(0.0), st.floats(1e-3, 1e5)))
shares = arrays.arrays(float, (3, KINDS + 1), elements=st.floats(0.0, 1.0)).map(
    lambda p: (p / np.maximum(p.sum(axis=1, keepdims=True), 1e-9))[:, :KINDS]
)
spreads = arrays.arrays(float, (3,), elements=st.floats(0.05, 0.7))


@settings(max_examples=60)
@given(flows, shares, spreads)
def test_range_is_ordered_and_never_negative(
    flow: np.ndarray, chance: np.ndarray, spread: np.ndarray
) -> None:
    loss = mixed_loss(flow_lb_per_h=flow, chance=chance, log_spread=spread)
    low, high = loss.low_lb_per_h, loss.high_lb_per_h
    for values in (loss.expected_lb_per_h, low, high, loss.variance):
        assert np.isfinite(values).all()
        assert (values >= 0.0).all()
    assert (low <= high * (1.0 + 1e-6)).all()
    # Nothing can be lost over the largest flow by more than its own spread; and a mean is at
    # least a tenth of what is exceeded one time in ten.
    assert (high <= flow.max(axis=1) * np.exp(1.3 * spread) * 1.001).all()
    assert (loss.expected_lb_per_h >= 0.1 * high * (1.0 - 1e-3)).all()
    assert (loss.expected_lb_per_h >= 0.9 * low * (1.0 - 1e-3)).all()


@settings(max_examples=30)
@given(flows, shares, spreads, st.floats(0.01, 100.0))
def test_twice_the_flow_is_twice_the_loss(
    flow: np.ndarray, chance: np.ndarray, spread: np.ndarray, times: float
) -> None:
    # Zero and a thousandth differ in kind, so the scale keeps every flow over that.
    flow = np.where(flow > 0.0, np.maximum(flow, 1.0), 0.0)
    loss = mixed_loss(flow_lb_per_h=flow, chance=chance, log_spread=spread)
    more = mixed_loss(flow_lb_per_h=times * flow, chance=chance, log_spread=spread)
    for name in ("expected_lb_per_h", "low_lb_per_h", "high_lb_per_h"):
        np.testing.assert_allclose(getattr(more, name), times * getattr(loss, name), rtol=2e-3)


@settings(max_examples=30)
@given(flows, shares, spreads)
def test_a_device_is_reckoned_by_itself(
    flow: np.ndarray, chance: np.ndarray, spread: np.ndarray
) -> None:
    together = mixed_loss(flow_lb_per_h=flow, chance=chance, log_spread=spread)
    for n in range(len(flow)):
        alone = mixed_loss(flow_lb_per_h=flow[[n]], chance=chance[[n]], log_spread=spread[[n]])
        for name in ("expected_lb_per_h", "low_lb_per_h", "high_lb_per_h", "variance"):
            assert getattr(alone, name)[0] == pytest.approx(getattr(together, name)[n], rel=1e-9)


def test_points_are_where_the_chance_is_and_not_where_others_are_done() -> None:
    random = np.random.default_rng(8)
    flow = random.uniform(0.1, 400.0, (300, 5))
    chance = random.dirichlet(np.ones(6) * 0.4, 300)[:, :5]
    spread = random.uniform(0.05, 0.6, 300)
    all_at_once = mixed_loss(flow_lb_per_h=flow, chance=chance, log_spread=spread)
    for row in range(300):
        alone = one(list(flow[row]), list(chance[row]), spread[row])
        for name, share in (("low_lb_per_h", 0.10), ("high_lb_per_h", 0.90)):
            point = getattr(all_at_once, name)[row]
            assert point == getattr(alone, name)[0]
            if point > 0.0:
                z = (math.log(point) - np.log(flow[row])) / spread[row]
                below = 0.5 * (1.0 + np.tanh(0.7978845608 * (z + 0.044715 * z**3)))
                under = 1.0 - chance[row].sum() + chance[row] @ below
                assert under == pytest.approx(share, abs=1e-10)
