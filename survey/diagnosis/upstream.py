"""What bears on a trap from outside its own readings, in words."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pyarrow as pa

from survey.columns import CAUSES
from survey.diagnosis.hypotheses import CAUSE_OF
from survey.diagnosis.phrases import phrase, pick, placed, rounded, where
from survey.diagnosis.speech import commoner

LIKELY, POSSIBLE = 0.5, 0.2
_UPSTREAM = np.isin(np.array(CAUSES)[CAUSE_OF], ["air_vent", "check_valve", "lift", "valved_off"])
"""Which hypotheses blame something other than the trap."""


@dataclass(frozen=True)
class Upstream:
    """What is believed of each trap's surroundings, and the two explanations it bears on.

    Parameters
    ----------
    first, second
        Positions of the leading explanation and of the runner-up, (n,).
    first_words, second_words
        Those in words, (n,).
    nats
        Natural log of how much the surroundings favour the first, (n,).
    shut, stuck
        Chance that the trap's vent is shut or missing, that its check valve is faulty, (n,).
    short_psi
        Pressure lacking for its lift, negative where there is some to spare, (n,).
    valved_off
        Share of such traps that are valved off.
    """

    first: np.ndarray
    second: np.ndarray
    first_words: pa.Array
    second_words: pa.Array
    nats: np.ndarray
    shut: np.ndarray
    stuck: np.ndarray
    short_psi: np.ndarray
    valved_off: float

    def clause(self, _: str, at: np.ndarray) -> pa.Array:
        """Return words for the traps at these positions."""
        first, second = self.first[at], self.second[at]
        blamed = np.where(_UPSTREAM[first], first, second)
        cause = np.where(_UPSTREAM[blamed], CAUSE_OF[blamed], -1)
        is_cause = {name: cause == CAUSES.index(name) for name in CAUSES}
        by_lift = is_cause["lift"] & ~np.isnan(self.short_psi[at])
        parts = [
            (is_cause["air_vent"], self._vent),
            (is_cause["check_valve"], self._check_valve),
            (by_lift, self._lift),
            (is_cause["valved_off"], self._valved_off),
        ]
        said = [(np.flatnonzero(mask), make(at[mask])) for mask, make in parts]
        rest = np.flatnonzero(
            ~(is_cause["air_vent"] | is_cause["check_valve"] | by_lift | is_cause["valved_off"])
        )
        usual = commoner(self.nats, self.first_words, self.second_words)
        return placed(len(at), [*said, (rest, usual("usual", at[rest]))])

    def _vent(self, at: np.ndarray) -> pa.Array:
        return _chance("its air vent", self.shut[at], "shut or missing")

    def _check_valve(self, at: np.ndarray) -> pa.Array:
        return _chance("a check valve", self.stuck[at], "stuck or passing back")

    def _lift(self, at: np.ndarray) -> pa.Array:
        short = self.short_psi[at]
        psi = rounded(np.abs(short))
        return where(
            short > 0,
            phrase("its lift wants ", psi, " psi more than there is"),
            phrase("its lift has ", psi, " psi to spare"),
        )

    def _valved_off(self, at: np.ndarray) -> pa.Array:
        share = f"about {100 * self.valved_off:.2g} % of such traps are valved off"
        return pick([share], np.zeros(len(at), dtype=np.int8))


def _chance(subject: str, chance: np.ndarray, state: str) -> pa.Array:
    verb = np.where(chance >= LIKELY, 0, np.where(chance >= POSSIBLE, 1, 2))
    words = pick(["is likely", "may be", "is hardly"], verb)
    percent = np.rint(100.0 * chance)
    sure = where(percent > 99.0, "over 99", rounded(percent))
    share = where(percent < 1.0, "under 1", sure)
    return phrase(f"{subject} ", words, f" {state} (", share, " %)")
