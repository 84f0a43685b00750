"""Air vents and vacuum breakers that blow steam: chance of each opening, and the flow."""

from __future__ import annotations

import numpy as np

from survey.columns import DEVICES
from survey.diagnosis import priors
from survey.diagnosis.verdict import Diagnosis
from survey.physics.orifice import DISCHARGE_COEFFICIENT_MEAN, steam_flow_lb_per_h
from survey.physics.units import atmosphere_psia
from survey.site import Site

_WIDE_OPEN = np.append(np.zeros_like(priors.OPENING_LEAKING_WEIGHT), priors.OPENING_OPEN_WEIGHT)
_ANY_OPENING = np.append(0.5 * priors.OPENING_LEAKING_WEIGHT, 0.5 * priors.OPENING_OPEN_WEIGHT)
OPENING_CHANCE = {
    ("air_vent", "failed_open"): _WIDE_OPEN,
    ("vacuum_breaker", "leaking"): _ANY_OPENING,
}
"""Chance of each opening of `likelihood.OPENINGS` where a device blows steam. A vent that failed
open stands like a trap that did; a breaker that leaks may be open by any share, as often little
as much. Common practice, no source."""


def passing_and_flow(diagnosis: Diagnosis, site: Site) -> tuple[np.ndarray, np.ndarray]:
    """Return the diagnosis's `passing` and `flow_lb_per_h` with blowing vents and breakers in.

    They blow into the air. A bore that was not read leaves their flow NaN: unlike traps they
    have no usual one. So does a trap's return pressure at or over its supply: steam that would
    not flow by the gauges and yet is heard or seen to has no known flow.
    """
    passing = diagnosis.passing.copy()
    flow = np.where(diagnosis.flow_lb_per_h > 0.0, diagnosis.flow_lb_per_h, np.nan)
    rows = diagnosis.intake.rows
    bore_in = np.where(diagnosis.intake.bore_given, rows.orifice_in, np.nan)
    device = np.array(DEVICES, dtype=object)[rows.device]
    state = diagnosis.verdicts["state"].to_numpy(dtype=object)
    confidence = diagnosis.verdicts["confidence"].to_numpy(dtype=float)
    for (name, blown), openings in OPENING_CHANCE.items():
        at = np.flatnonzero((device == name) & (state == blown))
        passing[at] = confidence[at, None] * openings
        blow = steam_flow_lb_per_h(
            bore_in=bore_in[at],
            upstream_psia=diagnosis.supply_psia[at],
            downstream_psia=atmosphere_psia(altitude_ft=site.altitude_ft),
            discharge_coefficient=DISCHARGE_COEFFICIENT_MEAN,
        )
        flow[at] = np.where(blow > 0.0, blow, np.nan)
    return passing, flow
