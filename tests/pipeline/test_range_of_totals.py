"""The range of a total, against drawing every device out of a hat with one coefficient for all."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from survey.diagnosis import priors
from survey.losses.steam import mixed_loss
from survey.summary import _range, _variance

DRAWS = 100_000
OWN_SPREAD = 0.35


def drawn(flow: np.ndarray, chance: np.ndarray, price: np.ndarray) -> np.ndarray:
    """Draw the total cost many times."""
    random = np.random.default_rng(8)
    shared = np.exp(priors.COEFFICIENT_LOG_SPREAD * random.standard_normal(DRAWS))
    total = np.zeros(DRAWS)
    for middle, p, unit in zip(flow, chance, price, strict=True):
        own = np.exp(OWN_SPREAD * random.standard_normal(DRAWS))
        total += unit * middle * own * (random.random(DRAWS) < p)
    return shared * total


@pytest.mark.parametrize(
    ("flow", "chance"),
    [([40.0], [1.0]), ([40.0, 10.0, 80.0], [0.9, 0.6, 1.0]), ([30.0] * 40, [0.95] * 40)],
)
def test_the_shared_coefficient_is_counted_once(flow: list[float], chance: list[float]) -> None:
    spread = np.hypot(OWN_SPREAD, priors.COEFFICIENT_LOG_SPREAD)
    price = np.linspace(1.0, 3.0, len(flow))
    loss = mixed_loss(
        flow_lb_per_h=np.array(flow)[:, None],
        chance=np.array(chance)[:, None],
        log_spread=np.full(len(flow), spread),
    )
    table = pd.DataFrame(
        {
            "steam_loss_lb_per_h": loss.expected_lb_per_h,
            "annual_cost": loss.expected_lb_per_h * price,
            "loss_variance": loss.variance,
        }
    )
    total = drawn(np.array(flow), np.array(chance), price)
    variance = _variance(table, "annual_cost")
    # A standard deviation of 100,000 such draws is good to about 1 %. Counting the
    # coefficient twice makes that of the third case a fifth too wide.
    assert np.sqrt(variance) == pytest.approx(total.std(), rel=0.02)
    found = _range("annual_cost", "", float(table["annual_cost"].sum()), variance)
    if len(flow) > 3:  # a sum of few is not log-normal, so its ends are only near
        assert found["annual_cost_low"] == pytest.approx(np.quantile(total, 0.1), rel=0.01)
        assert found["annual_cost_high"] == pytest.approx(np.quantile(total, 0.9), rel=0.01)


def test_a_row_without_an_estimate_is_in_no_total() -> None:
    table = pd.DataFrame(
        {
            "steam_loss_lb_per_h": [10.0, np.nan],
            "annual_cost": [30.0, np.nan],
            "loss_variance": [4.0, np.nan],
        }
    )
    assert _variance(table, "annual_cost") == _variance(table.head(1), "annual_cost") > 0.0
