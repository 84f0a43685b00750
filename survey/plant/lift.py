"""What pressure each unit needs to get its condensate away, and how far it has it.

Needed = the return's pressure + the head of its condensate at its own temperature + what the
check valve takes + what the trap takes to pass its load.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from survey.diagnosis.lifting import CHECK_VALVE_PSI, CONDENSATE_F
from survey.physics.condensate import condensate_capacity_lb_per_h
from survey.physics.piping import head_ft_per_psi, lift_pressure_psi
from survey.physics.saturation import latent_heat_btu_per_lb, saturation_f
from survey.plant.units import Units

SIZED_FOR_TIMES_LOAD = 2.0
"""A trap passes so many times its load at the pressure it works at today. Makers' sizing advice
spans 1.5 to 4 by type (from memory); two is on the low side, so it asks for more
pressure."""
DISCHARGE_COEFFICIENT = 0.65
GAUGE_SPREAD_PSI = 0.7
RETURN_SPREAD_PSI = 0.5
LIFT_SPREAD_FT = 1.0
LIFT_SPREAD_SHARE = 0.05
CHECK_SPREAD_PSI = 0.15
FRICTION_SPREAD_PSI = 0.3
TRAP_SPREAD_SHARE = 0.5
"""How well each part is known; common practice, no source. The friction of the return is not in
the middle value: nothing in a round tells it."""
_HIGHEST_OVER_RETURN_PSI = 400.0
_HALVINGS = 34
_erfc = np.frompyfunc(math.erfc, 1, 1)


@dataclass(frozen=True)
class Needs:
    """What n units need, psi or psia; NaN where the lift or a pressure is not known.

    Parameters
    ----------
    return_psia, head_psi, check_psi, trap_psi
        The parts; a return that falls away has a head under zero.
    needed_psia
        Their sum: the pressure ahead of the trap under which condensate stands back.
    spread_psi
        Standard deviation of ``needed_psia`` against the pressure.
    load_given
        Whether the trap's load was given; where not it was taken from the trap's size.
    """

    return_psia: np.ndarray
    head_psi: np.ndarray
    check_psi: float
    trap_psi: np.ndarray
    needed_psia: np.ndarray
    spread_psi: np.ndarray
    load_given: np.ndarray

    def take(self, index: np.ndarray) -> Needs:
        """Return the needs of the units that an index or a mask picks."""
        return Needs(
            **{
                name: value[index] if isinstance(value, np.ndarray) else value
                for name, value in vars(self).items()
            }
        )


def needs(units: Units) -> Needs:
    """Work out the pressure that each unit needs.

    Where the load is not given, the trap is taken to pass `SIZED_FOR_TIMES_LOAD` times it at
    today's pressures: the bore then has no part in it. The load falls with the pressure as the
    heat does.
    """
    water_f = condensate_f(units)
    head = lift_pressure_psi(lift_ft=units.lift_ft, temperature_f=water_f)
    behind = units.return_psia + head + CHECK_VALVE_PSI
    given = ~np.isnan(units.load_lb_per_h) & ~np.isnan(units.bore_in)
    needed = _lowest_that_passes(units, behind, given)
    trap = needed - behind
    own = np.hypot(LIFT_SPREAD_FT, LIFT_SPREAD_SHARE * units.lift_ft)
    spread = np.sqrt(
        (own / head_ft_per_psi(temperature_f=water_f)) ** 2
        + (TRAP_SPREAD_SHARE * trap) ** 2
        + GAUGE_SPREAD_PSI**2
        + RETURN_SPREAD_PSI**2
        + CHECK_SPREAD_PSI**2
        + FRICTION_SPREAD_PSI**2
    )
    return Needs(units.return_psia, head, CHECK_VALVE_PSI, trap, needed, spread, given)


def condensate_f(units: Units) -> np.ndarray:
    """Temperature of the condensate in the riser, °F: the outlet's, at most the return's boiling.

    Where no outlet was read it is taken as 180 °F; colder water is heavier, by 1 % at 100 °F.
    """
    boiling = saturation_f(pressure_psia=units.return_psia)
    read = np.where(np.isnan(units.outlet_f), CONDENSATE_F, units.outlet_f)
    return np.clip(read, 33.0, np.where(np.isnan(boiling), CONDENSATE_F, boiling))


def load_ratio(units: Units, supply_psia: np.ndarray) -> np.ndarray:
    """Condensate at a pressure over that of today, by heat given to air of the unit's own."""
    latent_now = latent_heat_btu_per_lb(pressure_psia=units.supply_psia)
    latent = latent_heat_btu_per_lb(pressure_psia=supply_psia)
    rise_now = saturation_f(pressure_psia=units.supply_psia) - units.ambient_f
    rise = saturation_f(pressure_psia=supply_psia) - units.ambient_f
    with np.errstate(divide="ignore", invalid="ignore"):
        result = np.clip(rise / rise_now, 0.0, None) * latent_now / latent
    return np.asarray(np.where(rise_now > 0, result, np.nan))


