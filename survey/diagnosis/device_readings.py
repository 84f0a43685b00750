"""What each reading of a vent, breaker or check valve says of its state, its heater hot or not."""

from __future__ import annotations

import numpy as np

from survey.columns import CHECK_STATES, PRESENCES, VALVE_POSITIONS, VENT_STATES
from survey.diagnosis.companion_looks import (
    FLOODED_WAY,
    LIFELESS_BY_DEVICE,
    SHUT,
    STEAM_THROUGH,
    Lifeless,
)
from survey.diagnosis.companions import DISCHARGE_BLUR, HOT_PAST_SHUT, DeviceModel, levels
from survey.diagnosis.device_there import log_read
from survey.diagnosis.likelihood import log_of_codes, student
from survey.diagnosis.model import Model
from survey.diagnosis.priors import GROSS_SOUND, GROSS_TEMPERATURE, STUDENT_FREEDOM
from survey.diagnosis.rows import Conditions, Rows
from survey.diagnosis.rowwise import looked_up, plus
from survey.diagnosis.sound_levels import background_of
from survey.diagnosis.still_pipes import about_cool, in_still_pipe
from survey.physics.sound import decibels, share_of_power

FLOODED_PASSES_WATER = 0.2
"""Share of vents that are not shut which pass water where condensate stands up to them: it is
cooler than the steam that shuts them. Common practice, no source."""
STILL_WARM = {"vacuum_breaker": 0.30, "check_valve": 0.45}
"""From this share of the way to saturation on, an inlet is warm enough for a breaker or check valve
without heat or flow to be told by what its outlet reads. Common practice, no source."""
STILL_WARM_BLUR = 0.1
"""Over how much of the way it becomes so, about that."""
HOT_BEHIND_SPREADS = np.sqrt(STUDENT_FREEDOM)
"""Past so many spreads over a working check valve's usual one, a pipe behind it is as hot as any:
the odds of its passing back, whose spread is no narrower, would fall again from there on."""
LEAST_BLUR = 0.03
"""No inlet is expected closer than this, a share of the way to saturation: at a cool place all of
them would else be told to a degree. Common practice, no source."""
_WORKING_CHECK = CHECK_STATES.index("working")
_CLOSED = VALVE_POSITIONS.index("closed")
_ABSENT = PRESENCES.index("no")


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
        Chance that each device is without heat or flow in each way of `LIFELESS_BY_DEVICE`, and a
        check valve that it has a jet through it, in each of its states, (n, states, ways).

    Returns
    -------
    factors
        Logs of each reading, by reading, each (n, states).
    ways
        Chance of its having heat and flow, and of each way of having none, by its readings in each
        state, (n, states, 1 + ways).
    """
    inlet, outlet, blur = levels(kind, rows, state)
    gross = GROSS_TEMPERATURE
    own = kind.outlet_spread**2 + kind.outlet_doubt**2
    blur_out = np.sqrt(plus(blur**2, own))
    if kind.device == "check_valve":
        most = kind.outlet[_WORKING_CHECK] + HOT_BEHIND_SPREADS * blur_out[:, _WORKING_CHECK]
        outlet = np.minimum(outlet, np.maximum(most, kind.outlet.max()))
    before = _inlets(kind, inlet)
    told = student(plus(outlet, -kind.outlet), blur_out, gross)
    _tell_past_valves(kind, told, outlet, blur, blur_out[:, 0])
    _let_steam_past_valves(kind, before, told)
    living = {
        "inlet": before,
        "outlet": told,
        "sound": _sound(kind.source_db, kind.source_spread_db, model, rows),
        "pattern": _choice(rows.pattern, kind.pattern),
        "observed": _choice(rows.observed, kind.observed),
    }
    _let_some_be_slight(kind, living, model, rows)
    cool = _coolness(kind, rows, state)[:, None]
    still = LIFELESS_BY_DEVICE[kind.device]
    unheard = _unheard(still, kind, model, rows)
    gone = []
    outlets = _outlets_without(kind, rows, state, outlet, blur)
    for warmth, ((_, spread), _), dead in zip(kind.warmth, still.ways, outlets, strict=True):
        # Beside its inlet an outlet tells the same whether or not much heat comes by; but two cool
        # pipes about a breaker may differ for any reason, and about a check valve as `still_pipes`.
        temperatures = {
            "inlet": _inlets(kind, inlet, warmth=warmth, spread=spread),
            "outlet": (1.0 - cool) * told + cool * dead,
        }
        gone.append({**unheard, **temperatures})
    if kind.device != "check_valve":
        gone[FLOODED_WAY].update({name: living[name] for name in ("sound", "pattern", "observed")})
    if kind.device == "air_vent":
        _let_water_out(kind, gone[FLOODED_WAY])
    elif kind.device == "check_valve":
        living["outlet"] = told.copy(order="F")
        some = np.flatnonzero(cool[:, 0])
        about = about_cool(kind, outlet[some], blur[some], blur_out[some])
        living["outlet"][some] += cool[some] * (about - told[some])
        ((_, (centre, spread)),) = STEAM_THROUGH.ways
        passed = told.copy()
        passed[:, _WORKING_CHECK] += student(outlet - centre, spread, gross)
        passed[:, _WORKING_CHECK] /= 2.0
        gone.append({**living, **_heard(STEAM_THROUGH, model, rows), "outlet": passed})
    of_heat, ways = _with_lifeless(living, gone, lifeless)
    factors = {
        "valve": _two_way(rows.valve, _CLOSED, kind.closed),
        "present": _two_way(rows.present, _ABSENT, kind.absent) + log_read(kind, rows, state),
        **of_heat,
    }
    return factors, ways


def _outlets_without(
    kind: DeviceModel, rows: Rows, state: Conditions, outlet: np.ndarray, blur: np.ndarray
) -> list[np.ndarray]:
    """Return densities of outlets of devices without heat or flow, (n, 1) for each way."""
    if kind.device == "check_valve":
        return [in_still_pipe(outlet, blur)[:, None]]
    share = (rows.outlet_f - rows.ambient_f) / state.span_f
    return [
        student(share - centre, spread, GROSS_TEMPERATURE)[:, None]
        for _, (centre, spread) in LIFELESS_BY_DEVICE[kind.device].ways
    ]


def _coolness(kind: DeviceModel, rows: Rows, state: Conditions) -> np.ndarray:
    """How far each inlet is too cool for the outlet to be told beside it, 0 to 1, (n,)."""
    if kind.device not in STILL_WARM:
        return np.zeros(len(rows))
    share = (rows.inlet_f - rows.ambient_f) / state.span_f
    cool = np.clip((STILL_WARM[kind.device] - share) / STILL_WARM_BLUR + 0.5, 0.0, 1.0)
    return np.asarray(np.nan_to_num(cool, nan=1.0))


def _inlets(
    kind: DeviceModel, inlet: np.ndarray, *, warmth: float = 1.0, spread: float = 0.0
) -> np.ndarray:
    """Return densities of inlets, steam let right before some shut valves, (n, states).

    Parameters
    ----------
    warmth, spread
        How warm the place it sits on is, 1 where it has heat, and how far that differs: what stands
        at a device's inlet is its own share of it.
    """
    centre = warmth * kind.inlet
    own = np.hypot(warmth * np.hypot(kind.inlet_spread, kind.inlet_doubt), spread * kind.inlet)
    density = student(plus(inlet, -centre), np.maximum(own, LEAST_BLUR), GROSS_TEMPERATURE)
    for shut in np.flatnonzero(kind.by_valve):
        density[:, shut] *= 1.0 - kind.hot_before_shut
        density[:, shut] += kind.hot_before_shut * density[:, 0]
    return density


def _let_steam_past_valves(kind: DeviceModel, inlet: np.ndarray, outlet: np.ndarray) -> None:
    """Let a few shut valves with steam right before them be as warm behind as an open one."""
    for shut in np.flatnonzero(kind.by_valve):
        as_open = HOT_PAST_SHUT * kind.hot_before_shut * inlet[:, 0] / inlet[:, shut]
        outlet[:, shut] += as_open * (outlet[:, 0] - outlet[:, shut])


def _tell_past_valves(
    kind: DeviceModel,
    told: np.ndarray,
    outlet: np.ndarray,
    blur: np.ndarray,
    blur_open: np.ndarray,
) -> None:
    """Tell what is behind a shut valve by its own share of the way, not by its inlet's.

    Past where an open one's usually stands it tells no more: a still warmer outlet would else speak
    for a valve that is shut, once both looks are out of reach.

    Parameters
    ----------
    told
        Densities of outlets as shares of their inlets, (n, states); changed in place.
    outlet, blur, blur_open
        Outlet as a share of its inlet, how far one may be off, how far an open one's, (n,) each.
    """
    warm = DISCHARGE_BLUR / blur
    for state in np.flatnonzero(kind.by_valve):
        centre = kind.outlet[state]
        spread = np.hypot(
            np.hypot(kind.outlet_spread[state], kind.outlet_doubt[state]), DISCHARGE_BLUR
        )
        # Behind a cool inlet what a shut valve leaves is the larger share of it.
        usual = np.maximum(kind.outlet[0], (centre + spread) / warm)
        reached = np.minimum(outlet, usual)
        shut = student(reached * warm - centre, spread, GROSS_TEMPERATURE)
        shut *= np.where(np.isnan(outlet), 1.0, warm)  # per share of the inlet
        open_here = student(outlet - usual, blur_open, GROSS_TEMPERATURE)
        shut *= open_here / student(reached - usual, blur_open, GROSS_TEMPERATURE)
        told[:, state] = shut


def _unheard(
    still: Lifeless, kind: DeviceModel, model: Model, rows: Rows
) -> dict[str, np.ndarray]:
    """Return the chance of what is heard and seen of lifeless devices, (n, states or 1) each."""
    return {
        **_heard(still, model, rows),
        # What came out tells something of a lifeless device too: it may have had steam then.
        "observed": _choice(rows.observed, _seen_of_lifeless(kind.observed, still.observed[0])),
    }


def _heard(still: Lifeless, model: Model, rows: Rows) -> dict[str, np.ndarray]:
    """Return the chance of what is heard of devices, whatever their own state, (n, 1) each."""
    source_db, spread_db = np.array([still.source_db]), np.array([still.source_spread_db])
    return {
        "sound": _sound(source_db, spread_db, model, rows),
        "pattern": _choice(rows.pattern, np.array([still.pattern])),
    }


def _let_some_be_slight(
    kind: DeviceModel, living: dict[str, np.ndarray], model: Model, rows: Rows
) -> None:
    """Let some of what passes be too little to hear: its pattern is as quiet as its level."""
    heard = _heard(LIFELESS_BY_DEVICE[kind.device], model, rows)
    for state in np.flatnonzero(kind.slight):
        plain, slight = 1.0 - kind.slight[state], kind.slight[state]
        for name, chance in heard.items():
            before = plain + slight
            plain = plain * living[name][:, state]
            slight = slight * chance[:, 0]
            living[name][:, state] = (plain + slight) / before


def _let_water_out(kind: DeviceModel, flooded: dict[str, np.ndarray]) -> None:
    """Make a flooded heater's vent pass water more often than others do."""
    water = VENT_STATES.index("passing_water")
    usual = kind.rates[water] / (1.0 - kind.rates[SHUT].sum())
    often = max(FLOODED_PASSES_WATER, usual)
    moved = np.where(SHUT, 1.0, (1.0 - often) / (1.0 - usual))
    moved[water] = often / usual
    flooded["inlet"] = flooded["inlet"] * moved


def _seen_of_lifeless(observed: np.ndarray, chance_of_nothing: float) -> np.ndarray:
    """Return what comes out of a lifeless device: nothing, else what its state gives."""
    some = observed[:, 1:] / observed[:, 1:].sum(axis=1, keepdims=True)
    nothing = np.full((len(observed), 1), chance_of_nothing)
    return np.concatenate([nothing, (1.0 - nothing) * some], axis=1)


def _with_lifeless(
    living: dict[str, np.ndarray], gone: list[dict[str, np.ndarray]], lifeless: np.ndarray
) -> tuple[dict[str, np.ndarray], np.ndarray]:
    """Sum over whether, and how, the device is lifeless, as each reading is taken in."""
    dead = [np.clip(lifeless[..., way], 1e-4, 1.0) for way in range(len(gone))]
    alive = np.maximum(1.0 - sum(dead), 1e-4)
    result = {}
    before = np.log(alive + sum(dead))
    for name, heat in living.items():
        alive = alive * heat
        dead = [chance * way[name] for chance, way in zip(dead, gone, strict=True)]
        together = alive + sum(dead)
        after = np.log(together)
        result[name] = after - before
        before = after
    ways = np.stack([(each / together).T for each in (alive, *dead)]).T
    return result, ways


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
