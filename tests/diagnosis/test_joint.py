"""Traps weighed with their vents and check valves: short ways give what the long way gives."""

from __future__ import annotations

import numpy as np
import pytest

from survey.columns import CHECK_STATES, TRAP_TYPES
from survey.diagnosis.flows import NO_FLOW
from survey.diagnosis.holding_up import chances_of_air
from survey.diagnosis.hypotheses import FLOWS, HEATER_OF_LOOK, HEATERS, HYPOTHESES, INDEX
from survey.diagnosis.joint import Seen
from survey.diagnosis.model import Model

TRAPS, PLACES = 60, 20
PLAIN = np.ones((TRAPS, len(CHECK_STATES), len(FLOWS)))
RANDOM = np.random.default_rng(3)


def seen_of(logs: np.ndarray, equipment: np.ndarray, count: int) -> Seen:
    lift = RANDOM.uniform(0.0, 0.9, len(logs))
    off = np.zeros(len(logs), dtype=bool)
    trap_type = np.arange(len(logs)) % (len(TRAP_TYPES) + 1) - 1
    return Seen.of(
        Model(), logs, equipment=equipment, equipment_count=count, lift=lift, off=off,
        air=chances_of_air(Model(), trap_type, np.full(len(logs), 45.0)),
    )  # fmt: skip


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
    heat = np.ones((TRAPS, 2, len(HEATERS)))
    expected = (seen.weigh(**before, heat=heat, flow=PLAIN).trap * worth).sum(axis=1)
    found = (seen.weights(**before) * seen.share(worth)).sum(axis=(1, 2))
    np.testing.assert_allclose(found, expected, rtol=1e-12)


def test_hundreds_of_traps_on_one_equipment_leave_numbers() -> None:
    logs = np.full((900, len(HYPOTHESES)), -40.0)
    logs[:, INDEX["cold_by_vent"]] = 0.0
    many = seen_of(logs, np.zeros(900, dtype=int), 1)
    for shut in (0.0, 0.5, 1.0):
        joint = many.weigh(
            shut_before=np.array([shut]), check_before=np.eye(3)[:1],
            heat=np.ones((900, 2, len(HEATERS))), flow=np.ones((900, 3, len(FLOWS))),
        )  # fmt: skip
        np.testing.assert_allclose(joint.trap.sum(axis=1), 1.0, rtol=1e-12)
        assert joint.shut[0] == pytest.approx(float(shut > 0.0), abs=1e-12)


@pytest.mark.parametrize("shut", [0.0, 1.0])
@pytest.mark.parametrize("state", range(len(CHECK_STATES)))
def test_what_is_beside_a_trap_weighs_each_hypothesis_by_its_own_factor(
    seen: Seen, shut: float, state: int
) -> None:
    # With the vent and check valve known, one trap's posterior is its prior times both.
    before = {
        "shut_before": np.full(PLACES, shut),
        "check_before": np.tile(np.eye(3)[state], (PLACES, 1)),
    }
    heat = np.ones((TRAPS, 2, len(HEATERS)))
    heat[:, int(shut)] = RANDOM.uniform(0.1, 10.0, (TRAPS, len(HEATERS)))
    flow = PLAIN.copy()
    flow[:, state] = RANDOM.uniform(0.1, 10.0, (TRAPS, len(FLOWS)))
    heaters = [HEATERS.index(HEATER_OF_LOOK.get(h.looks, "hot")) for h in HYPOTHESES]
    plain = seen.weigh(**before, heat=np.ones_like(heat), flow=PLAIN).trap
    expected = plain * heat[:, int(shut), heaters] * flow[:, state, NO_FLOW.astype(int)]
    expected /= expected.sum(axis=1, keepdims=True)
    found = seen.weigh(**before, heat=heat, flow=flow).trap
    np.testing.assert_allclose(found, expected, rtol=1e-12)
