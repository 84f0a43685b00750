"""Air vents, vacuum breakers and check valves: what each state looks like, and its logs.

The numbers are common practice, no source; what was seen when a device was opened, and
whether it is shut or fitted at all, decide long before its temperature does.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from survey.columns import (
    BREAKER_STATES,
    CHECK_STATES,
    DEVICES,
    OBSERVATIONS,
    PATTERNS,
    PRESENCES,
    VALVE_POSITIONS,
    VENT_STATES,
)
from survey.diagnosis.likelihood import background_of, log_of_codes, student
from survey.diagnosis.priors import GROSS_SOUND, GROSS_TEMPERATURE, Model
from survey.diagnosis.rows import Conditions, Rows
from survey.diagnosis.rowwise import looked_up, plus, times
from survey.physics.sound import decibels, share_of_power


@dataclass(frozen=True)
class Look:
    """What one state of a device shows.

    Parameters
    ----------
    rate
        Share of such devices in this state before anything is read.
    inlet, outlet
        Share of the way to saturation: centre and spread. For a vent or breaker the
        outlet is its discharge side.
    source_db, source_spread_db
        Sound it makes, over the round's background.
    observed, pattern
        Chances in the order of `columns.OBSERVATIONS` and `columns.PATTERNS`.
    closed, absent
        Chance that its valve reads closed, and that it reads as not fitted.
    """

    rate: float
    inlet: tuple[float, float]
    outlet: tuple[float, float]
    source_db: float
    observed: tuple[float, float, float, float]
    pattern: tuple[float, float, float, float]
    source_spread_db: float = 6.0
    closed: float = 0.01
    absent: float = 0.0005


_QUIET = (0.80, 0.12, 0.04, 0.04)
_JET = (0.03, 0.07, 0.80, 0.10)
_BURBLE = (0.25, 0.30, 0.25, 0.20)

VENT_LOOKS: dict[str, Look] = {
    "working": Look(
        0.80, (0.92, 0.14), (0.40, 0.28), -6.0, (0.46, 0.47, 0.03, 0.04), (0.62, 0.28, 0.04, 0.06)
    ),
    "isolated": Look(
        0.09, (0.40, 0.30), (0.12, 0.14), -9.0, (0.80, 0.14, 0.03, 0.03), _QUIET, closed=0.97
    ),
    "failed_open": Look(0.05, (0.98, 0.06), (0.85, 0.16), 14.0, (0.02, 0.03, 0.05, 0.90), _JET),
    "passing_water": Look(0.03, (0.75, 0.20), (0.62, 0.20), 2.0, (0.02, 0.03, 0.90, 0.05), _BURBLE),
    "missing": Look(
        0.03, (0.50, 0.40), (0.30, 0.30), -9.0, (0.90, 0.04, 0.03, 0.03), _QUIET, absent=0.998
    ),
}
BREAKER_LOOKS: dict[str, Look] = {
    "working": Look(
        0.84, (0.80, 0.25), (0.20, 0.20), -9.0, (0.80, 0.16, 0.02, 0.02), (0.84, 0.10, 0.03, 0.03)
    ),
    "missing": Look(
        0.05, (0.50, 0.40), (0.30, 0.30), -9.0, (0.90, 0.04, 0.03, 0.03), _QUIET, absent=0.998
    ),
    "isolated": Look(
        0.05, (0.45, 0.35), (0.12, 0.14), -9.0, (0.90, 0.04, 0.03, 0.03), _QUIET, closed=0.97
    ),
    "leaking": Look(0.06, (0.95, 0.10), (0.75, 0.20), 10.0, (0.02, 0.05, 0.18, 0.75), _JET),
}
# A check valve's outlet is held against its own inlet: flow carries heat with it, so a valve
# that passes forward cools a little along its way, one that stays shut cools much, and one
# that passes back is hotter on the return's side.
CHECK_LOOKS: dict[str, Look] = {
    "working": Look(
        0.86, (0.60, 0.22), (-0.04, 0.09), -2.0, (0.32, 0.04, 0.60, 0.04), (0.45, 0.35, 0.10, 0.10)
    ),
    "stuck": Look(0.08, (0.48, 0.18), (-0.30, 0.14), -9.0, (0.76, 0.04, 0.18, 0.02), _QUIET),
    "passing_back": Look(0.06, (0.50, 0.20), (0.12, 0.14), 4.0, (0.06, 0.04, 0.68, 0.22), _BURBLE),
}
LIFELESS = Look(0.0, (0.12, 0.13), (0.10, 0.12), -9.0, (0.84, 0.08, 0.06, 0.02), _QUIET)
"""Any device where no heat or no flow comes by: it looks the same whatever its own state."""
LIFELESS_CHECK_INLET = (0.30, 0.22)
"""A check valve's inlet where nothing flows: anywhere from cold to standing in warm condensate."""
LIFELESS_ACROSS = (-0.01, 0.07)
"""Outlet against inlet of a check valve that nothing flows through."""
LOOKS_BY_DEVICE: dict[str, dict[str, Look]] = {
    "air_vent": VENT_LOOKS,
    "vacuum_breaker": BREAKER_LOOKS,
    "check_valve": CHECK_LOOKS,
}
assert tuple(VENT_LOOKS) == VENT_STATES
assert tuple(BREAKER_LOOKS) == BREAKER_STATES
assert tuple(CHECK_LOOKS) == CHECK_STATES

