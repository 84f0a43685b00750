"""How likely each reading is under each hypothesis: one function a reading, logs out.

Every function returns natural logs of shape (n, number of looks), up to a constant that is the
same for all looks of a row. A missing reading gives a row of zeros: it says nothing.
"""

from __future__ import annotations

import numpy as np

from survey.columns import VALVE_POSITIONS
from survey.diagnosis import priors
from survey.diagnosis.hypotheses import HOT_LOOKS, HYPOTHESES, LOOKS, LOOKS_INDEX, LOSING_LOOKS
from survey.diagnosis.model import Model
from survey.diagnosis.rows import Conditions, Rows
from survey.diagnosis.rowwise import looked_up, row_max, row_min, row_sum, table, times

HOT_OUTLET_SPREADS = 1.5
"""How many spreads over a leaking trap's usual outlet an outlet still tells it from working ones:
Student's tails cross where the distances in spreads from both multiply to eight."""
LEAST_ROOM = 0.1
"""Least way that is left from a sound trap's outlet to the supply, as a share."""
_KEPT = np.array([priors.SUBCOOLING_KEPT[k] for k in LOOKS[:HOT_LOOKS]])
_FOLLOWED_MOST = np.array(
    [priors.FOLLOWED_MOST["hot" if i < HOT_LOOKS else "cool"] for i in range(len(LOOKS))]
)
_STUDENT_PEAK = 0.38670
"""Density of Student's t with eight degrees of freedom at its centre."""
assert priors.STUDENT_FREEDOM == 8.0
_CLOSED = VALVE_POSITIONS.index("closed")


def student(residual: np.ndarray, spread: np.ndarray | float, gross: float) -> np.ndarray:
    """Density of Student's t at ``residual`` with a floor; one where the residual is NaN.

    Parameters
    ----------
    gross
        Density of a reading that is simply wrong, per unit of the residual.
    """
    stretch: np.ndarray = np.asarray(residual / spread)
    stretch *= stretch
    stretch /= priors.STUDENT_FREEDOM
    stretch += 1.0
    density: np.ndarray = np.sqrt(stretch)
    density *= spread
    stretch *= stretch
    stretch *= stretch
    density *= stretch
    np.divide(_STUDENT_PEAK, density, out=density)
    density += gross
    missing = np.isnan(residual)
    if missing.any():
        density[missing] = 1.0
    return density


def log_student(residual: np.ndarray, spread: np.ndarray | float, gross: float) -> np.ndarray:
    """Log of `student`: zero where the residual is NaN."""
    density = student(residual, spread, gross)
    return np.asarray(np.log(density, out=density))


def expected_inlet(model: Model, rows: Rows, state: Conditions) -> np.ndarray:
    """Inlet's true share of the way to saturation under each look, (n, looks)."""
    expected = table(len(rows), len(LOOKS))
    expected[:] = model.inlet_cool
    subcooled = model.subcooling_f[rows.trap_type] / state.span_f
    expected[:, :HOT_LOOKS] = 1.0 - times(subcooled, _KEPT)
    return expected


def inlet_blur(model: Model, rows: Rows, state: Conditions) -> np.ndarray:
    """Spread of an inlet about its expected share, (n, looks): type, unit and reading together."""
    subcooled = model.subcooling_f[rows.trap_type] / state.span_f
    blur = table(len(rows), len(LOOKS))
    blur[:] = model.inlet_blur
    scatter = times(priors.SUBCOOLING_SCATTER * subcooled, _KEPT)
    blur[:, :HOT_LOOKS] = np.sqrt(scatter**2 + model.inlet_blur[:HOT_LOOKS] ** 2)
    return blur


def let_valves_seep(density: np.ndarray, inlet_miss: np.ndarray) -> None:
    """Let some of the traps without steam be warmed by what their shut valve lets by.

    Parameters
    ----------
    density
        Of inlets under each look, (n, looks) or (n, looks, k); changed in place.
    inlet_miss
        How far each is over what the look expects, of the same shape.
    """
    look = LOOKS_INDEX["no_steam"]
    centre, spread = priors.SEEPING_INLET
    over = inlet_miss[:, look] + priors.INLET_COOL["no_steam"][0] - centre
    density[:, look] *= 1.0 - priors.VALVE_SEEPS
    density[:, look] += priors.VALVE_SEEPS * student(over, spread, priors.GROSS_TEMPERATURE)


