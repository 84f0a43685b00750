"""How likely each reading is under each hypothesis: one function a reading, logs out.

Every function returns natural logs of shape (n, number of looks), up to a constant that is the
same for all looks of a row. A missing reading gives a row of zeros: it says nothing.
"""

from __future__ import annotations

import numpy as np

from survey.columns import VALVE_POSITIONS
from survey.diagnosis import priors
from survey.diagnosis.hypotheses import HOT_LOOKS, HYPOTHESES, LOOKS, LOOKS_INDEX
from survey.diagnosis.priors import IS_CYCLING, Model
from survey.diagnosis.rows import Conditions, Rows
from survey.diagnosis.rowwise import row_max, row_sum
from survey.physics.orifice import DISCHARGE_COEFFICIENT_MEAN, steam_flow_lb_per_h
from survey.physics.sound import add_two_levels_db

LOUDEST_LESS_DB = 1.0
"""How far under the loudest jet's middle level a level is as loud as any: over that, the odds
of lost steam would fall again."""
OPENINGS = np.concatenate([priors.OPENING_LEAKING, priors.OPENING_OPEN])
LEAKING_GRID = slice(0, len(priors.OPENING_LEAKING))
OPEN_GRID = slice(len(priors.OPENING_LEAKING), len(OPENINGS))
_KEPT = np.array([priors.SUBCOOLING_KEPT[k] for k in LOOKS[:HOT_LOOKS]])
_STUDENT_PEAK = 0.38670
"""Density of Student's t with eight degrees of freedom at its centre."""
assert priors.STUDENT_FREEDOM == 8.0
_CLOSED = VALVE_POSITIONS.index("closed")


def log_student(residual: np.ndarray, spread: np.ndarray | float, gross: float) -> np.ndarray:
    """Log density of Student's t at ``residual`` with a floor; zero where the residual is NaN.

    Parameters
    ----------
    gross
        Density of a reading that is simply wrong, per unit of the residual.
    """
    stretch = 1.0 + (residual / spread) ** 2 / priors.STUDENT_FREEDOM
    density = _STUDENT_PEAK / (spread * stretch**4 * np.sqrt(stretch)) + gross
    return np.where(np.isnan(residual), 0.0, np.log(density))


def expected_inlet(model: Model, rows: Rows, state: Conditions) -> np.ndarray:
    """Inlet's true share of the way to saturation under each look, (n, looks)."""
    expected = np.broadcast_to(model.inlet_cool, (len(rows), len(LOOKS))).copy()
    subcooled = model.subcooling_f[rows.trap_type] / state.span_f
    expected[:, :HOT_LOOKS] = 1.0 - subcooled[:, None] * _KEPT
    return expected


def inlet_blur(model: Model, rows: Rows, state: Conditions) -> np.ndarray:
    """Spread of an inlet about its expected share, (n, looks): type, unit and reading together."""
    subcooled = model.subcooling_f[rows.trap_type] / state.span_f
    scatter = np.zeros((len(rows), len(LOOKS)))
    scatter[:, :HOT_LOOKS] = priors.SUBCOOLING_SCATTER * subcooled[:, None] * _KEPT
    return np.asarray(np.hypot(model.inlet_blur, scatter))


def _log_mislabelled(model: Model, inlet: np.ndarray, state: Conditions) -> np.ndarray:
    """Return logs of a hot inlet whatever the trap's type, (n, hot looks)."""
    middle, wide = model.subcooling_f.mean(), model.subcooling_f.std()
    expected = 1.0 - middle / state.span_f[:, None] * _KEPT
    spread = np.hypot(model.inlet_blur[:HOT_LOOKS], wide / state.span_f[:, None] * _KEPT)
    return log_student(inlet - expected, spread, priors.GROSS_TEMPERATURE)


def expected_outlet(model: Model, state: Conditions) -> np.ndarray:
    """Outlet's true share of the way to saturation under each look, (n, looks)."""
    back = state.return_share[:, None]
    return np.asarray(model.outlet_at_return * back + model.outlet_towards_supply * (1.0 - back))


def followed(model: Model, inlet_miss: np.ndarray) -> np.ndarray:
    """How far each look's outlet reading should miss, by how far its inlet's does, (n, looks)."""
    most = priors.FOLLOWED_MOST
    miss = np.clip(np.nan_to_num(inlet_miss), -most, most)
    miss[:, HOT_LOOKS:] = 0.0
    return np.asarray(model.outlet_follows * miss)


def log_temperatures(model: Model, rows: Rows, state: Conditions) -> tuple[np.ndarray, np.ndarray]:
    """Return logs of the inlet's and of the outlet's temperature, as corrected.

    An inlet colder, or an outlet hotter, than any look expects is taken as the furthest one
    expected: its distance from all of them would else speak for the look with the longest tail.
    """
    gross = priors.GROSS_TEMPERATURE
    inlet = ((rows.inlet_f - rows.ambient_f) / state.span_f)[:, None]
    outlet = ((rows.outlet_f - rows.ambient_f) / state.span_f)[:, None]
    expected = expected_inlet(model, rows, state), expected_outlet(model, state)
    miss = np.maximum(inlet, -row_max(-expected[0])[:, None]) - expected[0]
    beyond = np.minimum(outlet, row_max(expected[1])[:, None]) - expected[1]
    beyond -= followed(model, miss)
    logs = log_student(miss, inlet_blur(model, rows, state), gross)
    mislabelled = _log_mislabelled(model, inlet, state) + np.log(priors.MISLABELLED)
    labelled = logs[:, :HOT_LOOKS] + np.log(1.0 - priors.MISLABELLED)
    logs[:, :HOT_LOOKS] = np.logaddexp(labelled, mislabelled)
    return (
        logs,
        log_student(beyond, model.outlet_blur, gross),
    )


