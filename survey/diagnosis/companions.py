"""Air vents, vacuum breakers and check valves: how likely each reading is in each state."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from survey.columns import DEVICES, PRESENCES, VALVE_POSITIONS, VENT_STATES
from survey.diagnosis.companion_looks import (
    FLOODED_WAY,
    LIFELESS_ACROSS,
    LIFELESS_BY_DEVICE,
    LOOKS_BY_DEVICE,
    SHUT,
    Look,
)
from survey.diagnosis.likelihood import background_of, log_of_codes, student
from survey.diagnosis.model import Model
from survey.diagnosis.priors import GROSS_SOUND, GROSS_TEMPERATURE
from survey.diagnosis.rows import Conditions, Rows
from survey.diagnosis.rowwise import looked_up, plus, times
from survey.physics.sound import decibels, share_of_power

RATE_WEIGHT = 15.0
OBSERVED_WEIGHT = 60.0
PATTERN_WEIGHT = 40.0
"""Units that the usual words count as, against the round's own: what steam at a discharge means
does not change from plant to plant, and a few words told wrongly would turn two states round."""
TEMPERATURE_WEIGHT = 6.0
LEAST_SPREAD = 0.05
"""No state is held closer to its centre than this, so that none wins readings by being the
narrowest about the same place."""
LEAST_RATE = 0.5
"""Least share of a state's usual rate that a round may bring it down to: one device that is not
fitted among a thousand that are is still not fitted."""
MOST_RATE = 2.5
"""Most of its usual rate that a round may bring a state to which only its readings tell: a round
whose good vents all look open would else have a plague of open ones. Those that a valve or an
empty place tell, isolated and missing, may be as common as they are."""
TOLD_AT_SIGHT = ("working", "isolated", "missing")
CENTRE_DOUBT = 0.10
"""How far a plant's own centre may lie from those of `companion_looks`."""
OUTLET_DOUBT = 0.40  # of vents and breakers: where their outlets are read differs most
SOURCE_DOUBT_DB = 5.0
READ_THOUGH_MISSING = 0.01
"""Odds of readings (off the bare pipe) where a device is not fitted, against where it is."""
UNREAD_THOUGH_FITTED = 0.1
"""Chance that nothing at all is read or noted of a device that is listed and fitted."""
LEAST_WARM = 0.12
"""An inlet is taken as at least this far up to saturation: nearer to the air's temperature, a
degree more or less of that would be a large share."""
READ_BLUR = 0.015
"""How far a temperature may be off, as a share of the way to saturation: some 3 °F at 60 psig.
Common practice, no source."""
INLET_UNREAD = 0.93
"""Where a device's inlet was not read it is taken as a hot one's, as most are: its share of the way
to saturation, a little under 1 by the thermometer and the pipe. Common practice, no source."""
FLOODED_PASSES_WATER = 0.2
"""Share of vents that are not shut which pass water where condensate stands up to them: it is cooler
than the steam that shuts them. Common practice, no source."""
STILL_WARM = 0.3
"""From this share of the way to saturation on, an inlet is warm enough for a breaker or check valve
without heat or flow to be told by what its outlet reads. Common practice, no source."""
CLEAR_BLUR = 0.05
"""Only outlets told at least this closely teach where outlets are: inlets from a third of the way
up to saturation on."""
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
    def most_rates(self) -> np.ndarray:
        """Return the most that each state's rate may become in a round, (states,)."""
        looks = LOOKS_BY_DEVICE[self.device].items()
        return np.array([1.0 if k in TOLD_AT_SIGHT else MOST_RATE * v.rate for k, v in looks])

    @property
    def code(self) -> int:
        """Return the device's code in `columns.DEVICES`."""
        return DEVICES.index(self.device)


def levels(kind: DeviceModel, rows: Rows, state: Conditions) -> tuple[np.ndarray, ...]:
    """Inlet and outlet of devices, (n,) each, as `companion_looks.Look` has them.

    Returns
    -------
    inlet, outlet
        NaN where missing.
    blur
        How far the outlet may be off for a temperature that is a little off.
    """
    inlet = (rows.inlet_f - rows.ambient_f) / state.span_f
    outlet = (rows.outlet_f - rows.ambient_f) / state.span_f
    warm = np.maximum(inlet, LEAST_WARM)
    if kind.device == "check_valve":
        # Its inlet tells what comes through its trap (`intake`), and nothing of itself.
        return np.full_like(inlet, np.nan), (outlet - inlet) / warm, READ_BLUR / warm
    warm = np.where(np.isnan(warm), INLET_UNREAD, warm)
    return inlet, outlet / warm, READ_BLUR / warm


