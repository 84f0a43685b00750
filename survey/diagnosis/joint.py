"""A heater's trap, vent and check valve weighed together, evidence flowing both ways.

A trap's prior depends on whether its vent is shut and how its check valve does. Summing over
those six combinations for each piece of equipment is exact, and small: the trap's sum is
linear in the chances below, so no exponential is taken twice.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from survey.columns import CHECK_STATES
from survey.diagnosis import priors, upstream_priors
from survey.diagnosis.holding_up import chances_of_check
from survey.diagnosis.hypotheses import FLOWS, HEATERS, HYPOTHESES, INDEX
from survey.diagnosis.model import Model
from survey.diagnosis.rowwise import columns_of, row_dot, row_max, row_sum, rows_of, table

TRAP_OWN = [INDEX[name] for name in priors.TRAP_RATES]
_LEAST_GATHERED = 1e-250


@dataclass(frozen=True)
class Joint:
    """Posterior of everything on the same equipment.

    Parameters
    ----------
    trap
        Probability of each hypothesis, (traps, hypotheses).
    vent_message, check_message
        Log of how much the traps favour each state of each equipment's vent (open, shut)
        and check valve; (equipment, 2) and (equipment, 3).
    shut, check
        Posterior of the equipment's vent being shut (E,), of its check valve (E, 3).
    bound_and_shut, backed_and_check
        Chance of each trap being air-bound with the vent shut (traps,), and backed up by a
        check valve in each state (traps, 3): what the calibration counts.
    air
        As in `Seen`.
    """

    trap: np.ndarray
    vent_message: np.ndarray
    check_message: np.ndarray
    shut: np.ndarray
    check: np.ndarray
    bound_and_shut: np.ndarray
    backed_and_check: np.ndarray
    air: np.ndarray


@dataclass(frozen=True)
class Seen:
    """What traps' own readings say under each state of their vent and check valve, found once.

    Parameters
    ----------
    equipment
        Equipment of each trap, (traps,), 0..count-1.
    lift
        Chance that the lift holds condensate back, (traps,).
    cold
        Chance that no steam reaches a trap for a reason not seen, (traps,).
    air
        Chance that its heater is air-bound with its vent open, and with it shut, (traps, 2).
    likely
        Likelihood of each trap's own readings, the largest 1, (traps, hypotheses).
    total
        Chance of each trap's readings by vent (open, shut) and check valve, (traps, 2, 3).
    gathered
        That over all traps of each equipment, the largest 1, (E, 2, 3).
    """

    model: Model
    equipment: np.ndarray
    lift: np.ndarray
    cold: np.ndarray
    air: np.ndarray
    likely: np.ndarray
    total: np.ndarray
    gathered: np.ndarray

    @classmethod
    def of(
        cls,
        model: Model,
        logs: np.ndarray,
        *,
        equipment: np.ndarray,
        equipment_count: int,
        lift: np.ndarray,
        off: np.ndarray,
        air: np.ndarray,
    ) -> Seen:
        """Return what log likelihoods (traps, hypotheses) of the traps' own readings say.

        Parameters
        ----------
        off
            Whether the steam of each trap's station is off, (traps,).
        air
            As of the whole.
        """
        cold = np.where(off, upstream_priors.COLD_IF_OFF, upstream_priors.COLD_UNEXPLAINED)
        likely = np.exp(logs - row_max(logs)[:, None])
        total = _evidence(model, likely, lift, cold, air)
        gathered = _gather(np.log(np.maximum(total, 1e-300)), equipment, equipment_count)
        return cls(model, equipment, lift, cold, air, likely, total, gathered)

    def share(self, worth: np.ndarray) -> np.ndarray:
        """Return what a trap is worth by vent and check valve, (traps, 2, 3).

        Parameters
        ----------
        worth
            Of each hypothesis, (hypotheses,): 1 for all those whose chance is asked for.
        """
        worthy = _evidence(self.model, self.likely * worth, self.lift, self.cold, self.air)
        return np.asarray(worthy / self.total)

    def weights(self, *, shut_before: np.ndarray, check_before: np.ndarray) -> np.ndarray:
        """Return how likely each trap's vent is open or shut, and its check valve in each state.

        Parameters
        ----------
        shut_before, check_before
            As in `weigh`.

        Returns
        -------
        (traps, 2, 3)
            The traps' own readings included.
        """
        _, after = self._after(shut_before, check_before)
        return rows_of(after, self.equipment)

    def _after(
        self, shut_before: np.ndarray, check_before: np.ndarray
    ) -> tuple[np.ndarray, np.ndarray]:
        """Return the chances of vents and check valves before the traps and after, (E, 2, 3)."""
        apart = np.stack([1.0 - shut_before, shut_before], axis=1)
        before = np.multiply(apart[:, :, None], check_before[:, None], order="F")
        after = before * self.gathered
        after /= row_sum(row_sum(after))[:, None, None]
        return before, after

    def weigh(
        self,
        *,
        shut_before: np.ndarray,
        check_before: np.ndarray,
        heat: np.ndarray,
        flow: np.ndarray,
    ) -> Joint:
        """Weigh the traps with the vents and check valves of their equipment.

        Parameters
        ----------
        shut_before, check_before
            What the vents' and check valves' own readings say, (E,) and (E, 3).
        heat
            How much what is on the heater favours each way it may stand, of `HEATERS`, by whether
            the vent is open or shut, (traps, 2, ways).
        flow
            How much the check valve favours each of `FLOWS` through it, by its state,
            (traps, 3, flows).
        """
        before, after = self._after(shut_before, check_before)
        weight = rows_of(after, self.equipment) / self.total
        trap, bound, backed = _posterior(
            self.model, self.likely, self.lift, self.cold, self.air, weight, heat, flow
        )
        shut, checked = row_sum(after), after[:, 0] + after[:, 1]
        return Joint(
            trap=trap,
            vent_message=_log_moved(shut, row_sum(before)),
            check_message=_log_moved(checked, check_before),
            shut=shut[:, 1],
            check=checked,
            bound_and_shut=bound,
            backed_and_check=backed,
            air=self.air,
        )


def _log_moved(after: np.ndarray, before: np.ndarray) -> np.ndarray:
    return np.asarray(np.log(np.maximum(after, 1e-12)) - np.log(np.maximum(before, 1e-12)))


def _evidence(
    model: Model, likely: np.ndarray, lift: np.ndarray, cold: np.ndarray, air: np.ndarray
) -> np.ndarray:
    """Chance of each trap's readings under each (shut, check), (traps, 2, 3)."""
    own = _rest(model, likely, cold)
    by_lift = lift * likely[:, INDEX["backed_by_lift"]]
    by_valve = model.valved_off * likely[:, INDEX["cold_by_valve"]]
    result = np.empty((len(likely), 2, len(CHECK_STATES)), order="F")
    for state, stopped in enumerate(chances_of_check(model)):
        passed = stopped * likely[:, INDEX["backed_by_check"]] + (1.0 - stopped) * own
        passed = by_lift + (1.0 - lift) * passed
        for shut, bound in enumerate(air.T):
            vented = bound * likely[:, INDEX["cold_by_vent"]] + (1.0 - bound) * passed
            result[:, shut, state] = by_valve + (1.0 - model.valved_off) * vented
    return result


