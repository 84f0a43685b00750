"""Thermometers and gauges: what share of saturation hot units read, and whose fault that is.

A station whose hot units all read low has a thermometer that reads low or a gauge that reads
high; the other stations read with the same thermometer tell which. Whatever is found is taken
out of the readings once, and is not held against any trap.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from survey.columns import THERMOMETERS
from survey.diagnosis import priors
from survey.diagnosis.hypotheses import LOOKS
from survey.diagnosis.likelihood import (
    expected_inlet,
    expected_outlet,
    log_student,
    log_sum,
    log_temperatures,
)
from survey.diagnosis.priors import Model
from survey.diagnosis.rows import Conditions, Rows

CONTACT, INFRARED = THERMOMETERS.index("contact"), THERMOMETERS.index("infrared")
KINDS = len(THERMOMETERS)
STEP = 0.0125
LOG_SHARE = np.arange(np.log(0.70), np.log(1.45), STEP)
"""Grid of a station's share of saturation, contact thermometer, natural logs."""
SURFACE = np.exp(np.linspace(np.log(0.10), np.log(1.08), 26))
"""Grid of the share that an infrared reading of one surface shows."""
SURFACE_WEIGHT = 6.0
SWAP_OVER = 0.06
_PAINT, _RUST, _METAL = 0.50, 0.30, 0.20


def surface_prior() -> np.ndarray:
    """Chances of `SURFACE`: paint about 0.94, rust about 0.75, bright metal anything less."""
    paint = np.exp(-0.5 * ((SURFACE - 0.94) / 0.035) ** 2)
    rust = np.exp(-0.5 * ((SURFACE - 0.78) / 0.08) ** 2)
    metal = np.where(SURFACE < 0.8, 1.0, 0.0)
    parts = [_PAINT * paint / paint.sum(), _RUST * rust / rust.sum(), _METAL * metal / metal.sum()]
    mixed: np.ndarray = np.sum(parts, axis=0)
    return mixed


@dataclass
class Instruments:
    """What each station's thermometer and gauge were found to do. S stations.

    Parameters
    ----------
    share, share_spread
        Share of a true temperature that a contact thermometer reads there, (S,).
    gauge_ratio
        Span of true saturation over that of the gauge's, (S,): 1 where the gauge agrees.
    gauge_wrong
        Chance that the gauge is off (or the steam superheated), (S,).
    surfaces
        Chances of each share of `SURFACE` for infrared readings, (S, grid).
    read
        Units that told about each station, (S,).
    """

    share: np.ndarray
    share_spread: np.ndarray
    gauge_ratio: np.ndarray
    gauge_wrong: np.ndarray
    surfaces: np.ndarray
    read: np.ndarray
    thermometer_share: float = priors.THERMOMETER_SHARE["contact"][0]
    thermometer_spread: float = priors.THERMOMETER_SHARE["contact"][1]
    gauge_shift_psi: np.ndarray = field(default_factory=lambda: np.zeros(0))

    @classmethod
    def prior(cls, stations: int) -> Instruments:
        """Return what is believed before any reading."""
        centre, spread = priors.THERMOMETER_SHARE["contact"]
        return cls(
            share=np.full(stations, centre),
            share_spread=np.full(stations, spread),
            gauge_ratio=np.ones(stations),
            gauge_wrong=np.full(stations, priors.GAUGE_WRONG),
            surfaces=np.tile(surface_prior(), (stations, 1)),
            read=np.zeros(stations),
            gauge_shift_psi=np.zeros(stations),
        )

    def row_share(self, rows: Rows) -> np.ndarray:
        """Share that each row's thermometer reads, (n,); the mean one for infrared."""
        mean_surface = self.surfaces @ SURFACE
        infrared = rows.thermometer == INFRARED
        return np.where(infrared, mean_surface[rows.station], self.share[rows.station])

    def steady_share(self, rows: Rows) -> np.ndarray:
        """Which rows' share is known closely enough to learn from, (n,)."""
        mean = self.surfaces @ SURFACE
        spread = np.sqrt(np.maximum(self.surfaces @ SURFACE**2 - mean**2, 0.0))
        return (rows.thermometer != INFRARED) | (spread[rows.station] < 0.06)


