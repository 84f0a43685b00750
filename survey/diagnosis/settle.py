"""Which reading would settle an undecided trap: the one expected to tell most, by the model."""

from __future__ import annotations

import numpy as np

from survey.columns import TRAP_STATES
from survey.diagnosis import priors, upstream_priors
from survey.diagnosis.hypotheses import (
    HYPOTHESES,
    INDEX,
    LOOKS,
    LOOKS_INDEX,
    LOOKS_OF,
    by_state,
)
from survey.diagnosis.lifting import Lifts
from survey.diagnosis.likelihood import (
    expected_inlet,
    expected_outlet,
    followed,
    log_student,
    log_sum,
    outlet_blur,
    outlet_density,
    student,
)
from survey.diagnosis.model import Model
from survey.diagnosis.rows import Conditions, Rows
from survey.diagnosis.sound_levels import LEAKING_GRID, OPEN_GRID, sources_db
from survey.physics.sound import add_two_levels_db

READING_WORDS = {
    "inlet": "read the inlet's temperature",
    "outlet": "read the outlet's temperature",
    "sound": "listen for a minute and note the level with its background",
    "pattern": "listen for a minute and note the pattern",
    "observed": "open its test valve and watch what comes out",
    "valve": "look whether its isolating valve is open",
    "lift": "measure how high its return rises",
}
REPEATED = 0.35
"""A reading taken before tells less when taken again: the same pipe, the same hands."""
_SHARES = np.linspace(-0.1, 1.2, 27)
_LEVELS = np.linspace(-15.0, 60.0, 26)


