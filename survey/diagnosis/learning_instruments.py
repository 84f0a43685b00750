"""How one look at the round moves what is believed of its thermometers and gauges."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from survey.diagnosis import priors
from survey.diagnosis.hypotheses import LOOKS
from survey.diagnosis.instruments import (
    INFRARED,
    LOG_SHARE,
    STEP,
    SURFACE_WEIGHT,
    Instruments,
    surface_likely,
    surface_prior,
)
from survey.diagnosis.likelihood import expected_inlet, expected_outlet, inlet_blur, student
from survey.diagnosis.model import Model
from survey.diagnosis.rows import Conditions, Rows
from survey.diagnosis.rowwise import row_sum

_PRIOR = Model()


def learn_surfaces(
    model: Model, instruments: Instruments, rows: Rows, state: Conditions, looks: np.ndarray
) -> None:
    """Move the chances of each surface at each station by its infrared readings.

    Parameters
    ----------
    looks
        Chance of each look from everything but the temperatures, (n, looks).
    """
    infrared = np.flatnonzero(
        (rows.thermometer == INFRARED) & ~np.isnan(state.span_f) & ~np.isnan(rows.inlet_f)
    )
    if not len(infrared):
        return
    picked, at = rows.take(infrared), state.take(infrared)
    likely, outlet = surface_likely(model, picked, at)
    likely *= outlet
    likely *= (looks[infrared] + 1e-9)[:, :, None]
    chance = row_sum(np.moveaxis(likely, 1, 2)) * (instruments.surfaces[picked.station] + 1e-9)
    chance /= row_sum(chance)[:, None]
    counts = np.zeros_like(instruments.surfaces)
    np.add.at(counts, picked.station, chance)
    everywhere = counts.sum(axis=0) + SURFACE_WEIGHT * surface_prior()
    pooled = everywhere / everywhere.sum()
    moved = counts + SURFACE_WEIGHT * pooled
    instruments.surfaces[:] = moved / moved.sum(axis=1, keepdims=True)
    instruments.read += np.bincount(picked.station, minlength=len(instruments.read))


THERMOMETER_OVER = 0.004
"""How far over the truth a contact probe may read: it loses heat to the air, so hot units that all
read over their saturation speak of the gauge, or of superheat."""
LEAST_WAY = 0.6
"""Share of the way to saturation, as read, from which an inlet may be a hot unit's."""


@dataclass(frozen=True)
class HeldShares:
    """How likely each contact reading is at each share of the grid, found once for a round.

    Traps are held at their published subcooling here: a thermometer that reads low and traps
    that hold back more look alike, and moving both at once slides along between them. So the
    likelihood is the same in every pass, and only the chances of the looks move.

    Parameters
    ----------
    contact
        Positions of the readings among the traps, (c,).
    station
        Station of each, (c,).
    likely
        Density of each under each look at each share, (c, looks, grid).
    ruler
        Log of how the grid stretches the ruler a reading is held against, (c, grid).
    least
        Log of the least share of the way to saturation by its gauge that each station's true one
        may lie at, (stations,): no steam is under the pressure of its own return.
    """

    contact: np.ndarray
    station: np.ndarray
    likely: np.ndarray
    ruler: np.ndarray
    least: np.ndarray

    @classmethod
    def of(cls, rows: Rows, as_read: Conditions, *, stations: int) -> HeldShares:
        """Return what the temperatures of traps say, by the gauges as they read."""
        contact = np.flatnonzero(
            (rows.thermometer != INFRARED) & ~np.isnan(as_read.span_f) & ~np.isnan(rows.inlet_f)
        )
        way = (rows.inlet_f - rows.ambient_f)[contact] / as_read.span_f[contact]
        # A unit that is nowhere near its saturation tells of neither thermometer nor gauge.
        contact = contact[way > LEAST_WAY]
        picked, state = rows.take(contact), as_read.take(contact)
        # A reading's density is per degree.
        rulers = 1.0 + ~np.isnan(picked.outlet_f)
        return cls(
            contact, picked.station, _share_likely(picked, state), rulers[:, None] * LOG_SHARE,
            _least(picked, state, stations),
        )  # fmt: skip


