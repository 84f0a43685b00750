"""A round's totals, counts, assumptions and calibration: what is printed above the list."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Mapping
from datetime import datetime
from typing import Any

import numpy as np
import pandas as pd

from survey import __version__
from survey.columns import DEVICES, NORMAL_90, STATES_BY_DEVICE
from survey.diagnosis import priors
from survey.diagnosis.found import calibration_words
from survey.diagnosis.verdict import Diagnosis
from survey.losses.money import BASIS_WORDS
from survey.losses.passing import BLOWING_BORE_IN, UNREAD_PSIG
from survey.losses.ranking import NOTHING_DUE
from survey.physics.orifice import (
    DISCHARGE_COEFFICIENT_HIGH,
    DISCHARGE_COEFFICIENT_LOW,
    DISCHARGE_COEFFICIENT_MEAN,
)
from survey.plant.wording import DEVICE_WORDS, counted, listed
from survey.readings import Round
from survey.site import Site

STATIONS_UNUSED = "The site's pressures of"
"""So begins what is said of stations that no row names."""


def summarise(
    read: Round,
    diagnosis: Diagnosis,
    table: pd.DataFrame,
    site: Site,
    *,
    seconds: float,
    made_at: datetime,
) -> dict[str, Any]:
    """Return the summary as JSON types; keys as the README lists them."""
    device, states = read.table["device"], table["state"].astype("category")
    loss, cost = table["steam_loss_lb_per_h"].sum(), table["annual_cost"].sum()
    headers = [
        {
            "header": match.header,
            "column": match.column,
            "unit": match.unit,
            "how": match.how,
            "sample": match.sample,
        }
        for match in read.matches
    ]
    return {
        "rows_read": read.rows_read,
        "rows_judged": len(read.table),
        "rows_set_aside": len(read.rejects),
        "devices_needing_something": int((states != NOTHING_DUE).sum()),
        "states": _counts(states),
        "states_by_device": {
            name: _counts(states[device == name])
            for name in STATES_BY_DEVICE
            if (device == name).any()
        },
        "causes": _counts(table["cause"]),
        "steam_loss_lb_per_h": float(loss),
        **_range("steam_loss", "_lb_per_h", float(loss), _variance(table, "steam_loss_lb_per_h")),
        "annual_loss_klb": float(table["annual_loss_klb"].sum()),
        "annual_cost": float(cost),
        **_range("annual_cost", "", float(cost), _variance(table, "annual_cost")),
        "annual_co2_t": float(table["annual_co2_t"].sum()),
        "currency": site.currency,
        "site_name": site.name,
        "loss_basis": BASIS_WORDS[site.loss_basis],
        "assumptions": [*_assumptions(read, diagnosis, site), *_stand_ins(diagnosis, table)],
        "calibration": calibration_words(diagnosis.calibration, diagnosis.intake),
        "notes": [*read.notes, *filter(None, [unused_headers(headers)])],
        "headers": headers,
        "made_at": made_at.isoformat(timespec="seconds"),
        "seconds": round(seconds, 3),
        "version": __version__,
    }


def unused_headers(headers: Iterable[Mapping[str, Any]], *, used: Collection[str] = ()) -> str:
    """Return a sentence on the headers that no column was found for; '' where there is none.

    Parameters
    ----------
    headers
        ``summary["headers"]``; a header whose column is empty is not spoken of.
    used
        Headers that are not understood but are used all the same.
    """
    unused = [
        str(one["header"])
        for one in headers
        if one["column"] is None and one["sample"] and one["header"] not in used
    ]
    if not unused:
        return ""
    names = ", ".join(repr(name[:40]) for name in unused[:12])
    more = f" and {len(unused) - 12} more" if len(unused) > 12 else ""
    return f"headers not understood, kept but not used (settable with a map): {names}{more}"


def _counts(values: pd.Series) -> dict[str, int]:
    counts = values.value_counts().sort_index()
    return {str(name): int(count) for name, count in counts.items() if count}


def _variance(table: pd.DataFrame, column: str) -> float:
    """Variance of a sum of devices: what is each one's own, and the coefficient all share.

    A loss is the shared coefficient times the rest, which is independent of it and of the rest
    of others; each row's variance has the shared part in it already.
    """
    loss = table["steam_loss_lb_per_h"].to_numpy()
    unit = np.divide(table[column], loss, out=np.zeros(len(table)), where=loss > 0)
    shared = math.expm1(priors.COEFFICIENT_LOG_SPREAD**2)
    own = loss**2
    own *= -shared
    own += table["loss_variance"].to_numpy()
    np.maximum(own, 0.0, out=own)
    unit *= unit
    own *= unit
    return float(own.sum()) + shared * float(table[column].sum()) ** 2


def _range(name: str, unit: str, total: float, variance: float) -> dict[str, float]:
    if total <= 0:
        return {f"{name}_low{unit}": 0.0, f"{name}_high{unit}": 0.0}
    spread = math.sqrt(math.log1p(variance / total**2))
    middle = total * math.exp(-0.5 * spread**2)
    return {
        f"{name}_low{unit}": middle * math.exp(-NORMAL_90 * spread),
        f"{name}_high{unit}": middle * math.exp(NORMAL_90 * spread),
    }


def _assumptions(read: Round, diagnosis: Diagnosis, site: Site) -> list[str]:
    words = list(site.assumptions)
    traps = diagnosis.intake.rows.device == DEVICES.index("trap")
    missing = int((~diagnosis.intake.bore_given & traps).sum())
    if missing:
        words.append(
            f"Bore of {counted(missing, 'trap')} taken from others of their type in the round, "
            f"else {priors.BORE_IN:g} in."
        )
    assumed = int((~diagnosis.intake.pressure_given).sum())
    if assumed and len(read.table):
        words.append(
            f"Pressure of {counted(assumed, 'device')} is not given: the middle one of their "
            "station's other rows stands in, else what its hot inlets show. They are flagged."
        )
    vented = int((~diagnosis.intake.return_given & traps).sum())
    if vented:
        traps_of = counted(vented, "trap")
        words.append(f"Return of {traps_of} taken as vented (0 psig): none is given.")
    unnamed = [name for name in site.stations if name not in diagnosis.intake.gaps.stations]
    if unnamed and assumed + vented:
        words.append(
            f"{STATIONS_UNUSED} {listed(unnamed)} are not used: no row names "
            f"{'that station' if len(unnamed) == 1 else 'those stations'}."
        )
    meant = np.flatnonzero(diagnosis.intake.gaps.blank_is_open)
    kinds = [f"{DEVICE_WORDS[DEVICES[kind]]}s" for kind in meant]
    if kinds:
        words.append(
            f"Valves of {' and '.join(kinds)} are written down only where closed: a blank is "
            "taken for open."
        )
    words.append(
        "Steam flow by the isentropic nozzle for dry saturated steam, discharge coefficient "
        f"{DISCHARGE_COEFFICIENT_MEAN:.2f} (published forms span "
        f"{DISCHARGE_COEFFICIENT_LOW:.2f} to {DISCHARGE_COEFFICIENT_HIGH:.2f})."
    )
    return words


def _stand_ins(diagnosis: Diagnosis, table: pd.DataFrame) -> list[str]:
    """Say of how many losses a bore, a pressure or a return was taken for want of a known one."""
    losing = (table["steam_loss_lb_per_h"] > 0.0).to_numpy()
    trap = diagnosis.intake.rows.device == DEVICES.index("trap")
    blowing = int((losing & ~trap & ~diagnosis.intake.bore_given).sum())
    words = []
    if blowing:
        words.append(
            f"Bore of {counted(blowing, 'vent or breaker', 'vents or breakers')} blowing steam "
            f"taken as {BLOWING_BORE_IN:g} in: none is given."
        )
    unread = int((losing & np.isnan(diagnosis.supply_psia)).sum())
    if unread:
        words.append(
            f"Loss of {counted(unread, 'device')} taken at {UNREAD_PSIG:g} psig: nothing gives "
            "their pressure."
        )
    backwards = int((losing & trap & ~(diagnosis.flow_lb_per_h > 0.0)).sum()) - unread
    if backwards > 0:
        words.append(
            f"Loss of {counted(backwards, 'trap')} taken as into the air: their return reads no "
            "lower than their supply. They are flagged."
        )
    return words
