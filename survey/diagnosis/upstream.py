"""What bears on a trap from outside its own readings, in words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from survey.columns import CAUSES
from survey.diagnosis.hypotheses import CAUSE_OF
from survey.diagnosis.lifting import Lifts
from survey.diagnosis.phrases import NOTHING, Pieces
from survey.diagnosis.speech import commoner

LIKELY, POSSIBLE = 0.5, 0.2
UPSTREAM = np.isin(np.array(CAUSES)[CAUSE_OF], ["air_vent", "check_valve", "lift", "valved_off"])
"""Which hypotheses blame something other than the trap."""


@dataclass(frozen=True)
class Upstream:
    """What is believed of each trap's surroundings, and the two explanations it bears on.

    Parameters
    ----------
    words
        All explanations in words.
    first, second
        Positions of the leading explanation and of the runner-up, (n,).
    nats
        Natural log of how much the surroundings favour the first, (n,).
    shut, stuck
        Chance that the trap's vent is shut or missing, that its check valve is faulty, (n,).
    vented
        Whether a vent of its equipment is listed, (n,).
    lifts
        Of the traps.
    lift_taken
        Share of the pressure at hand that traps and pipes take.
    valved_off
        Share of such traps that are valved off.
    """

    pieces: Pieces
    words: Sequence[str]
    first: np.ndarray
    second: np.ndarray
    nats: np.ndarray
    shut: np.ndarray
    stuck: np.ndarray
    vented: np.ndarray
    lifts: Lifts
    lift_taken: float
    valved_off: float

    def clause(self, _: str, at: np.ndarray) -> list[np.ndarray]:
        """Return words for the traps at these positions."""
        first, second = self.first[at], self.second[at]
        blamed = np.where(UPSTREAM[first], first, second)
        cause = np.where(UPSTREAM[blamed], CAUSE_OF[blamed], -1)
        is_cause = {name: cause == CAUSES.index(name) for name in CAUSES}
        by_lift = is_cause["lift"] & ~np.isnan(self.lifts.short_psi[at])
        unread = is_cause["lift"] & ~np.isnan(self.lifts.raised_ft[at])
        told = is_cause["air_vent"] | is_cause["check_valve"] | is_cause["valved_off"]
        usual = ~(told | by_lift | unread)
        said = [np.full(len(at), NOTHING, dtype=np.int32) for _ in range(2)]
        for mask, make in (
            (is_cause["air_vent"], self._vent),
            (is_cause["check_valve"], self._check_valve),
            (by_lift, self._lift),
            (unread, self._unread_lift),
            (is_cause["valved_off"], self._valved_off),
            (usual, self._usual),
        ):
            for piece, numbers in zip(said, make(at[mask]), strict=False):
                piece[mask] = numbers
        return said

    def _vent(self, at: np.ndarray) -> list[np.ndarray]:
        said = self._chance("its air vent", self.shut[at], "shut or missing")
        none = self._chance("no air vent of it is listed: one", self.shut[at], "shut or missing")
        return [np.where(self.vented[at], *each) for each in zip(said, none, strict=True)]

    def _check_valve(self, at: np.ndarray) -> list[np.ndarray]:
        return self._chance("a check valve", self.stuck[at], "stuck or passing back")

    def _lift(self, at: np.ndarray) -> list[np.ndarray]:
        taken = self.lift_taken * self.lifts.at_hand_psi[at]
        short = self.lifts.short_psi[at] + taken
        lacking = self.pieces.each("its lift wants {} psi more than there is".format, short)
        spare = self.pieces.each("its lift has {} psi to spare".format, -short)
        left = self.pieces.each(" once trap and pipes take {} psi".format, taken)
        return [np.where(short > 0, lacking, spare), np.where(taken < 0.5, NOTHING, left)]

    def _unread_lift(self, at: np.ndarray) -> list[np.ndarray]:
        raised = "no lift of it is noted, and its pressure raises condensate {} ft".format
        return [self.pieces.each(raised, self.lifts.raised_ft[at])]

    def _valved_off(self, at: np.ndarray) -> list[np.ndarray]:
        share = f"about {100 * self.valved_off:.2g} % of such traps are valved off"
        return [self.pieces.of([share], np.zeros(len(at)))]

    def _usual(self, at: np.ndarray) -> list[np.ndarray]:
        said = commoner(self.pieces, self.nats, self.words, self.first, self.second)
        return said("usual", at)

    def _chance(self, subject: str, chance: np.ndarray, state: str) -> list[np.ndarray]:
        verb = np.where(chance >= LIKELY, 0, np.where(chance >= POSSIBLE, 1, 2))
        verbs = [f"{subject} {verb} {state}" for verb in ("is likely", "may be", "is hardly")]
        return [self.pieces.of(verbs, verb), self.pieces.each(_percent, 100.0 * chance)]


def _percent(whole: int) -> str:
    share = "over 99" if whole > 99 else "under 1" if whole < 1 else str(whole)
    return f" ({share} %)"
