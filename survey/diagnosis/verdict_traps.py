"""Verdicts of traps: state, cause, what to do and why."""

from __future__ import annotations

import numpy as np

from survey.columns import CAUSES, DEVICES, PRESENCES, TRAP_STATES, UNDECIDED, VALVE_POSITIONS
from survey.diagnosis.actions import (
    CONFIRM_UNDER,
    MEASURE_LIFT,
    NOT_FITTED,
    NOTHING_TO_DO,
    SEE_IT_IS_THERE,
    SHUT_AND_HOT,
    VENT_FIRST,
    trap_action,
)
from survey.diagnosis.calibration import Calibration
from survey.diagnosis.device_there import heard_itself
from survey.diagnosis.flagging import shut_and_hot
from survey.diagnosis.heaters import WAY_OF
from survey.diagnosis.hypotheses import (
    CAUSE_OF,
    HOT_LOOKS,
    HYPOTHESES,
    INDEX,
    LOOKS,
    STATE_OF,
    by_state,
)
from survey.diagnosis.model import Model
from survey.diagnosis.phrases import Pieces, distinct
from survey.diagnosis.rows import Rows
from survey.diagnosis.settle import READING_WORDS, most_telling, taken
from survey.diagnosis.speech import HYPOTHESIS_WORDS, Clause, Told, clauses_of, decided
from survey.diagnosis.spoken import Spoken, named
from survey.diagnosis.trap_logs import FACTORS
from survey.diagnosis.upstream import LIKELY, UPSTREAM, Upstream
from survey.diagnosis.weighing import Round, Weighed

TRAP_USUAL_FROM = 0.90
"""A state is named though no reading tells it only where it is this usual in the round: a trap
that nobody read may be losing steam."""
VALVED_OFF_UNSEEN = 0.60
"""Share of being cold that 'valved off' must have to be named where no valve was seen closed."""
CONDEMNED_FROM = 0.60
"""Probability from which a trap is called failed closed where it may be held up from upstream: a
good one scrapped leaves what holds it up in place, and costs twice."""
CONDEMNED_UNVENTED_FROM = 0.80
"""The same where its air vent is likely shut: that is mended first whatever the trap is."""
LOSING_FROM = 0.60
"""Probability of passing steam, a little or wide open, from which the trap is at fault though it is
undecided how much it passes."""
THERE_FROM = 0.90
"""Probability from which a trap that is noted as not fitted is judged by what was read of it."""
_WITH_STEAM = [i for i, h in enumerate(HYPOTHESES) if h.looks in LOOKS[:HOT_LOOKS]]
_LOSING = [TRAP_STATES.index(name) for name in ("leaking", "failed_open")]
_READINGS = list(READING_WORDS)
_WORDS = [HYPOTHESIS_WORDS[h.name] for h in HYPOTHESES]


def trap_verdicts(
    pieces: Pieces,
    calibration: Calibration,
    whole: Round,
    weighed: Weighed,
    told: Told,
) -> Spoken:
    """Judge the traps of a round that was weighed."""
    trap = weighed.joint.trap
    states = by_state(trap)
    confidence = states.max(axis=1, initial=0.0)
    sure = named(confidence, weighed.logs.total, usual_from=TRAP_USUAL_FROM)
    unfitted = told.rows.present[weighed.traps] == PRESENCES.index("no")
    first, second = _leaders(trap, states, told.rows.valve[weighed.traps])
    # What passes steam or condensate as a trap does is one, though it is noted as not fitted.
    noted = np.flatnonzero(unfitted)
    there = heard_itself(told.rows.take(weighed.traps[noted])) & (confidence[noted] >= THERE_FROM)
    sure[noted] &= there & np.isin(first[noted], _WITH_STEAM)
    closed = first == INDEX["failed_closed"]
    unvented = closed & (weighed.joint.shut[told.rows.equipment[weighed.traps]] >= LIKELY)
    least = np.where(unvented, CONDEMNED_UNVENTED_FROM, CONDEMNED_FROM)
    sure &= ~(closed & UPSTREAM[second] & (confidence < least))
    losing = ~unfitted & (states[:, _LOSING].sum(axis=1) >= LOSING_FROM)
    unsure = np.where(losing, CAUSES.index("trap"), CAUSES.index("unknown"))
    telling, again = _telling(calibration, whole, weighed, (confidence < CONFIRM_UNDER) | ~sure)
    undecided = len(TRAP_STATES)
    hot = shut_and_hot(told)[weighed.traps]
    unread = (first == INDEX["backed_by_lift"]) & ~np.isnan(weighed.lifts.raised_ft)
    before = np.select([unfitted & ~sure, unfitted, hot, unread, unvented], [0, 1, 2, 3, 4], 5)
    return Spoken(
        index=weighed.traps,
        confidence=confidence,
        state=pieces.of([*TRAP_STATES, UNDECIDED], np.where(sure, STATE_OF[first], undecided)),
        cause=pieces.of(CAUSES, np.where(sure, CAUSE_OF[first], unsure)),
        action=_actions(
            pieces, sure, first, second, telling, again, confidence >= CONFIRM_UNDER, before
        ),
        evidence=_evidence(pieces, weighed, told, first, second, calibration.model),
    )


