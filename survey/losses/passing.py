"""Chance that each device passes steam through each opening, and the flow of its whole bore."""

from __future__ import annotations

import numpy as np

from survey.columns import DEVICES
from survey.diagnosis import priors
from survey.diagnosis.verdict import Diagnosis
from survey.physics.orifice import DISCHARGE_COEFFICIENT_MEAN, steam_flow_lb_per_h
from survey.physics.units import atmosphere_psia
from survey.site import Site

UNREAD_PSIG = 15.0
"""Supply where nothing gives one: the top of low-pressure heating, common practice, no source."""
BLOWING_BORE_IN = 0.125
"""Way through a heater's vent or breaker that blows, where its bore is not given; common
practice, no source. Its spread is that of any unknown bore."""
_WIDE_OPEN = np.append(np.zeros_like(priors.OPENING_LEAKING_WEIGHT), priors.OPENING_OPEN_WEIGHT)
_ANY_OPENING = np.append(0.5 * priors.OPENING_LEAKING_WEIGHT, 0.5 * priors.OPENING_OPEN_WEIGHT)
OPENING_CHANCE = {
    ("air_vent", "failed_open"): _WIDE_OPEN,
    ("vacuum_breaker", "leaking"): _ANY_OPENING,
}
"""Chance of each opening of `sound_levels.OPENINGS` where a device blows steam. A vent that failed
open stands like a trap that did; a breaker that leaks may be open by any share, as often little
as much. Common practice, no source."""


def passing_and_flow(diagnosis: Diagnosis, site: Site) -> tuple[np.ndarray, np.ndarray]:
    """Return the chance of each opening, (n, openings), and flow of the whole bore, lb/h, (n,).

    No loss is left out: where nothing gives a pressure, `UNREAD_PSIG` stands in; where the
    return reads at or over the supply and steam is yet heard or seen, it is taken to blow into
    the air, as vents and breakers do. The summary says of how many devices that is so.
    """
    rows = diagnosis.intake.rows
    passing, flow = diagnosis.passing.copy(), diagnosis.flow_lb_per_h.copy()
    unknown = np.flatnonzero((rows.device == DEVICES.index("trap")) & ~(flow > 0.0))
    bore_in = rows.orifice_in[unknown]
    flow[unknown] = priors.DRY_SHARE * _into_air(diagnosis, site, unknown, bore_in)
    state = diagnosis.verdicts["state"]
    confidence = diagnosis.verdicts["confidence"].to_numpy(dtype=float)
    for (name, blown), openings in OPENING_CHANCE.items():
        at = np.flatnonzero((rows.device == DEVICES.index(name)) & (state == blown).to_numpy())
        passing[at] = confidence[at, None] * openings
        given = diagnosis.intake.bore_given[at]
        bore_in = np.where(given, rows.orifice_in[at], BLOWING_BORE_IN)
        flow[at] = _into_air(diagnosis, site, at, bore_in)
    return passing, flow


def _into_air(
    diagnosis: Diagnosis, site: Site, index: np.ndarray, bore_in: np.ndarray
) -> np.ndarray:
    air_psia = atmosphere_psia(altitude_ft=site.altitude_ft)
    supply = diagnosis.supply_psia[index]
    return np.asarray(
        steam_flow_lb_per_h(
            bore_in=bore_in,
            upstream_psia=np.where(np.isnan(supply), air_psia + UNREAD_PSIG, supply),
            downstream_psia=air_psia,
            discharge_coefficient=DISCHARGE_COEFFICIENT_MEAN,
        )
    )
