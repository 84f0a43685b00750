"""How one look at the round moves the model: each function takes chances, updates in place.

Every update is a weighted mean with the prior as so many extra units, so a small round stays
near the priors and a large one speaks for itself.
"""

from __future__ import annotations

import numpy as np

from survey.columns import (
    CHECK_STATES,
    OBSERVATIONS,
    PATTERNS,
    PRESENCES,
    TRAP_TYPES,
    VALVE_POSITIONS,
)
from survey.diagnosis import priors, upstream_priors
from survey.diagnosis.hypotheses import HOT_LOOKS, INDEX, LOOKS, LOOKS_INDEX, by_look
from survey.diagnosis.joint import TRAP_OWN, Joint
from survey.diagnosis.lifting import Lifts
from survey.diagnosis.model import Model
from survey.diagnosis.priors import IS_CYCLING
from survey.diagnosis.rows import Rows
from survey.diagnosis.sound_levels import LEAKING_GRID, OPEN_GRID

MOST_LEAKING = 1.2
"""Most leaking traps to one blown open that a round may come to."""
NOISE_OF_WORKING = 0.02
"""Share of a round's working traps that may pass for leaking ones. Both common practice, no
source."""
MOST_FAILED_CLOSED = 0.10
"""Most of a round's traps with steam that may come to be failed closed: where more look it, what
they share (a lift, a return that is full) is likelier. Common practice, no source."""
UNREAD_LIFT_WEIGHT = 4.0
_PRIOR = Model()


def robust(residual: np.ndarray, spread: np.ndarray | float) -> np.ndarray:
    """Return the weight that Student's t gives each residual; zero where it is missing."""
    freedom = priors.STUDENT_FREEDOM
    weight = (freedom + 1.0) / (freedom + (residual / spread) ** 2)
    return np.where(np.isnan(residual), 0.0, weight)


def spread_of(
    residual: np.ndarray,
    chance: np.ndarray,
    spread: np.ndarray,
    prior: np.ndarray,
    weight: np.ndarray | float,
    *,
    least: np.ndarray | float | None = None,
) -> np.ndarray:
    """Return the spread of residuals (n, k) by chance (n, k), the prior worth ``weight`` units.

    It stays over ``least``, by default a third of the prior, and under 2.5 times the prior.
    """
    present = chance * ~np.isnan(residual)
    square = np.nansum(present * robust(residual, spread) * residual**2, axis=0)
    count = present.sum(axis=0)
    moved: np.ndarray = np.sqrt((square + weight * prior**2) / (count + weight))
    return np.asarray(np.clip(moved, 0.35 * prior if least is None else least, 2.5 * prior))


def learn_words(model: Model, rows: Rows, looks: np.ndarray) -> None:
    """Move what is heard and what is seen when opened, each look's prior kept as units."""
    cool = looks[:, HOT_LOOKS:].sum(axis=1)
    pooled = np.column_stack([looks[:, :HOT_LOOKS], cool])
    heard = rows.pattern >= 0
    counts = np.stack(
        [
            count_codes(rows.pattern[mine], pooled[mine], len(PATTERNS))
            for mine in (heard & (rows.trap_type == code) for code in range(len(TRAP_TYPES)))
        ]
    )
    usual = _PRIOR.pattern[:, : HOT_LOOKS + 1]
    for kind in (IS_CYCLING, ~IS_CYCLING):
        # What types of a kind have in common is learnt from them all, then each one's own.
        weight = priors.PATTERN_WEIGHT * usual[kind].mean(axis=0)
        moved = (counts[kind].sum(axis=0) + weight) / weight
        common = usual[kind] * moved
        common /= common.sum(axis=2, keepdims=True)
        own = counts[kind] + priors.PATTERN_TYPE_WEIGHT * common
        own /= own.sum(axis=2, keepdims=True)
        model.pattern[kind] = own[:, [*range(HOT_LOOKS), *[HOT_LOOKS] * (len(LOOKS) - HOT_LOOKS)]]
    mine = rows.observed >= 0
    counts = count_codes(rows.observed[mine], looks[mine], len(OBSERVATIONS))
    moved = counts + priors.OBSERVED_WEIGHT * _PRIOR.observed
    model.observed = moved / moved.sum(axis=1, keepdims=True)


def count_codes(code: np.ndarray, chance: np.ndarray, kinds: int) -> np.ndarray:
    """Count codes (n,) by chance (n, k): (k, kinds)."""
    return np.stack(
        [np.bincount(code, weights=chance[:, k], minlength=kinds) for k in range(chance.shape[1])]
    )


