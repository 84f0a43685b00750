"""All of a trap's own readings put together, a trap of unknown type as a mixture of types."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from survey.diagnosis.hypotheses import LOOKS_OF
from survey.diagnosis.instruments import Instruments, log_temperature_factors
from survey.diagnosis.likelihood import log_observed, log_pattern, log_sum, log_valve
from survey.diagnosis.model import Model
from survey.diagnosis.rows import Conditions, Rows
from survey.diagnosis.rowwise import columns_of, row_max, row_sum, table
from survey.diagnosis.sound_levels import jet_flow_lb_per_h, log_sound

BY_TYPE = ("inlet", "outlet", "sound", "pattern")
FACTORS = (*BY_TYPE, "observed", "valve")
_OPENINGS = ("leaking", "opened")


@dataclass(frozen=True)
class TrapLogs:
    """What each reading of n traps says.

    Parameters
    ----------
    factors
        Log likelihood of each reading of `FACTORS`, (n, hypotheses) each.
    total
        Log likelihood of all of them together, (n, hypotheses).
    leaking, opened
        Chance of each opening given that look, (n, openings of it).
    flow_lb_per_h
        Dry steam through the whole bore, (n,).
    """

    factors: dict[str, np.ndarray]
    total: np.ndarray
    leaking: np.ndarray
    opened: np.ndarray
    flow_lb_per_h: np.ndarray


def trap_logs(model: Model, instruments: Instruments, rows: Rows, state: Conditions) -> TrapLogs:
    """Weigh traps' own readings; a trap of unknown type as a mixture of the round's types."""
    flow = jet_flow_lb_per_h(rows, state)
    typed = rows.trap_type >= 0
    if typed.all():
        parts = _typed(model, instruments, rows, state, flow)
    else:
        parts = _some_untyped(model, instruments, rows, state, flow, typed)
    observed = log_observed(model, rows)
    factors = {name: columns_of(parts[name], LOOKS_OF) for name in BY_TYPE}
    factors["observed"] = columns_of(observed, LOOKS_OF)
    factors["valve"] = log_valve(model, rows)
    total = columns_of(parts["together"] + observed, LOOKS_OF) + factors["valve"]
    leaking, opened = (parts[name] / row_sum(parts[name])[:, None] for name in _OPENINGS)
    return TrapLogs(factors, total, leaking, opened, flow)


def _typed(
    model: Model, instruments: Instruments, rows: Rows, state: Conditions, flow: np.ndarray
) -> dict[str, np.ndarray]:
    """Return logs of each reading by type and of all together, and densities of the openings."""
    inlet, outlet = log_temperature_factors(model, instruments, rows, state)
    sound, leaking, opened = log_sound(model, rows, flow)
    pattern = log_pattern(model, rows)
    return {
        "inlet": inlet,
        "outlet": outlet,
        "sound": sound,
        "pattern": pattern,
        "together": inlet + outlet + sound + pattern,
        "leaking": leaking,
        "opened": opened,
    }


def _some_untyped(
    model: Model,
    instruments: Instruments,
    rows: Rows,
    state: Conditions,
    flow: np.ndarray,
    typed: np.ndarray,
) -> dict[str, np.ndarray]:
    """Return what `_typed` does, of a trap of unknown type as a mixture of the types."""
    unknown = rows.take(~typed)
    at, through = state.take(~typed), flow[~typed]
    each = [
        _typed(model, instruments, unknown.of_type(code), at, through)
        for code in range(len(model.type_shares))
    ]
    weights = np.log(model.type_shares)
    known = _typed(model, instruments, rows.take(typed), state.take(typed), flow[typed])
    result = {}
    for name, of_known in known.items():
        result[name] = table(len(rows), of_known.shape[1])
        result[name][typed] = of_known
        of_each = np.stack([parts[name] for parts in each], axis=-1)
        mixed = row_sum(of_each) if name in _OPENINGS else log_sum(of_each + weights)
        result[name][~typed] = mixed
    return result


def normalised(logs: np.ndarray) -> np.ndarray:
    """Return chances (n, k) from their logs, each row summing to 1."""
    chance = np.exp(logs - row_max(logs)[:, None])
    result: np.ndarray = chance / row_sum(chance)[:, None]
    return result