def _leaders(
    trap: np.ndarray, states: np.ndarray, valve: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Return the likeliest explanation of the likeliest state, and the best of any other."""
    best = states.argmax(axis=1)[:, None]
    first = np.where(best == STATE_OF, trap, -1.0).argmax(axis=1)
    second = np.where(best != STATE_OF, trap, -1.0).argmax(axis=1)
    by_valve = INDEX["cold_by_valve"]
    unseen = valve != VALVE_POSITIONS.index("closed")
    weak = trap[:, by_valve] < VALVED_OFF_UNSEEN * states[:, TRAP_STATES.index("cold")]
    guessed = (first == by_valve) & unseen & weak
    return np.where(guessed, INDEX["cold_unexplained"], first), second


def _telling(
    calibration: Calibration, whole: Round, weighed: Weighed, unsure: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Return the reading that would tell most of each unsure trap, and if it was taken before.

    Both are (traps,); the reading is -1 of the others.
    """
    result, again = np.full(len(unsure), -1), np.zeros(len(unsure), dtype=bool)
    which = np.flatnonzero(unsure)
    part, at = whole.part(weighed.traps[which])
    names, _ = most_telling(
        calibration.model, part, at, weighed.logs.flow_lb_per_h[which], weighed.joint.trap[which]
    )
    result[which] = [_READINGS.index(name) for name in names]
    again[which] = taken(part)[np.arange(len(which)), result[which]]
    return result, again


def _actions(
    pieces: Pieces,
    sure: np.ndarray,
    first: np.ndarray,
    second: np.ndarray,
    telling: np.ndarray,
    again: np.ndarray,
    firm: np.ndarray,
    before: np.ndarray,
) -> np.ndarray:
    """Say what to do.

    Parameters
    ----------
    before
        What stands before it: 0 where noted as not fitted, 1 where it shows itself all the same,
        2 where shut and hot, 3 where a lift that nobody noted is blamed, 4 where a trap that passes
        nothing may be air-bound, else 5.
    """
    kinds, each = distinct(sure, first, np.where(sure, -1, second), telling, again, firm, before)
    words = []
    for known, one, other, reading, taken_before, trusted, there in kinds:
        named = _READINGS[reading] if reading >= 0 else ""
        action = trap_action(
            HYPOTHESES[one].name if known else UNDECIDED,
            HYPOTHESES[other].name,
            HYPOTHESES[one].name,
            named,
            again=bool(taken_before),
            firm=bool(trusted),
        )
        measured = MEASURE_LIFT + action if known and named != "lift" else action
        noted = (SEE_IT_IS_THERE + action).removesuffix(f" {NOTHING_TO_DO}")
        vented = VENT_FIRST + action if known else action
        words.append((NOT_FITTED, noted, SHUT_AND_HOT + action, measured, vented, action)[there])
    return pieces.of(words, each)


def _evidence(
    pieces: Pieces,
    weighed: Weighed,
    told: Told,
    first: np.ndarray,
    second: np.ndarray,
    model: Model,
) -> np.ndarray:
    each = np.arange(len(first))
    parts = {
        name: weighed.logs.factors[name][each, first] - weighed.logs.factors[name][each, second]
        for name in FACTORS
    }
    ways = np.log(weighed.by_breaker)
    parts["breaker"] = ways[each, WAY_OF[first]] - ways[each, WAY_OF[second]]
    trap = np.log(np.maximum(weighed.joint.trap, 1e-12))
    parts["upstream"] = trap[each, first] - trap[each, second] - sum(parts.values())
    seat = told.rows.equipment[weighed.traps]
    upstream = Upstream(
        pieces=pieces,
        words=_WORDS,
        first=first,
        second=second,
        nats=parts["upstream"],
        shut=weighed.joint.shut[seat],
        stuck=1.0 - weighed.joint.check[seat, 0],
        vented=np.isin(seat, told.rows.equipment[told.rows.device == DEVICES.index("air_vent")]),
        lifts=weighed.lifts,
        lift_taken=model.lift_taken,
        valved_off=model.valved_off,
    )
    breaker = _breaker_inlets(told.rows, len(weighed.joint.shut))[seat]
    others: dict[str, Clause] = {
        "upstream": upstream.clause,
        "breaker": lambda _, at: [
            pieces.of(["its vacuum breaker"], np.zeros(len(at))),
            pieces.each(" reads {} °F".format, breaker[at]),
        ]
    }
    clause = clauses_of(pieces, told, weighed.traps, others)
    return decided(pieces, parts, clause, _WORDS, first, second)


def _breaker_inlets(rows: Rows, count: int) -> np.ndarray:
    """Return what the breaker of each equipment reads before it, °F, (E,); NaN where nothing."""
    breaker = np.flatnonzero(rows.device == DEVICES.index("vacuum_breaker"))
    result = np.full(count, np.nan)
    result[rows.equipment[breaker]] = rows.inlet_f[breaker]
    return result
