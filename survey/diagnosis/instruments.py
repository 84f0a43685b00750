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
    followed,
    inlet_blur,
    let_valves_seep,
    log_temperatures,
    lost_if_hotter,
    outlet_blur,
    student,
)
from survey.diagnosis.model import Model
from survey.diagnosis.rows import Conditions, Rows
from survey.diagnosis.rowwise import looked_up, row_max, row_sum, table
from survey.physics.radiation import (
    EMISSIVITIES,
    THERMOMETER_SETTING,
    surface_temperature_f,
)

INFRARED = THERMOMETERS.index("infrared")
STEP = 0.0125
LOG_SHARE = np.arange(np.log(0.70), np.log(1.45), STEP)
"""Grid of a station's share of saturation, contact thermometer, natural logs."""
SURFACE = np.exp(np.linspace(np.log(0.06), np.log(1.08), 30))
"""Grid of a surface's emissivity over the one the infrared thermometer is set to."""
SURFACE_WEIGHT = 6.0
SETTLED_SURFACE = 0.04
"""Spread of a surface's emissivity from which a hot inlet is taken to tell it."""
SWAP_OVER = 0.06
_AT_ONCE = 256
"""Infrared readings weighed at once: their densities off every surface then stay near the core."""
_PAINT, _RUST, _METAL = 0.50, 0.30, 0.20


def surface_prior() -> np.ndarray:
    """Chances of `SURFACE`: paint, rust, and bright metal at anything less, on a 0.95 setting."""
    paint = np.exp(-0.5 * ((SURFACE - _set("oil_paint")) / 0.03) ** 2)
    rust = np.exp(-0.5 * ((SURFACE - _set("red_rust")) / 0.07) ** 2)
    metal = np.where(_set("red_rust") > SURFACE, 1.0, 0.0)
    parts = [_PAINT * paint / paint.sum(), _RUST * rust / rust.sum(), _METAL * metal / metal.sum()]
    mixed: np.ndarray = np.sum(parts, axis=0)
    return mixed