RATE_WEIGHT = 15.0
OBSERVED_WEIGHT = 6.0
PATTERN_WEIGHT = 8.0
TEMPERATURE_WEIGHT = 6.0
LEAST_SPREAD = 0.05
"""No state is held closer to its centre than this, so that none wins readings by being the
narrowest about the same place."""
LEAST_RATE = 0.5
"""Least share of a state's usual rate that a round may bring it down to: one device that is not
fitted among a thousand that are is still not fitted."""
CENTRE_DOUBT = 0.10
"""How far a plant's own centre may lie from those above."""
OUTLET_DOUBT = 0.25  # of vents and breakers: where their outlets are read differs most
SOURCE_DOUBT_DB = 5.0
READ_THOUGH_MISSING = 0.1
"""Odds of readings (off the bare pipe) where a device is not fitted, against where it is."""
_CLOSED = VALVE_POSITIONS.index("closed")
_ABSENT = PRESENCES.index("no")


@dataclass
class DeviceModel:
    """One kind of device: what the round may move of its looks. Arrays run over its states."""

    device: str
    rates: np.ndarray
    inlet: np.ndarray
    inlet_spread: np.ndarray
    outlet: np.ndarray
    outlet_spread: np.ndarray
    source_db: np.ndarray
    source_spread_db: np.ndarray
    observed: np.ndarray
    pattern: np.ndarray
    closed: np.ndarray
    absent: np.ndarray
    inlet_doubt: np.ndarray
    outlet_doubt: np.ndarray

    @classmethod
    def prior(cls, device: str) -> DeviceModel:
        """Return the model of a kind of device before any reading."""
        looks = list(LOOKS_BY_DEVICE[device].values())
        doubt = CENTRE_DOUBT if device == "check_valve" else OUTLET_DOUBT
        return cls(
            device=device,
            rates=np.array([look.rate for look in looks]),
            inlet=np.array([look.inlet[0] for look in looks]),
            inlet_spread=np.array([look.inlet[1] for look in looks]),
            outlet=np.array([look.outlet[0] for look in looks]),
            outlet_spread=np.array([look.outlet[1] for look in looks]),
            source_db=np.array([look.source_db for look in looks]),
            source_spread_db=np.array([look.source_spread_db for look in looks]),
            observed=np.array([look.observed for look in looks]),
            pattern=np.array([look.pattern for look in looks]),
            closed=np.array([look.closed for look in looks]),
            absent=np.array([look.absent for look in looks]),
            inlet_doubt=np.full(len(looks), CENTRE_DOUBT),
            outlet_doubt=np.full(len(looks), doubt),
        )

    @property
    def code(self) -> int:
        """Return the device's code in `columns.DEVICES`."""
        return DEVICES.index(self.device)


def levels(kind: DeviceModel, rows: Rows, state: Conditions) -> tuple[np.ndarray, np.ndarray]:
    """Inlet and outlet as shares of the way to saturation; a check valve's outlet less inlet."""
    inlet = (rows.inlet_f - rows.ambient_f) / state.span_f
    outlet = (rows.outlet_f - rows.ambient_f) / state.span_f
    return inlet, outlet - inlet if kind.device == "check_valve" else outlet


