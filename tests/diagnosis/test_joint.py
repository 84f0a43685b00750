"""Traps weighed with their vents and check valves: short ways give what the long way gives."""

from __future__ import annotations

import numpy as np
import pytest

from survey.columns import CHECK_STATES
from survey.diagnosis.hypotheses import HYPOTHESES, INDEX
from survey.diagnosis.joint import Seen
from survey.diagnosis.model import Model

TRAPS, PLACES = 60, 20
RANDOM = np.random.default_rng(3)


def seen_of(logs: np.ndarray, equipment: np.ndarray, count: int) -> Seen:
    lift = RANDOM.uniform(0.0, 0.9, len(logs))
    off = np.zeros(len(logs), dtype=bool)
    return Seen.of(
        Model(), logs, equipment=equipment, equipment_count=count, lift=lift, off=off
    )


@pytest.fixture
def seen() -> Seen:
    logs = np.asfortranarray(RANDOM.normal(scale=3.0, size=(TRAPS, len(HYPOTHESES))))
    return seen_of(logs, np.arange(TRAPS) % PLACES, PLACES)


@pytest.mark.parametrize("shut", [0.0, 0.3, 1.0])
@pytest.mark.parametrize("state", [None, *range(len(CHECK_STATES))])
def test_a_chance_by_itself_is_that_of_the_whole_posterior(
    seen: Seen, shut: float, state: int | None
) -> None:
    share = np.full(len(CHECK_STATES), 1 / 3) if state is None else np.eye(3)[state]
    before = {"shut_before": np.full(PLACES, shut), "check_before": np.tile(share, (PLACES, 1))}
    worth = RANDOM.uniform(size=len(HYPOTHESES))
    expected = (seen.weigh(**before).trap * worth).sum(axis=1)
    found = seen.expected(seen.share(worth), **before)
    np.testing.assert_allclose(found, expected, rtol=1e-12)


def test_hundreds_of_traps_on_one_equipment_leave_numbers() -> None:
    logs = np.full((900, len(HYPOTHESES)), -40.0)
    logs[:, INDEX["cold_by_vent"]] = 0.0
    many = seen_of(logs, np.zeros(900, dtype=int), 1)
    for shut in (0.0, 0.5, 1.0):
        joint = many.weigh(shut_before=np.array([shut]), check_before=np.eye(3)[:1])
        np.testing.assert_allclose(joint.trap.sum(axis=1), 1.0, rtol=1e-12)
        assert joint.shut[0] == pytest.approx(float(shut > 0.0), abs=1e-12)