def _rest(model: Model, likely: np.ndarray, cold: np.ndarray) -> np.ndarray:
    backed = upstream_priors.BACKED_UNEXPLAINED
    own = row_dot(columns_of(likely, np.array(TRAP_OWN)), model.trap_rates)
    result: np.ndarray = (
        backed * likely[:, INDEX["backed_unexplained"]]
        + cold * likely[:, INDEX["cold_unexplained"]]
        + (1.0 - backed - cold) * own
    )
    return result


def _gather(log_total: np.ndarray, equipment: np.ndarray, count: int) -> np.ndarray:
    logs = np.empty((count, 2, 3), order="F")
    for shut in range(2):
        for check in range(3):
            logs[:, shut, check] = np.bincount(
                equipment, weights=log_total[:, shut, check], minlength=count
            )
    logs -= row_max(row_max(logs))[:, None, None]
    # Not zero: on equipment with hundreds of traps a state that is certain may be as unlikely.
    return np.maximum(np.exp(logs), _LEAST_GATHERED)


def _posterior(
    model: Model,
    likely: np.ndarray,
    lift: np.ndarray,
    cold: np.ndarray,
    air: np.ndarray,
    weight: np.ndarray,
    heat: np.ndarray,
    flow: np.ndarray,
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Posterior of the hypotheses, and the two joint chances that the calibration counts."""
    check = chances_of_check(model)
    trap = table(len(likely), len(HYPOTHESES))
    open_way = 1.0 - model.valved_off

    def by_both(heater: str, passing: str) -> np.ndarray:
        on_heater = weight * heat[:, :, HEATERS.index(heater), None]
        return np.asarray(on_heater * flow[:, None, :, FLOWS.index(passing)])

    def not_bound(each: np.ndarray) -> np.ndarray:
        vented = 1.0 - air
        return np.asarray(vented[:, 0, None] * each[:, 0] + vented[:, 1, None] * each[:, 1])

    cold_off = by_both("no_steam", "still")
    hot, flooded, full, dead = (
        not_bound(each)
        for each in (
            by_both("hot", "flowing"), by_both("flooded", "flowing"), by_both("flooded", "still"),
            cold_off,
        )
    )  # fmt: skip
    trap[:, INDEX["cold_by_valve"]] = model.valved_off * row_sum(row_sum(cold_off))
    by_shut = row_sum(by_both("air_bound", "still"))
    bound = open_way * by_shut[:, 1] * air[:, 1] * likely[:, INDEX["cold_by_vent"]]
    trap[:, INDEX["cold_by_vent"]] = open_way * row_sum(by_shut * air)
    trap[:, INDEX["backed_by_lift"]] = open_way * lift * row_sum(full)
    past_lift = open_way * (1.0 - lift)
    backed = past_lift[:, None] * flooded * check * likely[:, INDEX["backed_by_check"], None]
    trap[:, INDEX["backed_by_check"]] = past_lift * row_dot(flooded, check)
    rest_hot, rest_flooded, rest_full, rest_dead = (
        past_lift * row_dot(each, 1.0 - check) for each in (hot, flooded, full, dead)
    )
    own = 1.0 - upstream_priors.BACKED_UNEXPLAINED - cold
    trap[:, INDEX["backed_unexplained"]] = rest_flooded * upstream_priors.BACKED_UNEXPLAINED
    trap[:, INDEX["cold_unexplained"]] = rest_dead * cold
    for position, rate in zip(TRAP_OWN, model.trap_rates, strict=True):
        rest = rest_full if position == INDEX["failed_closed"] else rest_hot
        trap[:, position] = own * rest * rate
    trap *= likely
    scale = row_sum(trap)
    trap /= scale[:, None]
    return trap, bound / scale, backed / scale[:, None]
