"""How common each state may become in a round."""

from __future__ import annotations

import numpy as np
import pytest

from survey.diagnosis import priors
from survey.diagnosis.companion_looks import LOOKS_BY_DEVICE
from survey.diagnosis.companions import TOLD_AT_SIGHT, DeviceModel
from survey.diagnosis.learning import MOST_FAILED_CLOSED, MOST_LEAKING, trap_rates

STATES = list(priors.TRAP_RATES)


def own(**count: float) -> np.ndarray:
    return np.array([count.get(state, 0.0) for state in STATES])


def test_leaks_do_not_swallow_what_has_blown_open() -> None:
    rates = dict(zip(STATES, trap_rates(own(working=1200.0, leaking=150.0)), strict=True))
    assert rates["leaking"] <= MOST_LEAKING * rates["failed_open"]
    assert rates["leaking"] + rates["failed_open"] < 150.0 / 1350.0
    # No more leak than blown ones bear out: each stays what it was counted as.
    few = trap_rates(own(working=1200.0, leaking=10.0, failed_open=10.0))
    usual = priors.TRAP_RATES_WEIGHT * np.array(list(priors.TRAP_RATES.values()))
    counted = own(working=1200.0, leaking=10.0, failed_open=10.0) + usual
    assert few == pytest.approx(counted / counted.sum())
    assert sum(rates.values()) == pytest.approx(1.0)


def test_what_looks_failed_closed_everywhere_is_taken_for_something_shared() -> None:
    rates = trap_rates(own(working=100.0, failed_closed=300.0))
    assert rates[STATES.index("failed_closed")] == pytest.approx(MOST_FAILED_CLOSED)
    assert rates.sum() == pytest.approx(1.0)


def test_a_plant_of_blown_traps_may_be_one() -> None:
    few, many = (trap_rates(own(failed_open=n))[STATES.index("failed_open")] for n in (40, 4000))
    assert 0.3 < few < many < 1.0


@pytest.mark.parametrize("device", list(LOOKS_BY_DEVICE))
def test_what_only_readings_tell_stays_seldom_and_what_is_seen_may_be_everywhere(
    device: str,
) -> None:
    kind = DeviceModel.prior(device)
    for state, usual, most in zip(
        LOOKS_BY_DEVICE[device], kind.rates, kind.most_rates, strict=True
    ):
        assert most == 1.0 if state in TOLD_AT_SIGHT else usual < most < 0.25