def most_telling(
    model: Model, rows: Rows, state: Conditions, flow: np.ndarray, chance: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Find the reading with the highest expected information about the state.

    Parameters
    ----------
    chance
        Posterior of each trap, (n, hypotheses).

    Returns
    -------
    name
        Reading's name, a key of `READING_WORDS`, (n,).
    bits
        What it is expected to tell, bits, (n,).
    """
    if not len(rows):
        return np.array([], dtype=object), np.zeros(0)
    bits = telling_bits(model, rows, state, flow, chance)
    return np.array(list(READING_WORDS), dtype=object)[bits.argmax(axis=1)], bits.max(axis=1)


def telling_bits(
    model: Model, rows: Rows, state: Conditions, flow: np.ndarray, chance: np.ndarray
) -> np.ndarray:
    """Return what each reading is expected to tell about the state, bits, (n, readings).

    Readings run in the order of `READING_WORDS`; parameters are those of `most_telling`.
    """
    typed = rows.of_type(0) if (rows.trap_type < 0).all() else rows
    expected = expected_inlet(model, typed, state)
    inlet = ((rows.inlet_f - rows.ambient_f) / state.span_f)[:, None]
    by_inlet = expected_outlet(model, state) + followed(model, inlet - expected)
    outcomes = {
        # As they are judged: past the last that is expected, a reading tells no more.
        "inlet": _temperature(
            student(
                _misses(np.maximum(_SHARES, expected.min(axis=1)[:, None]), expected),
                model.inlet_blur[None, :, None],
                priors.GROSS_TEMPERATURE,
            )
        ),
        "outlet": _temperature(
            outlet_density(
                model,
                _misses(np.minimum(_SHARES, by_inlet.max(axis=1)[:, None]), by_inlet),
                outlet_blur(model, np.isnan(rows.inlet_f)),
                by_inlet,
            )
        ),
        "sound": _sound(model, typed, flow),
        "pattern": model.pattern[typed.trap_type][:, LOOKS_OF],
        "observed": np.broadcast_to(
            model.observed[LOOKS_OF], (len(rows), len(HYPOTHESES), model.observed.shape[1])
        ),
        "valve": _valve(len(rows)),
        "lift": _lift(model, rows, state),
    }
    bits = np.stack([expected_bits(chance, outcomes[name]) for name in READING_WORDS], axis=1)
    return np.where(taken(rows), REPEATED * bits, bits)


def taken(rows: Rows) -> np.ndarray:
    """Say which readings were taken, (n, readings), in the order of `READING_WORDS`."""
    given = {
        "inlet": ~np.isnan(rows.inlet_f),
        "outlet": ~np.isnan(rows.outlet_f),
        "sound": ~np.isnan(rows.sound_db),
        "pattern": rows.pattern >= 0,
        "observed": rows.observed >= 0,
        "valve": rows.valve >= 0,
        "lift": ~np.isnan(rows.lift_ft),
    }
    return np.stack([given[name] for name in READING_WORDS], axis=1)


def expected_bits(chance: np.ndarray, likely: np.ndarray) -> np.ndarray:
    """Mutual information of a trap's state and a reading, bits, (n,).

    Parameters
    ----------
    chance
        Probability of each hypothesis, (n, hypotheses).
    likely
        Probability of each outcome under each hypothesis, (n, hypotheses, outcomes).
    """
    together = chance[:, :, None] * likely
    by_outcome = np.zeros((len(chance), len(TRAP_STATES), likely.shape[2]))
    for outcome in range(likely.shape[2]):
        by_outcome[:, :, outcome] = by_state(together[:, :, outcome])
    marginal = by_outcome.sum(axis=1, keepdims=True)
    states = by_state(chance)
    result: np.ndarray = (
        _entropy(states).sum(axis=1)
        - (_entropy(by_outcome).sum(axis=1) - _entropy(marginal)[:, 0]).sum(axis=1)
    ) / np.log(2.0)
    return np.asarray(np.maximum(result, 0.0))


def _entropy(p: np.ndarray) -> np.ndarray:
    return np.where(p > 0, -p * np.log(np.maximum(p, 1e-300)), 0.0)


def _misses(read: np.ndarray, expected: np.ndarray) -> np.ndarray:
    """Return how far readings (n, k) are over what each look expects, (n, looks, k)."""
    return np.asarray(read[:, None] - expected[:, :, None])


def _temperature(density: np.ndarray) -> np.ndarray:
    """Chance of each reading under each hypothesis, (n, hypotheses, k), by its density (…, k)."""
    likely = density / density.sum(axis=2, keepdims=True)
    result: np.ndarray = likely[:, LOOKS_OF]
    return result


def _sound(model: Model, rows: Rows, flow: np.ndarray) -> np.ndarray:
    sources = sources_db(model, rows, flow)
    spread = model.sound_spread_db[np.array([0, 1] + [2] * (sources.shape[1] - 2))]
    logs = log_student(
        _LEVELS - add_two_levels_db(level_db=np.zeros(1), other_db=sources)[:, :, None],
        spread[:, None],
        priors.GROSS_SOUND,
    )
    looks = np.repeat(logs[:, :1], len(LOOKS), axis=1)
    looks[:, LOOKS_INDEX["working"]] = logs[:, 1]
    jets = np.moveaxis(logs[:, 2:], 1, 2)
    looks[:, LOOKS_INDEX["leaking"]] = log_sum(
        jets[..., LEAKING_GRID] + np.log(priors.OPENING_LEAKING_WEIGHT)
    )
    looks[:, LOOKS_INDEX["failed_open"]] = log_sum(
        jets[..., OPEN_GRID] + np.log(priors.OPENING_OPEN_WEIGHT)
    )
    density = np.exp(looks)
    likely = density / density.sum(axis=2, keepdims=True)
    result: np.ndarray = likely[:, LOOKS_OF]
    return result


def _valve(count: int) -> np.ndarray:
    closed = np.array(
        [
            priors.VALVE_CLOSED_READ if h.cause == "valved_off" else priors.VALVE_CLOSED_MISREAD
            for h in HYPOTHESES
        ]
    )
    return np.broadcast_to(np.stack([1.0 - closed, closed], axis=1), (count, len(closed), 2))


def _lift(model: Model, rows: Rows, state: Conditions) -> np.ndarray:
    """Chance that a lift nobody noted proves to be within the pressure's reach, and beyond it."""
    beyond = model.unread_lifted * Lifts.of(rows, state).unread_beyond(model.lift_taken)
    held = model.backed_if_short * beyond
    enough = upstream_priors.BACKED_BY_LIFT_ENOUGH * (1.0 - beyond)
    chance = np.repeat(((beyond - held) / (1.0 - held))[:, None], len(HYPOTHESES), axis=1)
    chance[:, INDEX["backed_by_lift"]] = held / (held + enough)
    return np.stack([1.0 - chance, chance], axis=2)
