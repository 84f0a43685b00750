"""How low the pressure may go before a heater gives too little heat."""

from __future__ import annotations

import numpy as np

from survey.physics.heaters import unit_heater_output_factor
from survey.plant.units import Units

SPARE_SHARE = 0.20
"""Share of today's heat that a heater can do without on the coldest day; common practice,
no source. It is for the site to say."""
HEATER_SERVICES = ("unit_heater",)
OTHER_HEAT_SERVICES = ("process", "tracing")
"""They need a temperature, and a round does not say which."""
_LOWEST_PSIA = 5.0
_HALVINGS = 40


def output_share(units: Units, *, supply_psia: np.ndarray) -> np.ndarray:
    """Heat that each unit heater gives at a pressure over what it gives at today's, (n,)."""
    now = unit_heater_output_factor(steam_psia=units.supply_psia, air_f=units.ambient_f)
    then = unit_heater_output_factor(steam_psia=supply_psia, air_f=units.ambient_f)
    with np.errstate(divide="ignore", invalid="ignore"):
        share = then / now
    return np.where(now > 0, share, np.nan)


def needed_for_heat_psia(units: Units, *, spare_share: float = SPARE_SHARE) -> np.ndarray:
    """Lowest steam pressure at which each unit heater still gives what is asked of it.

    Parameters
    ----------
    spare_share
        Share of today's heat that may go, 0 to under 1.

    Returns
    -------
    ndarray
        Pressure, psia, (n,); NaN for what is not a unit heater, or where no pressure is known.
    """
    heater = np.isin(units.service, HEATER_SERVICES) & ~np.isnan(units.supply_psia)
    low, high = np.full(len(units), _LOWEST_PSIA), units.supply_psia.copy()
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        enough = output_share(units, supply_psia=middle) >= 1.0 - spare_share
        low, high = np.where(enough, low, middle), np.where(enough, middle, high)
    return np.where(heater, high, np.nan)
