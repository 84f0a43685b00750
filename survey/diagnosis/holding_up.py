"""How often a vent, a check valve or air holds a trap up, before any reading of the trap's own."""

from __future__ import annotations

import numpy as np

from survey.columns import CHECK_STATES, DEVICES, SERVICES, TRAP_TYPES
from survey.diagnosis import upstream_priors
from survey.diagnosis.model import Model
from survey.diagnosis.rows import Rows
from survey.diagnosis.rowwise import times

LISTED_WEIGHT = 3.0
"""Traps that equipment without any such device counts as, in what a round lists."""


def listed_by_service(rows: Rows, device: str) -> np.ndarray:
    """Return the share of traps of each service beside a device of a kind, (services + 1,).

    Parameters
    ----------
    rows
        All devices of a round, or of a sample of its equipment.
    """
    trap = rows.device == DEVICES.index("trap")
    beside = np.isin(rows.equipment[trap], rows.equipment[rows.device == DEVICES.index(device)])
    service = np.where(rows.service[trap] >= 0, rows.service[trap], len(SERVICES))
    count = np.bincount(service, minlength=len(SERVICES) + 1)
    hit = np.bincount(service, weights=beside, minlength=len(SERVICES) + 1)
    return np.asarray(hit / (count + LISTED_WEIGHT))


def default_shut(rows: Rows) -> np.ndarray:
    """Chance that a trap's equipment has a shut vent where the round lists no vents, (n,)."""
    other = upstream_priors.NO_VENT_SHUT_OTHER
    by_service = np.array([upstream_priors.NO_VENT_SHUT.get(s, other) for s in SERVICES])
    return np.where(rows.service >= 0, by_service[rows.service], other)


def left_out(model: Model, rows: Rows, device: str) -> np.ndarray:
    """Chance that a trap has such a device though none is listed, where others have, (n,)."""
    return np.asarray(upstream_priors.NOT_LISTED * model.listed[device][rows.service] ** 2)


def chances_of_check(model: Model) -> np.ndarray:
    """Chance of backing up under each state of the check valve, in `CHECK_STATES` order."""
    table = {"working": upstream_priors.BACKED_BY_CHECK["working"], "stuck": model.backed_if_stuck}
    table["passing_back"] = model.backed_if_passing
    return np.array([table[state] for state in CHECK_STATES])


def chances_of_air(model: Model, trap_type: np.ndarray, supply_psia: np.ndarray) -> np.ndarray:
    """Chance of traps' heaters being air-bound with the vent open, and with it shut, (n, 2).

    The air that fills a heater while it is off is pressed together by the steam that comes in: at a
    higher pressure it takes up less of it.
    """
    usual = np.array([upstream_priors.AIR_BOUND["working"], model.air_bound_if_shut])
    by_type = upstream_priors.AIR_KEPT
    kept = np.array([*(by_type[name] for name in TRAP_TYPES), 1.0])  # the last if unknown
    pressed = (upstream_priors.AIR_BOUND_AT_PSIA / supply_psia) ** upstream_priors.AIR_BY_PRESSURE
    odds = times(kept[trap_type] * np.nan_to_num(pressed, nan=1.0), usual / (1.0 - usual))
    return np.asarray(odds / (1.0 + odds))