def _mislabelled(model: Model, inlet: np.ndarray, state: Conditions) -> np.ndarray:
    """Return densities of a hot inlet whatever the trap's type, (n, hot looks)."""
    middle, wide = model.subcooling_f.mean(), model.subcooling_f.std()
    expected = 1.0 - times(middle / state.span_f, _KEPT)
    spread = np.sqrt(times(wide / state.span_f, _KEPT) ** 2 + model.inlet_blur[:HOT_LOOKS] ** 2)
    return student(inlet - expected, spread, priors.GROSS_TEMPERATURE)


def expected_outlet(model: Model, state: Conditions) -> np.ndarray:
    """Outlet's true share of the way to saturation under each look, (n, looks)."""
    result = times(state.return_share, model.outlet_at_return)
    result += times(1.0 - state.return_share, model.outlet_towards_supply)
    return result


def followed(model: Model, inlet_miss: np.ndarray) -> np.ndarray:
    """How far each look's outlet reading should miss, by how far its inlet's does.

    Parameters
    ----------
    inlet_miss
        (n, looks), or (n, looks, k): so is what is returned.
    """
    return np.asarray(_beside(model.outlet_follows, inlet_miss) * believed_miss(inlet_miss))


def believed_miss(inlet_miss: np.ndarray) -> np.ndarray:
    """Return how far an inlet misses each look's, as far as an outlet repeats it."""
    most = _beside(_FOLLOWED_MOST, inlet_miss)
    return np.asarray(np.clip(np.nan_to_num(inlet_miss), -most, most))


def _beside(values: np.ndarray, misses: np.ndarray) -> np.ndarray:
    """Return values of traps or looks to stand beside misses (n, looks) or (n, looks, k)."""
    return values[(Ellipsis,) + (None,) * (misses.ndim - 2)]


def outlet_blur(model: Model, unread: np.ndarray) -> np.ndarray:
    """Spread of outlets, (n, looks) or (1, looks): wider for those with no inlet to go by.

    Parameters
    ----------
    unread
        Whose inlet was not read, (n,).
    """
    if not unread.any():
        return np.asarray(model.outlet_blur[None])
    blur = table(len(unread), len(LOOKS))
    blur[:] = model.outlet_blur
    blur[unread] = np.hypot(model.outlet_blur, model.outlet_follows * model.inlet_blur)
    return blur


def log_temperatures(model: Model, rows: Rows, state: Conditions) -> tuple[np.ndarray, np.ndarray]:
    """Return logs of the inlet's and of the outlet's temperature, as corrected.

    An inlet colder, or an outlet hotter, than any look expects is taken as the furthest one
    expected: its distance from all of them would else speak for the look with the longest tail.
    """
    gross = priors.GROSS_TEMPERATURE
    inlet = ((rows.inlet_f - rows.ambient_f) / state.span_f)[:, None]
    outlet = ((rows.outlet_f - rows.ambient_f) / state.span_f)[:, None]
    expected = expected_inlet(model, rows, state), expected_outlet(model, state)
    miss = np.maximum(inlet, row_min(expected[0])[:, None]) - expected[0]
    beyond = np.minimum(outlet, row_max(expected[1])[:, None]) - expected[1]
    beyond -= followed(model, miss)
    likely = student(miss, inlet_blur(model, rows, state), gross)
    likely[:, :HOT_LOOKS] *= 1.0 - priors.MISLABELLED
    likely[:, :HOT_LOOKS] += priors.MISLABELLED * _mislabelled(model, inlet, state)
    let_valves_seep(likely, miss)
    blur = outlet_blur(model, np.isnan(rows.inlet_f))
    outlets = lost_if_hotter(model, beyond, blur, expected[1])
    return np.log(likely, out=likely), np.log(outlets, out=outlets)


def outlet_density(
    model: Model, miss: np.ndarray, blur: np.ndarray, expected: np.ndarray
) -> np.ndarray:
    """Density of outlets, some of them anywhere over a sound trap's own (`priors.OUTLET_WARMED`).

    Parameters
    ----------
    miss
        How far each outlet is over what each look expects, (n, looks), or (n, looks, k): so is
        what is returned. Where it is NaN the density is one.
    blur, expected
        Of each look's outlet, (n or 1, looks) and (n, looks).
    """
    density = student(miss, _beside(blur, miss), priors.GROSS_TEMPERATURE)
    for look, anywhere in warmed(model, miss, blur, expected).items():
        density[:, look] += anywhere
    return density