def _mean_and_spread(chance: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return the mean and spread of `SURFACE` by chances (n, grid), (n,) each."""
    mean = chance @ SURFACE
    return mean, np.sqrt(np.maximum(chance @ SURFACE**2 - mean**2, 0.0))


def _set(surface: str) -> float:
    return EMISSIVITIES[surface].typical / THERMOMETER_SETTING


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
        Chances of each emissivity of `SURFACE` for infrared readings, (S, grid).
    read
        Units that told about each station, (S,).
    """

    share: np.ndarray
    share_spread: np.ndarray
    gauge_ratio: np.ndarray
    gauge_wrong: np.ndarray
    surfaces: np.ndarray
    read: np.ndarray
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

    def corrected(self, rows: Rows) -> Rows:
        """Return the rows with temperatures as true as they can be told: what the pipe has.

        A contact reading is divided by its station's share of the way up from the air's
        temperature; an infrared one is taken as off the station's mean surface.
        """
        infrared = rows.thermometer == INFRARED
        mean_surface = (self.surfaces @ SURFACE)[rows.station]
        share = self.share[rows.station]

        def true_f(read_f: np.ndarray) -> np.ndarray:
            result = rows.ambient_f + (read_f - rows.ambient_f) / share
            if infrared.any():
                result[infrared] = surface_temperature_f(
                    reading_f=read_f[infrared],
                    surroundings_f=rows.ambient_f[infrared],
                    relative_emissivity=mean_surface[infrared],
                )
            return np.asarray(result)

        return replace(rows, inlet_f=true_f(rows.inlet_f), outlet_f=true_f(rows.outlet_f))

    def steady_share(self, rows: Rows) -> np.ndarray:
        """Which rows' thermometer is known closely enough to learn from, (n,)."""
        _, spread = _mean_and_spread(self.surfaces)
        return np.asarray((rows.thermometer != INFRARED) | (spread[rows.station] < 0.06))


def outlets_by_own_inlet(
    model: Model, instruments: Instruments, rows: Rows, state: Conditions
) -> np.ndarray:
    """Return infrared readings of outlets as true as a hot inlet beside them tells, °F, (n,).

    One surface is seen at both: where the inlet is a hot unit's, what it reads short of that is the
    surface's. NaN where that does not settle the surface, and for other thermometers.
    """
    result = np.full(len(rows), np.nan)
    seen = (rows.thermometer == INFRARED) & ~np.isnan(rows.inlet_f) & ~np.isnan(rows.outlet_f)
    infrared = np.flatnonzero(seen & ~np.isnan(state.span_f))
    if not len(infrared):
        return result
    part, at = rows.take(infrared), state.take(infrared)
    hot = expected_inlet(model, part, at)[:, :1]
    chance = student(
        _missed(part.inlet_f, part, at, hot)[:, 0],
        inlet_blur(model, part, at)[:, :1],
        priors.GROSS_TEMPERATURE,
    )
    chance *= looked_up(instruments.surfaces + 1e-9, part.station)
    chance /= row_sum(chance)[:, None]
    mean, spread = _mean_and_spread(chance)
    outlet_f = surface_temperature_f(
        reading_f=part.outlet_f, surroundings_f=part.ambient_f, relative_emissivity=mean
    )
    result[infrared] = np.where(spread < SETTLED_SURFACE, outlet_f, np.nan)
    return result


def log_temperature_factors(
    model: Model, instruments: Instruments, rows: Rows, state: Conditions
) -> tuple[np.ndarray, np.ndarray]:
    """Return logs of the inlet's reading, and of the outlet's given the inlet's; (n, looks) each.

    An infrared gun sees one surface at both: its share is summed over, so that an outlet as
    hot as the inlet still tells something where neither temperature can be trusted. Where the
    outlet reads hotter than the inlet, which no trap can do, the two may have been written
    down the wrong way round, and both orders are weighed.
    """
    inlet, outlet = _in_order(model, instruments, rows, state)
    hotter = rows.outlet_f - rows.inlet_f > SWAP_OVER * state.span_f
    odd = np.flatnonzero(hotter & ~rows.by_shared_pipe)  # two rows cannot be turned round
    if len(odd):
        other = rows.take(odd)
        other = replace(other, inlet_f=other.outlet_f, outlet_f=other.inlet_f)
        turned = _in_order(model, instruments, other, state.take(odd))
        written = inlet[odd] + outlet[odd] + np.log(1.0 - priors.SWAPPED)
        both = np.logaddexp(written, turned[0] + turned[1] + np.log(priors.SWAPPED))
        outlet[odd] = both - inlet[odd]
    return inlet, outlet


def _in_order(
    model: Model, instruments: Instruments, rows: Rows, state: Conditions
) -> tuple[np.ndarray, np.ndarray]:
    inlet, outlet = log_temperatures(model, instruments.corrected(rows), state)
    infrared = np.flatnonzero(rows.thermometer == INFRARED)
    if len(infrared):
        inlet[infrared], outlet[infrared] = _over_surfaces(
            model, instruments, rows.take(infrared), state.take(infrared)
        )
    return inlet, outlet


def surface_likely(
    model: Model, rows: Rows, state: Conditions
) -> tuple[np.ndarray, np.ndarray]:
    """Return densities of inlet and outlet off each surface of the grid, (n, looks, grid) each."""
    inlet = _missed(rows.inlet_f, rows, state, expected_inlet(model, rows, state))
    expected = expected_outlet(model, state)
    outlet = _missed(rows.outlet_f, rows, state, expected)
    outlet -= followed(model, inlet)
    # As with a probe: hotter than any look expects is as hot as the hottest.
    outlet = np.minimum(outlet, (row_max(expected)[:, None] - expected)[..., None])
    spread = outlet_blur(model, np.isnan(rows.inlet_f))
    blur = inlet_blur(model, rows, state)[..., None]
    likely = student(inlet, blur, priors.GROSS_TEMPERATURE)
    let_valves_seep(likely, inlet)
    return (
        likely,
        lost_if_hotter(model, outlet, spread, expected),
    )


def _missed(
    read_f: np.ndarray, rows: Rows, state: Conditions, expected: np.ndarray
) -> np.ndarray:
    """Return how far a reading off each surface of `SURFACE` misses, (n, looks, grid)."""
    surface_f = surface_temperature_f(
        reading_f=read_f, surroundings_f=rows.ambient_f, relative_emissivity=SURFACE[:, None]
    )
    # A reading so far under its surroundings that no surface gives it is as cold as they are.
    surface_f[np.isnan(surface_f) & ~np.isnan(read_f)] = 0.0
    way = ((surface_f - rows.ambient_f) / state.span_f).T
    return np.asarray(np.subtract(way[:, None, :], expected[:, :, None], order="F"))


def _over_surfaces(
    model: Model, instruments: Instruments, rows: Rows, state: Conditions
) -> tuple[np.ndarray, np.ndarray]:
    first, both = table(len(rows), len(LOOKS)), table(len(rows), len(LOOKS))
    for start in range(0, len(rows), _AT_ONCE):
        some = slice(start, start + _AT_ONCE)
        part = rows.take(some)
        inlet, outlet = surface_likely(model, part, state.take(some))
        inlet *= looked_up(instruments.surfaces + 1e-9, part.station)[:, None, :]
        first[some] = row_sum(inlet)
        inlet *= outlet
        both[some] = row_sum(inlet)
    first = np.log(first)
    return first, np.log(both) - first
