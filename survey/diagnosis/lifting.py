"""Lifts that hold condensate back: by the pressure lacking, or, unread, by what there is of it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from survey.diagnosis import upstream_priors
from survey.diagnosis.model import Model
from survey.diagnosis.rows import Conditions, Rows
from survey.physics.piping import head_ft_per_psi

CONDENSATE_F = 180.0
CHECK_VALVE_PSI = 0.25
"""What a swing check valve takes; common practice, no source."""
UNREAD_LIFT_FT = 10.0
"""Middle of the lifts that nobody wrote down, where there is one: one in e is higher than this,
one in e squared than twice. From a floor to a main under the roof; common practice, no source."""
LEAST_LIFT_FT = 0.5
LIFT_BLUR_PSI, LIFT_BLUR_SHARE = 0.8, 0.05
"""Pressure over which a lift goes from made to not made, and the same as a share of what there is:
gauges and heads are that well known. Common practice, no source."""
_LOGISTIC = 1.7  # a normal distribution's spread in those of a logistic one


@dataclass(frozen=True)
class Lifts:
    """The lifts of n traps' condensate.

    Parameters
    ----------
    short_psi
        Pressure lacking, negative where there is some to spare; NaN with no lift, or none read.
    at_hand_psi
        Pressure that there is for it.
    raised_ft
        How high the pressure raises condensate where no lift was read; NaN where one was, or no
        pressure is known.
    """

    short_psi: np.ndarray
    at_hand_psi: np.ndarray
    raised_ft: np.ndarray

    @classmethod
    def of(cls, rows: Rows, state: Conditions) -> Lifts:
        """Return what traps' lifts ask of the pressure there is."""
        ft_per_psi = head_ft_per_psi(temperature_f=CONDENSATE_F)
        at_hand = state.supply_psia - state.return_psia - CHECK_VALVE_PSI
        short: np.ndarray = rows.lift_ft / ft_per_psi - at_hand
        raised = np.maximum(at_hand, 0.0) * ft_per_psi
        return cls(
            short_psi=np.where(rows.lift_ft > LEAST_LIFT_FT, short, np.nan),
            at_hand_psi=at_hand,
            raised_ft=np.where(np.isnan(rows.lift_ft), raised, np.nan),
        )

    def unread_beyond(self, taken: float) -> np.ndarray:
        """Chance that a lift nobody wrote down, if there is one, is out of reach; else 0.

        Parameters
        ----------
        taken
            Share of the pressure at hand that traps and pipes take.
        """
        return np.nan_to_num(np.exp(-(1.0 - taken) * self.raised_ft / UNREAD_LIFT_FT))

    def some(self, which: np.ndarray) -> Lifts:
        """Return the lifts of some traps."""
        return Lifts(self.short_psi[which], self.at_hand_psi[which], self.raised_ft[which])

    def chance(self, model: Model) -> np.ndarray:
        """Return the chance that each lift holds its condensate back, (n,)."""
        reach, _ = self.out_of_reach(model.lift_taken)
        enough = upstream_priors.BACKED_BY_LIFT_ENOUGH
        unread = model.unread_lifted * self.unread_beyond(model.lift_taken)
        return enough + (model.backed_if_short - enough) * np.where(np.isnan(reach), unread, reach)

    def out_of_reach(self, taken: float) -> tuple[np.ndarray, np.ndarray]:
        """Return the chance that each lift is out of reach, (n,), and how steeply it grows.

        Parameters
        ----------
        taken
            Share of the pressure at hand that traps and pipes take.

        Returns
        -------
        chance
            NaN with no lift, or none read.
        steepness
            By which its log odds grow with ``taken``.
        """
        least = np.maximum(self.at_hand_psi, 0.0)
        blur = np.hypot(LIFT_BLUR_PSI, LIFT_BLUR_SHARE * least) / _LOGISTIC
        odds = np.clip((self.short_psi + taken * least) / blur, -60.0, 60.0)
        return 1.0 / (1.0 + np.exp(-odds)), least / blur
