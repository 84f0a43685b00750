"""Differences of two rounds: held against simulation, and against what must hold of any."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from survey.diagnosis.priors import (
    BORE_LOG_SPREAD,
    BORE_UNKNOWN_LOG_SPREAD,
    COEFFICIENT_LOG_SPREAD,
    OPENING_LEAKING,
    OPENING_OPEN,
)
from survey.diagnosis.verdict import diagnose
from survey.losses.priced import add_losses
from survey.losses.steam import mixed_loss
from survey.readings import read_round
from survey.rounds.uncertain import Differences, Figure, differences, each, losses_of, total
from survey.site import Site
from tests.rounds.conftest import SAMPLES

OPENINGS = np.concatenate([OPENING_LEAKING, OPENING_OPEN])
LEAKING = len(OPENING_LEAKING)
DRAWS = 40_000


class Plant:
    """Traps whose chances are known, their findings, and what they may really lose."""

    def __init__(self, seed: int, before: str, after: str, *, bore_given: bool) -> None:
        self.random = np.random.default_rng(seed)
        self.given = bore_given
        self.flow = self.random.uniform(10, 60, len(before))
        self.chances = [np.array([self._chances(kind) for kind in kinds])
                        for kinds in (before, after)]  # fmt: skip

    def _chances(self, kind: str) -> np.ndarray:
        leaking, opened = {
            "o": (0.12, 0.879), "l": (0.90, 0.08), "d": (0.35, 0.05), "w": (0.006, 0.001),
        }[kind]  # fmt: skip
        return np.concatenate([
            leaking * self.random.dirichlet(np.ones(LEAKING)),
            opened * self.random.dirichlet(np.ones(len(OPENING_OPEN))),
        ])  # fmt: skip

    @property
    def bore(self) -> float:
        return BORE_LOG_SPREAD if self.given else BORE_UNKNOWN_LOG_SPREAD

    def table(self, which: int) -> pd.DataFrame:
        chance = self.chances[which]
        loss = mixed_loss(
            flow_lb_per_h=self.flow[:, None] * OPENINGS, chance=chance,
            log_spread=np.full(len(self.flow), np.hypot(self.bore, COEFFICIENT_LOG_SPREAD)),
        )  # fmt: skip
        return pd.DataFrame({
            "state": "leaking", "confidence": 0.9, "p_working": 1 - chance.sum(axis=1),
            "p_leaking": chance[:, :LEAKING].sum(axis=1),
            "p_failed_open": chance[:, LEAKING:].sum(axis=1),
            "steam_loss_lb_per_h": loss.expected_lb_per_h,
            "steam_loss_low_lb_per_h": loss.low_lb_per_h,
            "steam_loss_high_lb_per_h": loss.high_lb_per_h,
            "orifice_in": 0.125 if self.given else np.nan,
        })  # fmt: skip

    def simulated(self) -> np.ndarray:
        """Draw the sum of differences: one coefficient for all, one bore a unit, the rest new."""
        coefficient = self.random.normal(0, COEFFICIENT_LOG_SPREAD, DRAWS)
        found = np.zeros(DRAWS)
        for flow, was, now in zip(self.flow, *self.chances, strict=True):
            bore = self.random.normal(0, self.bore, DRAWS)
            change = self._opening(was) - self._opening(now)
            found += flow * np.exp(bore + coefficient) * change
        return found

    def _opening(self, chance: np.ndarray) -> np.ndarray:
        every = np.append(chance, 1 - chance.sum())
        return np.append(OPENINGS, 0.0)[self.random.choice(len(every), size=DRAWS, p=every)]


def difference(before: pd.DataFrame, after: pd.DataFrame) -> Differences:
    one = np.ones(len(before))
    return differences(
        losses_of(before), losses_of(after), weight_before=one, weight_after=one
    )


@pytest.mark.parametrize("bore_given", [True, False])
@pytest.mark.parametrize(
    ("before", "after"),
    [
        ("o", "w"), ("l", "w"), ("ol", "ww"), ("oooolllllldddd", "w" * 14),
        ("llllll", "llllll"), ("ooolllllwwwwwwwwww", "wwwwwwllwwwwwwwwwo"), ("d" * 10, "w" * 10),
    ],
)  # fmt: skip
def test_the_range_holds_what_a_simulation_of_both_rounds_gives(
    before: str, after: str, bore_given: bool
) -> None:
    plant = Plant(3, before, after, bore_given=bore_given)
    drawn = plant.simulated()
    found = total(difference(plant.table(0), plant.table(1)))
    error = drawn.std() / np.sqrt(DRAWS)
    assert found.expected == pytest.approx(drawn.mean(), abs=5 * error + 0.02 * drawn.std())
    below, above = (drawn < found.low).mean(), (drawn > found.high).mean()
    # The promise is 10 % on either side; three moments of a mixture do not give it to the digit.
    assert below <= 0.16
    assert above <= 0.16
    assert 0.70 <= 1 - below - above <= 0.91


def test_what_both_rounds_share_is_not_counted_twice() -> None:
    """With the same bores before and after, a sum that stays is surer than two rounds apart."""
    plant = Plant(5, "o" * 12, "o" * 12, bore_given=False)
    table = plant.table(0)
    together = total(difference(table, table))
    none = table.assign(**{name: 0.0 for name in table if name.startswith("steam_loss")})
    alone = total(difference(table, none))
    as_if_apart = np.hypot(alone.high - alone.expected, alone.expected - alone.low)
    width = together.high - together.low
    assert together.expected == 0
    assert together.low < 0 < together.high
    assert width < 0.75 * 2 * as_if_apart


def test_the_variance_taken_from_a_range_is_near_the_models_own() -> None:
    site = Site.from_toml(SAMPLES / "nursery_site.toml")
    read = read_round(SAMPLES / "nursery_round.csv", altitude_ft=site.altitude_ft)
    diagnosis = diagnose(read.table, site=site)
    table = add_losses(diagnosis, read.table, site)
    table["orifice_in"] = read.table["orifice_in"]
    traps = (read.table["device"] == "trap").to_numpy()
    losses = losses_of(table[traps])
    square = losses.mean_lb_per_h**2 / losses.chance * np.exp(losses.log_spread**2)
    taken = (square - losses.mean_lb_per_h**2).sum()
    assert taken == pytest.approx(table["loss_variance"][traps].sum(), rel=0.15)


def test_a_single_mended_unit_saves_its_own_range() -> None:
    plant = Plant(1, "o", "w", bore_given=True)
    table = plant.table(0)
    found = each(difference(table, plant.table(1)))[0]
    assert found.low <= table["steam_loss_low_lb_per_h"][0]
    assert found.high <= table["steam_loss_high_lb_per_h"][0]


def test_a_loss_that_may_be_none_saves_nothing_for_sure() -> None:
    plant = Plant(1, "d", "w", bore_given=True)
    found = total(difference(plant.table(0), plant.table(1)))
    assert found.expected > 1
    assert found.low <= 0


def test_nothing_before_and_after_is_nothing_for_sure() -> None:
    table = Plant(1, "www", "www", bore_given=True).table(0)
    none = table.assign(**{name: 0.0 for name in table if name.startswith("steam_loss")})
    assert total(difference(none, none)) == Figure(0.0, 0.0, 0.0)


_KINDS = st.text("oldw", min_size=1, max_size=8)


@given(st.integers(0, 99), _KINDS, st.randoms(use_true_random=False), st.booleans())
@settings(max_examples=40)
def test_whatever_the_rounds(seed: int, before: str, random, bore_given: bool) -> None:
    after = "".join(random.choice("oldw") for _ in before)
    plant = Plant(seed, before, after, bore_given=bore_given)
    old, new = plant.table(0), plant.table(1)
    there, back = total(difference(old, new)), total(difference(new, old))
    assert there.low <= there.expected <= there.high
    # The other way round it is the same with the sign changed.
    assert back.expected == pytest.approx(-there.expected)
    assert back.low == pytest.approx(-there.high, abs=1e-6)
    # The order of units changes nothing, and dollars are no less sure than pounds.
    order = random.sample(range(len(before)), len(before))
    shuffled = total(difference(old.iloc[order], new.iloc[order]))
    assert shuffled.low == pytest.approx(there.low)
    ten = np.full(len(before), 10.0)
    dear = total(differences(losses_of(old), losses_of(new), weight_before=ten, weight_after=ten))
    assert dear.low == pytest.approx(10 * there.low)


def test_a_small_chance_of_blown_open_is_not_forgotten() -> None:
    """It lies past the 90 % point, and still is most of what is uncertain."""
    random = np.random.default_rng(2)
    chance = np.concatenate([
        0.95 * random.dirichlet(np.full(LEAKING, 20.0), 8),
        0.04 * random.dirichlet(np.full(len(OPENING_OPEN), 20.0), 8),
    ], axis=1)  # fmt: skip
    loss = mixed_loss(
        flow_lb_per_h=40.0 * OPENINGS[None, :] * np.ones((8, 1)), chance=chance,
        log_spread=np.full(8, np.hypot(BORE_LOG_SPREAD, COEFFICIENT_LOG_SPREAD)),
    )  # fmt: skip
    table = pd.DataFrame({
        "state": "leaking", "confidence": 0.95, "p_leaking": 0.95, "p_failed_open": 0.04,
        "steam_loss_lb_per_h": loss.expected_lb_per_h, "orifice_in": 0.125,
        "steam_loss_low_lb_per_h": loss.low_lb_per_h,
        "steam_loss_high_lb_per_h": loss.high_lb_per_h,
    })  # fmt: skip
    losses = losses_of(table)
    square = losses.mean_lb_per_h**2 / losses.chance * np.exp(losses.log_spread**2)
    deviation = np.sqrt(square - losses.mean_lb_per_h**2)
    assert deviation == pytest.approx(np.sqrt(loss.variance), rel=0.2)


@pytest.mark.parametrize("count", [1, 2, 4])
def test_where_nothing_may_have_been_lost_nothing_is_sure_to_be_saved(count: int) -> None:
    """Four units that lost steam with four chances in ten: one time in eight none did."""
    plant = Plant(1, "d" * count, "w" * count, bore_given=True)
    assert total(difference(plant.table(0), plant.table(1))).low <= 0
