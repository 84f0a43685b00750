"""Evidence in words: the readings that decided, as odds, and what speaks against."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from survey.columns import OBSERVATIONS, PATTERNS, VALVE_POSITIONS
from survey.diagnosis.phrases import phrase, pick, placed, rounded, where
from survey.diagnosis.rows import Conditions, Rows

STATE_WORDS = {
    "working": "working",
    "leaking": "leaking",
    "failed_open": "blown open",
    "failed_closed": "failed closed",
    "backed_up": "backed up",
    "cold": "cold",
    "isolated": "isolated",
    "missing": "missing",
    "passing_water": "passing water",
    "stuck": "stuck",
    "passing_back": "passing back",
}
HYPOTHESIS_WORDS = {
    "working": "working",
    "working_idle": "working with little to discharge",
    "leaking": "leaking",
    "failed_open": "blown open",
    "failed_closed": "failed closed",
    "backed_by_check": "backed up behind its check valve",
    "backed_by_lift": "backed up by its lift",
    "backed_unexplained": "backed up, cause not seen",
    "cold_by_vent": "cold for want of venting",
    "cold_by_valve": "valved off",
    "cold_unexplained": "without steam, cause not seen",
}
PATTERN_WORDS = {
    "quiet": "it is quiet",
    "intermittent": "its sound comes and goes",
    "continuous": "it hisses without a pause",
    "modulating": "its sound rises and falls",
}
OBSERVED_WORDS = {
    "nothing": "nothing came out when it was opened or watched",
    "air": "air came out when it was opened or watched",
    "water": "water came out when it was opened or watched",
    "steam": "steam came out when it was opened or watched",
}
LEAST_NATS = 0.35
"""A reading that moves the odds by less than this, natural log, is not worth a word."""
MOST_ODDS = 1000
MOST_FOR = 3
"""Readings told for a verdict, at the most; one is told against it."""
SAME_READING_F = 1.5
"""A correction smaller than this is no news to whoever held the thermometer, °F."""

Clause = Callable[[str, np.ndarray], pa.Array]
"""Makes words of a reading by its name, for the rows at these positions."""


@dataclass(frozen=True)
class Told:
    """What the words are made from: readings as read and as corrected, and conditions."""

    rows: Rows
    corrected: Rows
    state: Conditions
    background_db: np.ndarray
    background_known: np.ndarray


def odds_words(nats: float) -> str:
    """Return odds from a natural log: '40 to 1', 'about even', 'over 1,000 to 1'."""
    return str(_odds(np.array([nats]))[0])


def _odds(nats: np.ndarray) -> pa.Array:
    """Return the odds of each natural log in words."""
    return pick(_ODDS_WORDS, np.searchsorted(_ODDS_FROM, np.exp(np.minimum(np.abs(nats), 20.0))))


def _odds_steps() -> tuple[np.ndarray, list[str]]:
    """Return odds of two figures, each with the odds from which it is the nearest."""
    steps = [*(n / 10 for n in range(12, 100)), *range(10, 100), *range(100, 1001, 10)]
    middles = [0.5 * (low + high) for low, high in itertools.pairwise(steps)]
    words = [f"{step:,.10g} to 1" for step in steps]
    return (
        np.array([1.2, *middles, MOST_ODDS]),
        ["about even", *words, f"over {MOST_ODDS:,} to 1"],
    )


_ODDS_FROM, _ODDS_WORDS = _odds_steps()


def decided(
    parts: dict[str, np.ndarray], clause: Clause, first: pa.Array, second: pa.Array
) -> pa.Array:
    """Say what decided between two explanations of each row.

    Parameters
    ----------
    parts
        Natural log of how much each reading favours the first over the second, (n,) each.
    clause
        Makes words of a reading.
    first, second
        The explanations in words, (n,).
    """
    names, nats = list(parts), np.stack(list(parts.values()), axis=1)
    order = np.argsort(-nats, axis=1, kind="stable")[:, :MOST_FOR]
    told = np.take_along_axis(nats, order, axis=1) >= LEAST_NATS
    worst = nats.argmin(axis=1)
    against = nats.min(axis=1) <= -LEAST_NATS
    use = np.concatenate([np.where(told, order, -1), np.where(against, worst, -1)[:, None]], axis=1)
    clauses = [_used(names[k], k, use, clause) for k in range(len(names))]
    lead, *others, opposed = (
        _slot(use[:, slot], clauses) for slot in range(use.shape[1])
    )
    lead = where(told[:, 0], _capital(lead), "No one reading decides it")
    for slot, other in enumerate(others, 1):
        lead = phrase(lead, where(told[:, slot], "; ", ""), other)
    odds = _odds(nats.sum(axis=1))
    turned = phrase(" Against: ", opposed, " (", _odds(nats.min(axis=1)), " the other way).")
    ending = where(against, turned, "")
    return phrase(lead, ": ", odds, " for ", first, " over ", second, ".", ending)


def _used(name: str, code: int, use: np.ndarray, clause: Clause) -> tuple[np.ndarray, pa.Array]:
    rows = np.flatnonzero((use == code).any(axis=1))
    return rows, clause(name, rows) if len(rows) else pa.array([], type=pa.string())


def _slot(code: np.ndarray, clauses: list[tuple[np.ndarray, pa.Array]]) -> pa.Array:
    """Return the words of the reading that each row tells in one place, blank where it has none."""
    parts = []
    for position, (rows, words) in enumerate(clauses):
        mine = code[rows] == position
        parts.append((rows[mine], words.filter(pa.array(mine))))
    return placed(len(code), parts)


def _capital(words: pa.Array) -> pa.Array:
    first = pc.utf8_upper(pc.utf8_slice_codeunits(words, 0, 1))
    return phrase(first, pc.utf8_slice_codeunits(words, 1))


def clauses_of(told: Told, index: np.ndarray, others: dict[str, Clause]) -> Clause:
    """Return what makes words of each reading of some rows.

    Parameters
    ----------
    index
        Positions of the rows among those of ``told``.
    others
        Words of what bears on a row from outside its own readings, by name.
    """
    rows = told.rows
    makers: dict[str, Callable[[np.ndarray], pa.Array]] = {
        "inlet": lambda at: _inlet(told, at),
        "outlet": lambda at: _outlet(told, at),
        "sound": lambda at: _sound(told, at),
        "pattern": lambda at: pick([PATTERN_WORDS[p] for p in PATTERNS], rows.pattern[at]),
        "observed": lambda at: pick([OBSERVED_WORDS[o] for o in OBSERVATIONS], rows.observed[at]),
        "valve": lambda at: pick(
            [f"its isolating valve reads {p}" for p in VALVE_POSITIONS], rows.valve[at]
        ),
        # Blank, it counts only as fitted: a device that has readings (the last word, code -1).
        "present": lambda at: pick(
            ["it is fitted", "it is not fitted", "it was there to be read"], rows.present[at] % 3
        ),
    }

    def clause(name: str, at: np.ndarray) -> pa.Array:
        return others[name](name, at) if name in others else makers[name](index[at])

    return clause


def _inlet(told: Told, at: np.ndarray) -> pa.Array:
    state = told.state
    corrected = told.corrected.inlet_f[at]
    read = phrase("its inlet reads ", rounded(told.rows.inlet_f[at]), " °F")
    moved = np.abs(corrected - told.rows.inlet_f[at]) >= SAME_READING_F
    true = phrase(read, " (", rounded(np.where(moved, corrected, 0.0)), " °F as corrected)")
    read = where(moved, true, read)
    span = state.span_f[at]
    way = np.clip(np.nan_to_num((corrected - told.rows.ambient_f[at]) / span), 0.0, 1.0)
    hot = rounded(np.where(np.isnan(span), 0.0, state.saturation_f[at]))
    share = phrase(read, ", ", rounded(100.0 * way), " % of the way to saturation (", hot, " °F)")
    return where(np.isnan(span), read, share)


def _outlet(told: Told, at: np.ndarray) -> pa.Array:
    read = phrase("its outlet reads ", rounded(told.rows.outlet_f[at]), " °F")
    back = told.state.return_saturation_f[at]
    known = rounded(np.nan_to_num(back))
    return where(
        np.isnan(back), read, phrase(read, " (the return's saturation is ", known, " °F)")
    )


def _sound(told: Told, at: np.ndarray) -> pa.Array:
    level = told.rows.sound_db[at]
    over = np.rint(level - told.background_db[at])
    on = pick(
        ["the round's usual background", "its background"],
        told.background_known[at].astype(np.int8),
    )
    sign = where(over >= 0, "+", "")
    return phrase("it sounds ", rounded(level), " dB, ", sign, rounded(over), " dB on ", on)


def commoner(nats: np.ndarray, first: pa.Array, second: pa.Array) -> Clause:
    """Return words for which of two explanations is the commoner among a row's like."""

    def clause(_: str, at: np.ndarray) -> pa.Array:
        taken = pa.array(at)
        one, other = first.take(taken), second.take(taken)
        ahead = nats[at] > 0
        return phrase(where(ahead, one, other), " is commoner than ", where(ahead, other, one))

    return clause