def warmed(
    model: Model, miss: np.ndarray, blur: np.ndarray, expected: np.ndarray
) -> dict[int, np.ndarray]:
    """Return the part of `outlet_density` that is anywhere over a sound trap's own, by look."""
    return {
        int(look): _anywhere(model, int(look), miss[:, look], blur, expected)
        for look in np.flatnonzero(model.outlet_warmed)
    }


def _anywhere(
    model: Model, look: int, miss: np.ndarray, blur: np.ndarray, expected: np.ndarray
) -> np.ndarray:
    """Return that part of one look, by how far each outlet is over it, (n,) or (n, k)."""
    sound = 0 if look in LOSING_LOOKS else look
    both = miss[:, None]
    room = _beside(np.maximum(1.0 - expected[:, sound], LEAST_ROOM), both)
    over = miss + _beside(expected[:, look] - expected[:, sound], both)
    # Grown into, so that no hotter outlet comes to speak for a sound trap.
    grown = np.clip(over / _beside(blur[:, sound], both), 0.0, 1.0) ** 2
    return np.where(over > 0.0, model.outlet_warmed[look] * grown / room, 0.0)


def lost_if_hotter(
    model: Model, miss: np.ndarray, blur: np.ndarray, expected: np.ndarray
) -> np.ndarray:
    """Return densities of outlets by which a hotter one never speaks against lost steam.

    Past `HOT_OUTLET_SPREADS` over a leaking trap's usual outlet, the looks that lose none fall as
    leaking does: their longer tails would else win where its own has fallen off.

    Parameters
    ----------
    miss, blur, expected
        As in `outlet_density`.
    """
    leaking = LOOKS_INDEX["leaking"]
    past = HOT_OUTLET_SPREADS * _beside(blur[:, leaking], miss)
    over = np.fmax(miss[:, leaking] - past, 0.0)  # none where it is missing
    density = outlet_density(model, miss - over[:, None], blur, expected)
    if over.any():
        before = density[:, leaking].copy()
        for look in LOSING_LOOKS:
            own = miss[:, look]
            wide = _beside(blur[:, look], miss)
            density[:, look] = student(own, wide, priors.GROSS_TEMPERATURE)
            if model.outlet_warmed[look]:
                density[:, look] += _anywhere(model, look, own, blur, expected)
        fallen = density[:, leaking] / before
        for look in range(len(LOOKS)):
            if look not in LOSING_LOOKS:
                density[:, look] *= fallen
    return density


def log_sum(logs: np.ndarray) -> np.ndarray:
    """Log of the sum of exponentials along the last axis."""
    top = row_max(logs)
    total: np.ndarray = np.log(row_sum(np.exp(logs - top[..., None]))) + top
    return total


def log_pattern(model: Model, rows: Rows) -> np.ndarray:
    """Return logs of the pattern heard, by the trap's type."""
    types, looks, patterns = model.pattern.shape
    of_each = np.moveaxis(model.pattern, 1, 2).reshape(types * patterns, looks)
    code = np.where(rows.pattern < 0, -1, rows.trap_type * patterns + rows.pattern)
    return log_of_codes(of_each, code)


def log_observed(model: Model, rows: Rows) -> np.ndarray:
    """Return logs of what came out when the trap was opened or watched."""
    return log_of_codes(model.observed.T, rows.observed)


def log_of_codes(chance: np.ndarray, code: np.ndarray) -> np.ndarray:
    """Return the log of each code's row of a table (codes, k), (n, k); zeros where missing."""
    none = np.zeros((1, chance.shape[1]))
    return looked_up(np.concatenate([np.log(chance), none]), code)


def log_valve(model: Model, rows: Rows) -> np.ndarray:
    """Return logs of the isolating valve's position, (n, hypotheses)."""
    closed = np.full(len(HYPOTHESES), model.closed_misread)
    closed[[h.cause == "valved_off" for h in HYPOTHESES]] = priors.VALVE_CLOSED_READ
    codes = range(len(VALVE_POSITIONS))
    chance = np.stack([closed if code == _CLOSED else 1.0 - closed for code in codes])
    return log_of_codes(chance, rows.valve)
