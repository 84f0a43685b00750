"""Two stations on one return: whether the one's pressure matters to the other."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from survey.plant.units import RETURN_MAIN_COLUMN, Units
from survey.plant.wording import counted, listed, station_words

if TYPE_CHECKING:
    from survey.plant.stepdown import StationPlan

SMALL_RISE_PSI = 2.0
"""A return's pressure moves by about this from one hour to the next, and a step down should lower
it; common practice, no source."""


def words(
    units: Units, plans: Sequence[StationPlan], *, of: Sequence[StationPlan]
) -> tuple[str, ...]:
    """Say of each pair of stations whether they can go down by themselves.

    Said of the plans ``of`` alone, with all the others that there are.

    Which station drains to which return is in a round only where it has a column
    ``return_main``; without it both cases are spoken of.
    """
    if len(plans) < 2:
        return ()
    mains = {
        plan.station: set(units.return_main[units.station == plan.station]) - {""}
        for plan in plans
    }
    return tuple(
        _of_pair(units, one, mains, [other for other in plans if other is not one])
        for one in of
        if one.steps
    )


def _of_pair(
    units: Units, plan: StationPlan, mains: dict[str, set[str]], others: Sequence[StationPlan]
) -> str:
    here = station_words(plan.station)
    if mains[plan.station] and all(mains[other.station] for other in others):
        sharing = [o.station for o in others if mains[o.station] & mains[plan.station]]
        if not sharing:
            return f"{here[0].upper()}{here[1:]} shares its return with none: it can go by itself."
        opening = f"{here[0].upper()}{here[1:]} shares a return with "
        opening += f"{listed([station_words(name) for name in sharing])}:"
    else:
        sharing = [other.station for other in others]
        opening = (
            f"Whether {here} shares a return with another is not in the round (a column "
            f"{RETURN_MAIN_COLUMN} would tell). If it does:"
        )
    return f"{opening} {_effect(units, plan, sharing)}"


def _effect(units: Units, plan: StationPlan, sharing: Sequence[str]) -> str:
    theirs = np.isin(units.station, list(sharing)) & (units.loss_lb_per_h > 1.0)
    steam = float(units.loss_lb_per_h[theirs].sum())
    rise = plan.return_rise_psi
    verb = "passes" if theirs.sum() == 1 else "pass"
    blowing = (
        f"{counted(int(theirs.sum()), 'trap')} of the others {verb} about {steam:,.0f} lb/h of "
        "live steam into it; mend them first. "
        if theirs.any()
        else ""
    )
    weight = "it matters" if rise < SMALL_RISE_PSI or theirs.any() else "it matters little"
    return (
        f"{weight}. Going down takes flash steam off the return, which can only help the others; "
        f"but at {plan.end_psig:.1f} psig a return {rise:.1f} psi higher than today would stop "
        f"its weakest unit. {blowing}Take one station at a time, and read the return's pressure "
        "before and after each step."
    )