def learn_rates(
    model: Model,
    rows: Rows,
    joint: Joint,
    lifts: Lifts,
    looks_backed: np.ndarray,
    seat: np.ndarray,
    lit: np.ndarray,
) -> None:
    """Move how often each thing happens: failures, and what a shut vent or a lift brings.

    Parameters
    ----------
    lifts
        Of the traps.
    looks_backed
        How likely each looks backed up, not failed closed, by its own readings, (traps,).
    seat
        Equipment of each trap, (traps,).
    lit
        Which traps' stations are under steam, (traps,): the others tell no rate.
    """
    trap, weight = joint.trap[lit], upstream_priors.RATE_WEIGHT
    seat = seat[lit]
    model.trap_rates = trap_rates(trap[:, TRAP_OWN].sum(axis=0))
    valved = trap[:, INDEX["cold_by_valve"]]
    model.valved_off = float((valved.sum() + 50 * upstream_priors.VALVED_OFF) / (len(trap) + 50))
    _learn_misread(model, rows, joint.trap)
    shut = joint.shut[seat]
    model.air_bound_if_shut = _beta(
        joint.bound_and_shut[lit].sum(),
        (shut * joint.air[lit, 1]).sum() / model.air_bound_if_shut,
        upstream_priors.AIR_BOUND["shut"],
        weight,
    )
    for state, name in (("stuck", "backed_if_stuck"), ("passing_back", "backed_if_passing")):
        column = CHECK_STATES.index(state)
        count = joint.check[seat, column].sum()
        hit = joint.backed_and_check[lit, column].sum()
        setattr(model, name, _beta(hit, count, upstream_priors.BACKED_BY_CHECK[state], weight))
    _learn_lifts(model, trap[:, INDEX["backed_by_lift"]], looks_backed[lit], lifts.some(lit))
    told = np.bincount(rows.trap_type[rows.trap_type >= 0], minlength=len(TRAP_TYPES))
    model.type_shares = (told + 1.0) / (told + 1.0).sum()


def _learn_misread(model: Model, rows: Rows, trap: np.ndarray) -> None:
    """Move how often notes are wrong, by traps that are not shut off, and by those with steam."""
    is_open, hot = 1.0 - trap[:, INDEX["cold_by_valve"]], by_look(trap)[:, :HOT_LOOKS].sum(axis=1)
    closed, absent = VALVE_POSITIONS.index("closed"), PRESENCES.index("no")
    model.closed_misread = _misread(rows.valve == closed, is_open, priors.VALVE_CLOSED_MISREAD)
    model.absent_misread = _misread(rows.present == absent, hot, priors.ABSENT_MISREAD)


def _misread(noted: np.ndarray, chance: np.ndarray, usual: float) -> float:
    # Of all such traps: where exceptions alone are noted, a blank is as good as a right note.
    share = (chance[noted].sum() + priors.MISREAD_WEIGHT * usual) / (
        chance.sum() + priors.MISREAD_WEIGHT
    )
    return min(float(share), priors.MISREAD_MOST)


def trap_rates(own: np.ndarray) -> np.ndarray:
    """Return the rates of the traps' own states from how many are in each, `TRAP_RATES`' order.

    Leaking and blown open are told apart by little: where few fail, noise among the many that
    work passes for leaks, and they would swallow the traps that have blown open. Of what looks
    leaking beyond `MOST_LEAKING`, as much works as may be noise, and the rest is shared at that
    ratio. So are failed closed and backed up: a plant that cannot lift its condensate would have
    its traps condemned.
    """
    prior = np.array(list(priors.TRAP_RATES.values()))
    count = own + priors.TRAP_RATES_WEIGHT * prior
    surplus = max(count[_LEAKING] - MOST_LEAKING * count[_OPEN], 0.0)
    noise = min(surplus, NOISE_OF_WORKING * count[_WORKING])
    count[_WORKING] += noise
    count[_LEAKING] -= noise
    both = count[_LEAKING] + count[_OPEN]
    count[_LEAKING] = min(count[_LEAKING], both * MOST_LEAKING / (1.0 + MOST_LEAKING))
    count[_OPEN] = both - count[_LEAKING]
    most = MOST_FAILED_CLOSED / (1.0 - MOST_FAILED_CLOSED)
    count[_CLOSED] = min(count[_CLOSED], most * (count.sum() - count[_CLOSED]))
    result: np.ndarray = count / count.sum()
    return result


def _learn_lifts(
    model: Model, backed: np.ndarray, looks_backed: np.ndarray, lifts: Lifts
) -> None:
    """Move how often a lift out of reach backs up, and how many of the unread ones there are.

    How much of the pressure is taken is told by none that does not look it by itself: traps that
    are shut would else teach the lift that excuses them.
    """
    chance, steep = lifts.out_of_reach(model.lift_taken)
    read = ~np.isnan(chance)
    usual, spread = upstream_priors.LIFT_TAKEN
    told = np.minimum(backed, looks_backed)
    weight = upstream_priors.LIFT_TELLS
    pull = weight * ((told - chance) * steep)[read].sum() + (usual - model.lift_taken) / spread**2
    stiff = weight * (chance * (1.0 - chance) * steep**2)[read].sum() + 1.0 / spread**2
    moved = model.lift_taken + float(np.clip(pull / stiff, -0.05, 0.05))
    model.lift_taken = float(np.clip(moved, *upstream_priors.LIFT_TAKEN_RANGE))
    short, beyond = chance > 0.5, lifts.unread_beyond(model.lift_taken)
    model.backed_if_short = _beta(
        backed[short].sum(),
        short.sum(),
        upstream_priors.BACKED_BY_LIFT_SHORT,
        upstream_priors.RATE_WEIGHT,
    )
    unread = backed[beyond > 0.0].sum() / model.backed_if_short
    model.unread_lifted = _beta(
        unread, beyond.sum(), upstream_priors.UNREAD_LIFTED, UNREAD_LIFT_WEIGHT
    )


def _beta(hits: float, count: float, prior: float, weight: float) -> float:
    return float(np.clip((hits + weight * prior) / (count + weight), 0.003, 0.99))


_WORKING, _LEAKING, _OPEN, _CLOSED = (
    list(priors.TRAP_RATES).index(name)
    for name in ("working", "leaking", "failed_open", "failed_closed")
)
assert LEAKING_GRID.stop == OPEN_GRID.start
assert LOOKS_INDEX["working"] == 0