def capacity_lb_per_h(
    units: Units, *, supply_psia: np.ndarray, behind_psia: np.ndarray, bore_in: np.ndarray
) -> np.ndarray:
    """Condensate that each trap passes wide open, at its type's own subcooling, lb/h."""
    water_f = saturation_f(pressure_psia=supply_psia) - units.subcooling_f
    return condensate_capacity_lb_per_h(
        bore_in=bore_in,
        upstream_psia=supply_psia,
        downstream_psia=np.clip(behind_psia, 0.0, None),
        temperature_f=water_f,
        discharge_coefficient=DISCHARGE_COEFFICIENT,
    )


def load_today(units: Units, given: np.ndarray, bore_in: np.ndarray) -> np.ndarray:
    """Load of each unit at today's pressure, lb/h through ``bore_in``: given, or by its size."""
    now = capacity_lb_per_h(
        units, supply_psia=units.supply_psia, behind_psia=units.return_psia, bore_in=bore_in
    )
    return np.where(given, units.load_lb_per_h, now / SIZED_FOR_TIMES_LOAD)


def _lowest_that_passes(units: Units, behind: np.ndarray, given: np.ndarray) -> np.ndarray:
    bore = np.where(given, units.bore_in, 1.0)
    today = load_today(units, given, bore)
    low = np.maximum(behind, 1.0)
    high = low + _HIGHEST_OVER_RETURN_PSI
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        passes = capacity_lb_per_h(units, supply_psia=middle, behind_psia=behind, bore_in=bore)
        enough = passes >= today * load_ratio(units, middle)
        low, high = np.where(enough, low, middle), np.where(enough, middle, high)
    known = ~np.isnan(today) & ~np.isnan(behind)
    result: np.ndarray = np.where(known, high, np.nan)
    return result


def margin_psi(units: Units, need: Needs, *, supply_psia: np.ndarray) -> np.ndarray:
    """Pressure to spare at a given one, psi; under zero where it lacks. NaN where not known."""
    at = np.broadcast_to(np.asarray(supply_psia, dtype=float), (len(units),))
    return np.asarray(at - need.needed_psia)


def below(z: np.ndarray) -> np.ndarray:
    """Share of a normal distribution under z."""
    return np.asarray(0.5 * _erfc(-np.asarray(z) / math.sqrt(2.0)), dtype=float)


def flood_chance(units: Units, need: Needs, *, supply_psia: np.ndarray) -> np.ndarray:
    """Chance that condensate stands back in each unit at a pressure ahead of its trap.

    A unit that drains today shows that it needs less than it has today; one that stands back
    for its lift shows the opposite; one that is cold or shut shows nothing.

    Parameters
    ----------
    supply_psia
        Pressure ahead of each trap, psia, (n,).

    Returns
    -------
    ndarray
        0..1, (n,); it never falls as the pressure does. NaN where the need is not known.
    """
    now = below((units.supply_psia - need.needed_psia) / need.spread_psi)
    then = below((np.asarray(supply_psia) - need.needed_psia) / need.spread_psi)
    with np.errstate(divide="ignore", invalid="ignore"):
        if_drains = np.clip((now - then) / now, 0.0, 1.0)
        if_stands = np.clip((1.0 - then) / (1.0 - now), 0.0, 1.0)
    # A lift so high that it cannot drain, on a unit that does: the figure is wrong, so nothing
    # is known of how much less it could do with.
    if_drains = np.where(now > 1e-12, if_drains, np.where(supply_psia < units.supply_psia, 1.0, 0))
    if_stands = np.where(now < 1.0 - 1e-12, if_stands, 1.0 * (supply_psia <= units.supply_psia))
    other = np.clip(1.0 - units.hot - units.held_by_lift, 0.0, 1.0)
    mixed = units.hot * if_drains + units.held_by_lift * if_stands + other * (1.0 - then)
    total = units.hot + units.held_by_lift + other
    return np.asarray(np.where(np.isnan(need.needed_psia), np.nan, mixed / total))
