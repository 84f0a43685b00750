"""Ultrasonic level and pattern: jets, flashing condensate, background, and the meter.

The level of a jet follows the kinetic power of its flow, 10 log10(m c²), times an acoustic
efficiency that climbs with the pressure ratio and levels off near 3: the form of the vent noise
estimate in API 521. Where the meter's zero lies has no published value.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from plants import steam

JET_AT_10_LB_PER_H_DB = 46.0  # choked, on this benchmark's own reference: no source
WET_JET_DB = -14.0  # a jet full of water makes less noise: common practice, no source
WORKING = {  # what a working trap does over a minute
    "float_thermostatic": {"continuous": 0.45, "modulating": 0.45, "intermittent": 0.10},
    "inverted_bucket": {"intermittent": 0.90, "modulating": 0.05, "continuous": 0.05},
    "thermodynamic": {"intermittent": 0.95, "modulating": 0.02, "continuous": 0.03},
    "thermostatic": {"intermittent": 0.60, "modulating": 0.30, "continuous": 0.10},
    "bimetallic": {"modulating": 0.55, "intermittent": 0.35, "continuous": 0.10},
    "fixed_orifice": {"continuous": 0.90, "modulating": 0.10},
}
LEAKING = {"continuous": 0.60, "intermittent": 0.25, "modulating": 0.15}
OPEN = {"continuous": 0.92, "modulating": 0.05, "intermittent": 0.03}
OPEN_DISK = {"continuous": 0.70, "intermittent": 0.27, "modulating": 0.03}  # it chatters
STANDING = {"quiet": 0.85, "intermittent": 0.08, "modulating": 0.07}
PATTERNS = np.array(["quiet", "intermittent", "continuous", "modulating"], dtype=object)
MISHEARD_SHARE = 0.06


def jet_db(flow_lb_per_h, upstream_psia, downstream_psia):
    """Level of a dry steam jet before it meets the background."""
    ratio = np.maximum(upstream_psia / downstream_psia, 1.02)
    efficiency = -20.0 * np.clip(np.log(3.0 / ratio) / np.log(3.0 / 1.15), 0.0, 1.3)
    flow = np.maximum(flow_lb_per_h, 1e-4)
    return JET_AT_10_LB_PER_H_DB + 10 * np.log10(flow / 10.0) + efficiency


def add_levels(*levels_db):
    """Sum of sources in power."""
    return 10 * np.log10(sum(10 ** (level / 10) for level in levels_db))


def add_sources(rng: np.random.Generator, units: pd.DataFrame) -> None:
    """Add source_db (what the trap gives off) and room_db (what its pipe carries anyway)."""
    count = len(units)
    p1 = units["supply_psig"] + units["atmosphere_psia"]
    p2 = units["outlet_psia"]
    flash = steam.flash_share(units["inlet_f"], steam.saturation_f(p2))
    running = units["state"].isin(["working", "leaking", "failed_open"])
    load = units["load_lb_per_h"] * np.where(running, rng.lognormal(-0.1, 0.45, count), 0.0)
    wet = jet_db(load * (flash + 0.004), p1, p2) + WET_JET_DB + rng.normal(0, 2.5, count)
    units["pattern_heard"] = _patterns_made(rng, units)
    wet += _moment_read(rng, units["pattern_heard"].to_numpy())
    dry = jet_db(units["steam_loss_lb_per_h"], p1, p2) + rng.normal(0, 2.0, count)
    trickle = (units["state"] == "backed_up") & (rng.random(count) < 0.3)
    gurgle = np.where(trickle, rng.uniform(8, 24, count), -20.0)
    units["source_db"] = add_levels(wet, dry, gurgle)
    units["room_db"] = add_levels(_room(rng, units), _through_the_pipe(rng, units))


def _room(rng, units):
    """Background that neighbours share: an area's own level and a walk along it."""
    count = len(units)
    level = rng.normal(19.0, 4.5, units["area_number"].max() + 1)[units["area_number"]]
    step = rng.normal(0.0, 1.3, count)
    walk = np.zeros(count)
    for i in range(1, count):
        walk[i] = 0.9 * walk[i - 1] + step[i]
    loud = rng.random(count) < 0.03  # a fan or valve close by
    return level + walk + np.where(loud, rng.uniform(6, 16, count), 0.0)


def _through_the_pipe(rng, units):
    """A blown neighbour is heard along the pipe, 14 to 26 dB down."""
    source = units["source_db"].to_numpy()
    area = units["area_number"].to_numpy()
    heard = np.full(len(units), -30.0)
    for shift in (-1, 1):
        near = np.where(np.roll(area, shift) == area, np.roll(source, shift), -30.0)
        heard = add_levels(heard, near - rng.uniform(14, 26, len(units)))
    return heard


class Meter:
    """One ultrasonic meter: its zero, its gain, its floor, and the hand that holds it."""

    def __init__(self, rng: np.random.Generator, offset_db: float, gain: float):
        self._rng = rng
        self.offset_db = offset_db
        self.gain = gain

    def read(self, level_db: np.ndarray) -> np.ndarray:
        """Readings to whole dB. Contact pressure and angle scatter with a heavy tail."""
        level = np.maximum(np.asarray(level_db, dtype=float), 3.0)
        hand = 1.3 * self._rng.standard_t(4, len(level))
        return np.round(self.offset_db + self.gain * level + hand)


def _patterns_made(rng, units):
    shares = np.array([_pattern_shares(t, s) for t, s in
                       zip(units["trap_type"], units["state"], strict=True)])
    number = (rng.random(len(units))[:, None] > shares.cumsum(axis=1)).sum(axis=1).clip(0, 3)
    return PATTERNS[number]


def _moment_read(rng, pattern):
    """A discharge that comes and goes is read between bursts (mostly), on average or at its peak.

    Which one a technician writes down is common practice, no source.
    """
    count = len(pattern)
    between = rng.uniform(-16.0, -6.0, count)
    peak = rng.uniform(3.0, 8.0, count)
    which = rng.choice(3, count, p=[0.60, 0.25, 0.15])
    moment = np.choose(which, [between, np.zeros(count), peak])
    return np.select([pattern == "intermittent", pattern == "modulating"], [moment, 0.3 * moment])


def patterns(rng: np.random.Generator, units: pd.DataFrame) -> np.ndarray:
    """What the technician says was heard."""
    heard = units["pattern_heard"].to_numpy(dtype=object)
    # Under the background nothing is made out, whatever the trap does.
    lost = (units["source_db"] < units["room_db"] - 2.0) & (rng.random(len(units)) < 0.8)
    heard = np.where(lost, "quiet", heard)
    wrong = rng.random(len(units)) < MISHEARD_SHARE
    return np.where(wrong, rng.choice(PATTERNS, len(units)), heard)


def _pattern_shares(trap_type, state):
    if state == "working":
        words = WORKING[trap_type]
    elif state == "leaking":
        words = LEAKING
    elif state == "failed_open":
        words = OPEN_DISK if trap_type == "thermodynamic" else OPEN
    else:
        words = STANDING
    return [words.get(p, 0.0) for p in PATTERNS]
