"""Evidence in words: the readings that decided, as odds, and what speaks against."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from survey.columns import DEVICES, OBSERVATIONS, PATTERNS, VALVE_POSITIONS
from survey.diagnosis.phrases import NOTHING, Pieces
from survey.diagnosis.rows import Conditions, Rows
from survey.diagnosis.rowwise import row_min, row_sum, table

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

Clause = Callable[[str, np.ndarray], list[np.ndarray]]
"""Makes words of a reading by its name, for the rows at these positions: numbers of `Pieces`, at
most `MOST_PIECES` to a row, (n,) each."""
MOST_PIECES = 4


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
    return _ODDS_WORDS[int(_odds(np.array([nats]))[0])]


def _odds(nats: np.ndarray) -> np.ndarray:
    """Return the code of the odds of each natural log."""
    return np.asarray(np.searchsorted(_ODDS_FROM, np.exp(np.minimum(np.abs(nats), 20.0))))


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
    pieces: Pieces,
    parts: dict[str, np.ndarray],
    clause: Clause,
    words: Sequence[str],
    first: np.ndarray,
    second: np.ndarray,
) -> np.ndarray:
    """Say what decided between two explanations of each row, in numbers of pieces, (n, k).

    Parameters
    ----------
    parts
        Natural log of how much each reading favours the first over the second, (n,) each.
    clause
        Makes words of a reading.
    words
        All explanations in words.
    first, second
        Codes of the two among them, (n,).
    """
    names, nats = list(parts), np.stack(list(parts.values()), axis=1)
    order = np.argsort(-nats, axis=1, kind="stable")[:, :MOST_FOR]
    told = np.take_along_axis(nats, order, axis=1) >= LEAST_NATS
    worst, least = nats.argmin(axis=1), row_min(nats)
    against = least <= -LEAST_NATS
    use = table(len(nats), order.shape[1] + 1)
    use[:, :-1] = np.where(told, order, -1)
    use[:, -1] = np.where(against, worst, -1)
    lead, *others, opposed = _slots(names, use, clause)
    undecided = pieces.alike("No one reading decides it")
    said = [np.where(told[:, 0], pieces.capital(lead[0]), undecided), *lead[1:]]
    for slot, other in enumerate(others, 1):
        said += [np.where(told[:, slot], pieces.alike("; "), NOTHING), *other]
    said += [
        pieces.of([f": {odds} for " for odds in _ODDS_WORDS], _odds(row_sum(nats))),
        pieces.of(words, first),
        pieces.of([f" over {word}." for word in words], second),
        np.where(against, pieces.alike(" Against: "), NOTHING),
        *opposed,
        np.where(
            against,
            pieces.of([f" ({odds} the other way)." for odds in _ODDS_WORDS], _odds(least)),
            NOTHING,
        ),
    ]
    return np.stack(said, axis=1)


def _slots(names: list[str], use: np.ndarray, clause: Clause) -> list[list[np.ndarray]]:
    """Return the words of the reading that each row tells in each place, by slot and piece."""
    slots = [[np.full(len(use), NOTHING, np.int32) for _ in range(MOST_PIECES)] for _ in use.T]
    for code, name in enumerate(names):
        rows = np.flatnonzero((use == code).any(axis=1))
        if not len(rows):
            continue
        words = clause(name, rows)
        assert len(words) <= MOST_PIECES, f"{name} has more pieces than a slot"
        for slot, used in zip(slots, use.T, strict=True):
            mine = np.flatnonzero(used[rows] == code)
            for piece, numbers in zip(slot, words, strict=False):
                piece[rows[mine]] = numbers[mine]
    return slots


def clauses_of(pieces: Pieces, told: Told, index: np.ndarray, others: dict[str, Clause]) -> Clause:
    """Return what makes words of each reading of some rows.

    Parameters
    ----------
    index
        Positions of the rows among those of ``told``.
    others
        Words of what bears on a row from outside its own readings, by name.
    """
    rows = told.rows
    makers: dict[str, Callable[[np.ndarray], list[np.ndarray]]] = {
        "inlet": lambda at: _inlet(pieces, told, at),
        "outlet": lambda at: _outlet(pieces, told, at),
        "sound": lambda at: _sound(pieces, told, at),
        "pattern": lambda at: [pieces.of(_PATTERN, rows.pattern[at])],
        "observed": lambda at: [pieces.of(_OBSERVED, rows.observed[at])],
        "valve": lambda at: [pieces.of(_VALVE, rows.valve[at])],
        "present": lambda at: [pieces.of(_PRESENT, rows.present[at] % len(_PRESENT))],
    }

    def clause(name: str, at: np.ndarray) -> list[np.ndarray]:
        return others[name](name, at) if name in others else makers[name](index[at])

    return clause


_PATTERN = [PATTERN_WORDS[pattern] for pattern in PATTERNS]
_OBSERVED = [OBSERVED_WORDS[seen] for seen in OBSERVATIONS]
_VALVE = [f"its isolating valve reads {position}" for position in VALVE_POSITIONS]
_PRESENT = ["it is fitted", "it is not fitted", "it was there to be read"]
"""Blank, it counts only as fitted: a device that has readings (the last word, code -1)."""


_OUTLET = ["its outlet", "before its check valve the pipe"]


def _inlet(pieces: Pieces, told: Told, at: np.ndarray) -> list[np.ndarray]:
    state = told.state
    read, corrected = told.rows.inlet_f[at], told.corrected.inlet_f[at]
    moved = np.abs(corrected - read) >= SAME_READING_F
    span = state.span_f[at]
    way = np.clip((corrected - told.rows.ambient_f[at]) / span, 0.0, 1.0)
    hot = np.where(np.isnan(span), np.nan, state.saturation_f[at])
    return [
        pieces.each("its inlet reads {} °F".format, read),
        pieces.each(" ({} °F as corrected)".format, np.where(moved, corrected, np.nan)),
        pieces.each(", {} % of the way to saturation".format, 100.0 * way),
        pieces.each(" ({} °F)".format, hot),
    ]


def _outlet(pieces: Pieces, told: Told, at: np.ndarray) -> list[np.ndarray]:
    rows = told.rows
    trap = rows.device[at] == DEVICES.index("trap")
    shared = rows.by_shared_pipe[at]
    before = np.where(trap, np.nan, rows.inlet_f[at])
    back = np.where(trap, told.state.return_saturation_f[at], np.nan)
    return [
        pieces.of(_OUTLET, np.where(trap & shared, 1, 0)),
        pieces.each(" reads {} °F".format, rows.outlet_f[at]),
        pieces.each(" (the return's saturation is {} °F)".format, back),
        np.where(
            shared,
            pieces.each(" and its trap's {} °F".format, before),
            pieces.each(" and its inlet {} °F".format, before),
        ),
    ]


def _sound(pieces: Pieces, told: Told, at: np.ndarray) -> list[np.ndarray]:
    level = told.rows.sound_db[at]
    backgrounds = ["the round's usual background", "its background"]
    return [
        pieces.each("it sounds {} dB".format, level),
        pieces.each(", {:+d} dB on ".format, level - told.background_db[at]),
        pieces.of(backgrounds, told.background_known[at]),
    ]


def commoner(
    pieces: Pieces,
    nats: np.ndarray,
    words: Sequence[str],
    first: np.ndarray,
    second: np.ndarray,
) -> Clause:
    """Return words for which of two explanations is the commoner among a row's like."""

    def clause(_: str, at: np.ndarray) -> list[np.ndarray]:
        one, other = first[at], second[at]
        ahead = nats[at] > 0
        return [
            pieces.of([f"{word} is commoner than " for word in words], np.where(ahead, one, other)),
            pieces.of(words, np.where(ahead, other, one)),
        ]

    return clause