def learn_shares(instruments: Instruments, held: HeldShares, looks: np.ndarray) -> None:
    """Find each station's share, and split it between the thermometer and the gauge.

    Parameters
    ----------
    looks
        Chance of each look from everything but the temperatures, (n, looks).
    """
    stations = len(instruments.share)
    logs = np.zeros((stations, len(LOG_SHARE)))
    chance = looks[held.contact, None, :] + 1e-9
    each = np.log((chance @ held.likely)[:, 0]) - held.ruler
    np.add.at(logs, held.station, each)
    instruments.read = np.bincount(held.station, minlength=stations).astype(float)
    _split(instruments, logs, held.least)


def _least(rows: Rows, state: Conditions, stations: int) -> np.ndarray:
    way = np.maximum((state.return_saturation_f - rows.ambient_f) / state.span_f, LEAST_WAY)
    result = np.full(stations, -np.inf)
    for station in np.unique(rows.station).tolist():
        result[station] = np.log(np.nanmedian(way[rows.station == station]))
    return np.asarray(np.nan_to_num(result, nan=-np.inf))


def _share_likely(rows: Rows, state: Conditions) -> np.ndarray:
    result = np.empty((len(rows), len(LOOKS), len(LOG_SHARE)))
    gross = priors.GROSS_TEMPERATURE
    expected = expected_inlet(_PRIOR, rows, state), expected_outlet(_PRIOR, state)
    blur = inlet_blur(_PRIOR, rows, state)
    for position, log_share in enumerate(LOG_SHARE):
        scale = np.exp(log_share) * state.span_f
        inlet = ((rows.inlet_f - rows.ambient_f) / scale)[:, None] - expected[0]
        outlet = ((rows.outlet_f - rows.ambient_f) / scale)[:, None] - expected[1]
        result[:, :, position] = student(inlet, blur, gross)
        result[:, :, position] *= student(outlet, _PRIOR.outlet_blur, gross)
    return result


def _split(instruments: Instruments, logs: np.ndarray, least: np.ndarray) -> None:
    centre, spread = priors.THERMOMETER_SHARE["contact"]
    near = priors.THERMOMETER_STATION_SPREAD["contact"]
    apart = LOG_SHARE[:, None] - LOG_SHARE  # station's share (rows) against thermometer's
    right = (1.0 - priors.GAUGE_WRONG) * _normal(apart, near)
    wrong = priors.GAUGE_WRONG * _normal(apart, 0.12)
    likely = np.exp(logs - logs.max(axis=1, keepdims=True))
    by_right, by_wrong = likely @ right, likely @ wrong
    prior = -0.5 * ((LOG_SHARE - np.log(centre)) / (spread / centre)) ** 2
    prior -= 0.5 * (np.maximum(LOG_SHARE, 0.0) / THERMOMETER_OVER) ** 2
    thermometer = prior + np.log(by_right + by_wrong).sum(axis=0)
    chance = np.exp(thermometer - thermometer.max())
    chance /= chance.sum()
    level = float(chance @ LOG_SHARE)
    instruments.gauge_wrong = (by_wrong / (by_right + by_wrong)) @ chance
    for station in range(len(logs)):
        seen = likely[station] * ((right + wrong) @ chance)
        seen /= seen.sum()
        mean = float(seen @ LOG_SHARE)
        instruments.share_spread[station] = float(
            np.sqrt(seen @ (LOG_SHARE - mean) ** 2 + STEP**2 / 12.0)
        )
        if mean - level < least[station]:
            # All of its units stand under steam of their return's pressure: that is no gauge's
            # doing, nor the thermometer's.
            instruments.gauge_wrong[station], mean = 0.0, level
        gauge = instruments.gauge_wrong[station] > 0.5
        instruments.share[station] = np.exp(level if gauge else mean)
        instruments.gauge_ratio[station] = np.exp(mean - level) if gauge else 1.0


def _normal(apart: np.ndarray, spread: float) -> np.ndarray:
    result: np.ndarray = np.exp(-0.5 * (apart / spread) ** 2) / spread * STEP / np.sqrt(2 * np.pi)
    return result