def device_factors(
    kind: DeviceModel,
    model: Model,
    rows: Rows,
    state: Conditions,
    lifeless: np.ndarray,
) -> dict[str, np.ndarray]:
    """Return logs of each reading of devices of one kind, by reading, each (n, states).

    Parameters
    ----------
    rows
        The devices, temperatures corrected.
    lifeless
        Chance that no heat or flow comes by each device in each state, (n, states).
    """
    inlet, outlet = levels(kind, rows, state)
    dead_inlet, across = LIFELESS.inlet, LIFELESS.outlet
    if kind.device == "check_valve":
        dead_inlet, across = LIFELESS_CHECK_INLET, LIFELESS_ACROSS
    gross = GROSS_TEMPERATURE
    blur_in, blur_out = (
        np.hypot(kind.inlet_spread, kind.inlet_doubt),
        np.hypot(kind.outlet_spread, kind.outlet_doubt),
    )
    dead_db, dead_spread_db = np.array([LIFELESS.source_db]), np.array([LIFELESS.source_spread_db])
    # What came out tells something of a lifeless device too: it may have had steam when watched.
    dead_observed = _seen_of_lifeless(kind.observed)
    heat = {
        "inlet": (
            student(plus(inlet, -kind.inlet), blur_in, gross),
            student(inlet - dead_inlet[0], dead_inlet[1], gross)[:, None],
        ),
        "outlet": (
            student(plus(outlet, -kind.outlet), blur_out, gross),
            student(outlet - across[0], across[1], gross)[:, None],
        ),
        "sound": (
            _sound(kind.source_db, kind.source_spread_db, model, rows),
            _sound(dead_db, dead_spread_db, model, rows),
        ),
        "pattern": (
            _choice(rows.pattern, kind.pattern),
            _choice(rows.pattern, np.array([LIFELESS.pattern])),
        ),
        "observed": (
            _choice(rows.observed, kind.observed),
            _choice(rows.observed, dead_observed),
        ),
    }
    return {
        "valve": _two_way(rows.valve, _CLOSED, kind.closed),
        "present": _two_way(rows.present, _ABSENT, kind.absent) + _log_read(kind, rows),
        **_with_lifeless(heat, np.clip(lifeless, 1e-4, 1.0 - 1e-4)),
    }


def _log_read(kind: DeviceModel, rows: Rows) -> np.ndarray:
    """Return logs of there being something to read: what is not fitted has no temperature."""
    read = ~np.isnan(rows.inlet_f) | ~np.isnan(rows.outlet_f) | ~np.isnan(rows.sound_db)
    read |= (rows.valve >= 0) | (rows.observed >= 0)
    missing = kind.absent > 0.5
    return times(read, np.where(missing, np.log(READ_THOUGH_MISSING), 0.0))


def _seen_of_lifeless(observed: np.ndarray) -> np.ndarray:
    """Return what comes out of a lifeless device: nothing, else what its state gives."""
    some = observed[:, 1:] / observed[:, 1:].sum(axis=1, keepdims=True)
    nothing = np.full((len(observed), 1), LIFELESS.observed[0])
    return np.concatenate([nothing, (1.0 - nothing) * some], axis=1)


def _with_lifeless(
    heat: dict[str, tuple[np.ndarray, np.ndarray]], lifeless: np.ndarray
) -> dict[str, np.ndarray]:
    """Sum over whether the device is lifeless, reading by reading, as each is taken in."""
    result = {}
    alive, dead = 1.0 - lifeless, lifeless
    before = np.zeros_like(lifeless)
    for name, (living, gone) in heat.items():
        alive, dead = alive * living, dead * gone
        after = np.log(alive + dead)
        result[name] = after - before
        before = after
    return result


def _sound(
    source_db: np.ndarray, source_spread_db: np.ndarray, model: Model, rows: Rows
) -> np.ndarray:
    background, known = background_of(model, rows)
    own = share_of_power(over_db=plus(model.background_db - background, source_db))
    rise = -decibels(power_ratio=own)
    spread = np.sqrt(
        model.sound_spread_db[0] ** 2
        + (source_spread_db * (1.0 - own)) ** 2
        + (np.where(known, 0.0, model.background_spread_db)[:, None] * own) ** 2
    )
    return student((rows.sound_db - background)[:, None] - rise, spread, GROSS_SOUND)


def _two_way(code: np.ndarray, hit: int, chance: np.ndarray) -> np.ndarray:
    return log_of_codes(np.stack([chance if c == hit else 1.0 - chance for c in range(2)]), code)


def _choice(code: np.ndarray, chance: np.ndarray) -> np.ndarray:
    """Return the chance of each code in each state, (n, states); one where it is missing."""
    none = np.ones((1, len(chance)))
    return looked_up(np.concatenate([chance.T, none]), code)


assert len(_QUIET) == len(PATTERNS)
assert len(VENT_LOOKS["working"].observed) == len(OBSERVATIONS)