def device_factors(
    kind: DeviceModel,
    model: Model,
    rows: Rows,
    state: Conditions,
    lifeless: np.ndarray,
) -> tuple[dict[str, np.ndarray], np.ndarray]:
    """Return what each reading of devices of one kind says.

    Parameters
    ----------
    rows
        The devices, temperatures corrected.
    lifeless
        Chance that each device is without heat or flow in each way of `LIFELESS_BY_DEVICE`, in each
        of its states, (n, states, ways).

    Returns
    -------
    factors
        Logs of each reading, by reading, each (n, states).
    ways
        Chance of its having heat and flow, and of each way of having none, by its readings in each
        state, (n, states, 1 + ways).
    """
    inlet, outlet, blur = levels(kind, rows, state)
    if kind.device == "check_valve":
        # Hotter behind than one that passes back should be is as hot as that: nothing else is.
        outlet = np.minimum(outlet, kind.outlet.max())
    gross = GROSS_TEMPERATURE
    blur_in = np.hypot(kind.inlet_spread, kind.inlet_doubt)
    own = kind.outlet_spread**2 + kind.outlet_doubt**2
    blur_out = np.sqrt(plus(blur**2, own))
    told = student(plus(outlet, -kind.outlet), blur_out, gross)
    living = {
        "inlet": student(plus(inlet, -kind.inlet), blur_in, gross),
        "outlet": told,
        "sound": _sound(kind.source_db, kind.source_spread_db, model, rows),
        "pattern": _choice(rows.pattern, kind.pattern),
        "observed": _choice(rows.observed, kind.observed),
    }
    share = (rows.outlet_f - rows.ambient_f) / state.span_f
    still = outlet if kind.device == "check_valve" else None
    gone = [
        _lifeless(look, kind, model, rows, inlet, share, told, still, state)
        for look in LIFELESS_BY_DEVICE[kind.device]
    ]
    if kind.device == "air_vent":
        _let_water_out(kind, living, gone[FLOODED_WAY])
    of_heat, ways = _with_lifeless(living, gone, lifeless)
    factors = {
        "valve": _two_way(rows.valve, _CLOSED, kind.closed),
        "present": _two_way(rows.present, _ABSENT, kind.absent) + _log_read(kind, rows),
        **of_heat,
    }
    return factors, ways


def _lifeless(
    look: Look,
    kind: DeviceModel,
    model: Model,
    rows: Rows,
    inlet: np.ndarray,
    share: np.ndarray,
    told: np.ndarray,
    still: np.ndarray | None,
    state: Conditions,
) -> dict[str, np.ndarray]:
    """Return the chance of each reading of devices without heat or flow, (n, states or 1) each."""
    gross = GROSS_TEMPERATURE
    if still is None:
        dead = student(share - look.outlet[0], look.outlet[1], gross)[:, None]
    else:
        dead = student(still - LIFELESS_ACROSS[0], LIFELESS_ACROSS[1], gross)[:, None]
    warm = -np.inf if kind.device == "air_vent" else STILL_WARM
    beside = rows.inlet_f - rows.ambient_f > warm * state.span_f
    source_db, spread_db = np.array([look.source_db]), np.array([look.source_spread_db])
    return {
        "inlet": student(inlet - look.inlet[0], look.inlet[1], gross)[:, None],
        # Beside its inlet an outlet tells the same whether or not much heat comes by; but two cool
        # pipes about a breaker or check valve may differ for any reason.
        "outlet": np.where(beside[:, None], told, dead),
        "sound": _sound(source_db, spread_db, model, rows),
        "pattern": _choice(rows.pattern, np.array([look.pattern])),
        # What came out tells something of a lifeless device too: it may have had steam then.
        "observed": _choice(rows.observed, _seen_of_lifeless(kind.observed, look)),
    }


def _let_water_out(
    kind: DeviceModel, living: dict[str, np.ndarray], flooded: dict[str, np.ndarray]
) -> None:
    """Make a flooded heater's vent pass water more often than others do, and be heard at it."""
    water = VENT_STATES.index("passing_water")
    usual = kind.rates[water] / (1.0 - kind.rates[SHUT].sum())
    often = max(FLOODED_PASSES_WATER, usual)
    moved = np.where(SHUT, 1.0, (1.0 - often) / (1.0 - usual))
    moved[water] = often / usual
    for name in ("sound", "pattern", "observed"):
        flooded[name] = np.where(
            np.arange(len(VENT_STATES)) == water, living[name], flooded[name]
        )
    flooded["inlet"] = flooded["inlet"] * moved


def _log_read(kind: DeviceModel, rows: Rows) -> np.ndarray:
    """Return logs of there being something to read: what is not fitted has no temperature.

    Who says that it is not fitted is believed, whatever was read where it should be. A valve
    that is open may only be one of which nothing was written down.
    """
    read = ~np.isnan(rows.inlet_f) | ~np.isnan(rows.outlet_f) | ~np.isnan(rows.sound_db)
    read |= (rows.valve == _CLOSED) | (rows.observed >= 0)
    read &= rows.present != _ABSENT
    missing = kind.absent > 0.5
    result = times(read, np.where(missing, np.log(READ_THOUGH_MISSING), 0.0))
    if missing.any():
        unread = ~read & (rows.present < 0) & (rows.valve < 0) & (rows.pattern < 0)
        result += times(unread, np.where(missing, 0.0, np.log(UNREAD_THOUGH_FITTED)))
    return result


def _seen_of_lifeless(observed: np.ndarray, look: Look) -> np.ndarray:
    """Return what comes out of a lifeless device: nothing, else what its state gives."""
    some = observed[:, 1:] / observed[:, 1:].sum(axis=1, keepdims=True)
    nothing = np.full((len(observed), 1), look.observed[0])
    return np.concatenate([nothing, (1.0 - nothing) * some], axis=1)


def _with_lifeless(
    living: dict[str, np.ndarray], gone: list[dict[str, np.ndarray]], lifeless: np.ndarray
) -> tuple[dict[str, np.ndarray], np.ndarray]:
    """Sum over whether, and how, the device is lifeless, reading by reading, as each is taken in."""
    dead = [np.clip(lifeless[..., way], 1e-4, 1.0) for way in range(len(gone))]
    alive = np.maximum(1.0 - sum(dead), 1e-4)
    result = {}
    before = np.log(alive + sum(dead))
    for name, heat in living.items():
        alive = alive * heat
        dead = [chance * way[name] for chance, way in zip(dead, gone, strict=True)]
        after = np.log(alive + sum(dead))
        result[name] = after - before
        before = after
    ways = np.stack([alive, *dead], axis=-1)
    return result, ways / ways.sum(axis=-1, keepdims=True)


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