def jet_flow_lb_per_h(rows: Rows, state: Conditions) -> np.ndarray:
    """Flow of dry steam through the whole bore, lb/h, (n,); NaN where no pressure is known."""
    return steam_flow_lb_per_h(
        bore_in=rows.orifice_in,
        upstream_psia=state.supply_psia,
        downstream_psia=state.return_psia,
        discharge_coefficient=DISCHARGE_COEFFICIENT_MEAN,
    )


def pressure_decades(rows: Rows) -> np.ndarray:
    """Decades of pressure difference over `priors.WORKING_AT_PSI`, (n,); 0 where unknown."""
    difference = np.maximum(rows.supply_psig - rows.return_psig, 0.5)
    return np.asarray(np.nan_to_num(np.log10(difference / priors.WORKING_AT_PSI)))


def sources_db(model: Model, rows: Rows, flow: np.ndarray) -> np.ndarray:
    """Source levels: silent, working, then a jet at each opening; (n, 2 + openings)."""
    # An unknown pressure leaves the jet's level at that of a common small leak.
    flow = np.where(np.isfinite(flow) & (flow > 0.01), flow, 20.0)
    decades = np.log10(flow[:, None] * OPENINGS / 10.0)
    jet = model.jet_db + model.jet_db_per_decade * decades
    working = model.working_db[rows.trap_type]
    working = working + model.working_db_per_decade * pressure_decades(rows)
    first = np.stack([np.full(len(rows), model.silent_db), working], axis=1)
    return np.concatenate([first, jet], axis=1)


_KIND = np.array([0, 1] + [2] * len(OPENINGS))


def log_sound(
    model: Model, rows: Rows, flow: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return logs of the sound level, and of each opening given the look.

    Returns
    -------
    logs
        (n, looks).
    leaking, opened
        Log weight of each opening with its prior, (n, openings of that look).
    """
    background, known = background_of(model, rows)
    expected = add_two_levels_db(
        level_db=background[:, None], other_db=sources_db(model, rows, flow) + model.background_db
    )
    loudness = 10.0 ** ((background[:, None] - expected) / 10.0)
    blur = np.where(known, 0.0, model.background_spread_db)[:, None] * loudness
    spread = np.hypot(model.sound_spread_db[_KIND], blur)
    # As with temperatures: louder than any jet expected is the loudest jet, not an odd level.
    heard = np.minimum(rows.sound_db, row_max(expected[:, 2:]) - LOUDEST_LESS_DB)[:, None]
    logs = log_student(heard - expected, spread, priors.GROSS_SOUND)
    leaking = logs[:, 2:][:, LEAKING_GRID] + np.log(priors.OPENING_LEAKING_WEIGHT)
    opened = logs[:, 2:][:, OPEN_GRID] + np.log(priors.OPENING_OPEN_WEIGHT)
    result = np.repeat(logs[:, :1], len(LOOKS), axis=1)
    result[:, LOOKS_INDEX["working"]] = logs[:, 1]
    result[:, LOOKS_INDEX["leaking"]] = log_sum(leaking)
    result[:, LOOKS_INDEX["failed_open"]] = log_sum(opened)
    return result, leaking, opened


def background_of(model: Model, rows: Rows) -> tuple[np.ndarray, np.ndarray]:
    """Background level of each row, the round's own where it was not read; and which were."""
    known = ~np.isnan(rows.background_db)
    return np.where(known, rows.background_db, model.background_db), known


def log_sum(logs: np.ndarray) -> np.ndarray:
    """Log of the sum of exponentials along the last axis."""
    top = row_max(logs)
    total: np.ndarray = np.log(row_sum(np.exp(logs - top[..., None]))) + top
    return total


def log_pattern(model: Model, rows: Rows) -> np.ndarray:
    """Return logs of the pattern heard, by whether the type cycles."""
    table = np.log(model.pattern)[IS_CYCLING[rows.trap_type].astype(np.int8)]
    picked = np.take_along_axis(
        table, np.maximum(rows.pattern, 0).astype(np.int64)[:, None, None], axis=2
    )[:, :, 0]
    return np.where((rows.pattern >= 0)[:, None], picked, 0.0)


def log_observed(model: Model, rows: Rows) -> np.ndarray:
    """Return logs of what came out when the trap was opened or watched."""
    picked = np.log(model.observed).T[np.maximum(rows.observed, 0)]
    return np.where((rows.observed >= 0)[:, None], picked, 0.0)


def log_valve(rows: Rows) -> np.ndarray:
    """Return logs of the isolating valve's position, (n, hypotheses)."""
    closed = np.full(len(HYPOTHESES), priors.VALVE_CLOSED_MISREAD)
    closed[[h.cause == "valved_off" for h in HYPOTHESES]] = priors.VALVE_CLOSED_READ
    table = np.log(np.stack([1.0 - closed, closed]))
    picked = table[(rows.valve == _CLOSED).astype(np.int8)]
    return np.where((rows.valve >= 0)[:, None], picked, 0.0)