def log_temperature_factors(
    model: Model, instruments: Instruments, rows: Rows, state: Conditions
) -> tuple[np.ndarray, np.ndarray]:
    """Logs of the inlet's reading, and of the outlet's given the inlet's; (n, looks) each.

    An infrared gun sees one surface at both: its share is summed over, so that an outlet as
    hot as the inlet still tells something where neither temperature can be trusted. Where the
    outlet reads hotter than the inlet, which no trap can do, the two may have been written
    down the wrong way round, and both orders are weighed.
    """
    inlet, outlet = _in_order(model, instruments, rows, state)
    odd = np.flatnonzero(rows.outlet_f - rows.inlet_f > SWAP_OVER * state.span_f)
    if len(odd):
        other = rows.take(odd)
        other = replace(other, inlet_f=other.outlet_f, outlet_f=other.inlet_f)
        turned = _in_order(model, instruments, other, _take(state, odd))
        written = inlet[odd] + outlet[odd] + np.log(1.0 - priors.SWAPPED)
        both = np.logaddexp(written, turned[0] + turned[1] + np.log(priors.SWAPPED))
        outlet[odd] = both - inlet[odd]
    return inlet, outlet


def _in_order(
    model: Model, instruments: Instruments, rows: Rows, state: Conditions
) -> tuple[np.ndarray, np.ndarray]:
    inlet, outlet = log_temperatures(model, rows, state, instruments.row_share(rows))
    infrared = np.flatnonzero(rows.thermometer == INFRARED)
    if len(infrared):
        inlet[infrared], outlet[infrared] = _over_surfaces(
            model, instruments, rows.take(infrared), _take(state, infrared)
        )
    return inlet, outlet


def _take(state: Conditions, index: np.ndarray) -> Conditions:
    return Conditions(**{name: values[index] for name, values in vars(state).items()})


def _surface_logs(
    model: Model, rows: Rows, state: Conditions
) -> tuple[np.ndarray, np.ndarray]:
    inlet = _on_grid(rows.inlet_f, rows, state, expected_inlet(model, rows, state), SURFACE,
                     model.inlet_blur)
    outlet = _on_grid(rows.outlet_f, rows, state, expected_outlet(model, state), SURFACE,
                      model.outlet_blur)
    return inlet, outlet


def _on_grid(
    read_f: np.ndarray, rows: Rows, state: Conditions, expected: np.ndarray, grid: np.ndarray,
    spread: np.ndarray,
) -> np.ndarray:
    """Logs of a reading at each share of the grid, (n, looks, grid)."""
    read = ((read_f - rows.ambient_f) / state.span_f)[:, None, None] / grid
    return log_student(read - expected[:, :, None], spread[:, None], priors.GROSS_TEMPERATURE)


def _over_surfaces(
    model: Model, instruments: Instruments, rows: Rows, state: Conditions
) -> tuple[np.ndarray, np.ndarray]:
    inlet, outlet = _surface_logs(model, rows, state)
    weight = np.log(instruments.surfaces[rows.station] + 1e-9)[:, None, :]
    both = log_sum(inlet + outlet + weight)
    first = log_sum(inlet + weight)
    return first, both - first


def learn_surfaces(
    model: Model, instruments: Instruments, rows: Rows, state: Conditions, looks: np.ndarray
) -> None:
    """Move the chances of each surface at each station by its infrared readings.

    Parameters
    ----------
    looks
        Chance of each look from everything but the temperatures, (n, looks).
    """
    infrared = np.flatnonzero((rows.thermometer == INFRARED) & ~np.isnan(state.span_f)
                              & ~np.isnan(rows.inlet_f))
    if not len(infrared):
        return
    picked, at = rows.take(infrared), _take(state, infrared)
    inlet, outlet = _surface_logs(model, picked, at)
    logs = inlet + outlet + np.log(looks[infrared] + 1e-9)[:, :, None]
    logs = log_sum(np.moveaxis(logs, 1, 2)) + np.log(instruments.surfaces[picked.station] + 1e-9)
    chance = np.exp(logs - logs.max(axis=1, keepdims=True))
    chance /= chance.sum(axis=1, keepdims=True)
    counts = np.zeros_like(instruments.surfaces)
    np.add.at(counts, picked.station, chance)
    everywhere = counts.sum(axis=0) + SURFACE_WEIGHT * surface_prior()
    pooled = everywhere / everywhere.sum()
    moved = counts + SURFACE_WEIGHT * pooled
    instruments.surfaces[:] = moved / moved.sum(axis=1, keepdims=True)
    instruments.read += np.bincount(picked.station, minlength=len(instruments.read))


def learn_shares(
    model: Model, instruments: Instruments, rows: Rows, as_read: Conditions, looks: np.ndarray
) -> None:
    """Find each station's share, and split it between the thermometer and the gauge.

    Parameters
    ----------
    as_read
        Conditions by the gauges as they read, no correction.
    looks
        Chance of each look from everything but the temperatures, (n, looks).
    """
    contact = np.flatnonzero((rows.thermometer != INFRARED) & ~np.isnan(as_read.span_f)
                             & ~np.isnan(rows.inlet_f))
    stations = len(instruments.share)
    logs = np.zeros((stations, len(LOG_SHARE)))
    if len(contact):
        each = _share_logs(model, rows.take(contact), _take(as_read, contact), looks[contact])
        np.add.at(logs, rows.station[contact], each)
    instruments.read = np.bincount(rows.station[contact], minlength=stations).astype(float)
    _split(instruments, logs)


def _share_logs(model: Model, rows: Rows, state: Conditions, looks: np.ndarray) -> np.ndarray:
    """Log likelihood of each row at each share of the grid, (n, grid)."""
    result = np.empty((len(rows), len(LOG_SHARE)))
    weight, gross = np.log(looks + 1e-9), priors.GROSS_TEMPERATURE
    expected = expected_inlet(model, rows, state), expected_outlet(model, state)
    for position, log_share in enumerate(LOG_SHARE):
        scale = np.exp(log_share) * state.span_f
        inlet = ((rows.inlet_f - rows.ambient_f) / scale)[:, None] - expected[0]
        outlet = ((rows.outlet_f - rows.ambient_f) / scale)[:, None] - expected[1]
        logs = log_student(inlet, model.inlet_blur, gross)
        logs += log_student(outlet, model.outlet_blur, gross)
        result[:, position] = log_sum(logs + weight)
    # A reading's density is per degree, and the grid stretches the ruler it is held against.
    rulers = 1.0 + ~np.isnan(rows.outlet_f)
    return result - rulers[:, None] * LOG_SHARE


def _split(instruments: Instruments, logs: np.ndarray) -> None:
    centre, spread = priors.THERMOMETER_SHARE["contact"]
    near = priors.THERMOMETER_STATION_SPREAD["contact"]
    apart = LOG_SHARE[:, None] - LOG_SHARE  # station's share (rows) against thermometer's
    right = (1.0 - priors.GAUGE_WRONG) * _normal(apart, near)
    wrong = priors.GAUGE_WRONG * _normal(apart, 0.12)
    likely = np.exp(logs - logs.max(axis=1, keepdims=True))
    by_right, by_wrong = likely @ right, likely @ wrong
    prior = -0.5 * ((LOG_SHARE - np.log(centre)) / (spread / centre)) ** 2
    thermometer = prior + np.log(by_right + by_wrong).sum(axis=0)
    chance = np.exp(thermometer - thermometer.max())
    chance /= chance.sum()
    level = float(chance @ LOG_SHARE)
    instruments.thermometer_share = float(np.exp(level))
    instruments.thermometer_spread = float(np.sqrt(chance @ (LOG_SHARE - level) ** 2))
    instruments.gauge_wrong = (by_wrong / (by_right + by_wrong)) @ chance
    for station in range(len(logs)):
        seen = likely[station] * ((right + wrong) @ chance)
        seen /= seen.sum()
        mean = float(seen @ LOG_SHARE)
        instruments.share_spread[station] = float(np.sqrt(seen @ (LOG_SHARE - mean) ** 2))
        gauge = instruments.gauge_wrong[station] > 0.5
        instruments.share[station] = np.exp(level if gauge else mean)
        instruments.gauge_ratio[station] = np.exp(mean - level) if gauge else 1.0


def _normal(apart: np.ndarray, spread: float) -> np.ndarray:
    result: np.ndarray = np.exp(-0.5 * (apart / spread) ** 2) / spread * STEP / np.sqrt(2 * np.pi)
    return result


assert LOOKS[0] == "working"
