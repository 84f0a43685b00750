"""All of a trap's own readings put together, a trap of unknown type as a mixture of types."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from survey.diagnosis import priors
from survey.diagnosis.hypotheses import LOOKS, LOOKS_OF
from survey.diagnosis.instruments import Instruments, log_temperature_factors
from survey.diagnosis.likelihood import (
    jet_flow_lb_per_h,
    log_observed,
    log_pattern,
    log_sound,
    log_sum,
    log_valve,
)
from survey.diagnosis.priors import Model
from survey.diagnosis.rows import Conditions, Rows
from survey.diagnosis.rowwise import row_max, row_sum

BY_TYPE = ("inlet", "outlet", "sound", "pattern")
FACTORS = (*BY_TYPE, "observed", "valve")


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
    shape = (len(rows), len(LOOKS))
    by_type = {name: np.zeros(shape) for name in BY_TYPE}
    together = np.zeros(shape)
    leaking = np.zeros((len(rows), len(priors.OPENING_LEAKING)))
    opened = np.zeros((len(rows), len(priors.OPENING_OPEN)))
    known = np.flatnonzero(rows.trap_type >= 0)
    unknown = np.flatnonzero(rows.trap_type < 0)
    for index, parts in (
        (known, [(0.0, None)]),
        (unknown, [(float(np.log(s)), k) for k, s in enumerate(model.type_shares)]),
    ):
        if not len(index):
            continue
        at = state.take(index)
        each = [
            _typed(model, instruments, _as_type(rows.take(index), code), at, flow[index], weight)
            for weight, code in parts
        ]
        for name in BY_TYPE:
            by_type[name][index] = log_sum(np.stack([e[0][name] for e in each], axis=-1))
        together[index] = log_sum(np.stack([e[1] for e in each], axis=-1))
        leaking[index] = log_sum(np.stack([e[2] for e in each], axis=-1))
        opened[index] = log_sum(np.stack([e[3] for e in each], axis=-1))
    observed = log_observed(model, rows)
    factors = {name: logs[:, LOOKS_OF] for name, logs in by_type.items()}
    factors["observed"] = observed[:, LOOKS_OF]
    factors["valve"] = log_valve(rows)
    total = (together + observed)[:, LOOKS_OF] + factors["valve"]
    return TrapLogs(factors, total, normalised(leaking), normalised(opened), flow)


def _as_type(rows: Rows, code: int | None) -> Rows:
    return rows if code is None else rows.of_type(code)


def _typed(
    model: Model,
    instruments: Instruments,
    rows: Rows,
    state: Conditions,
    flow: np.ndarray,
    weight: float,
) -> tuple[dict[str, np.ndarray], np.ndarray, np.ndarray, np.ndarray]:
    inlet, outlet = log_temperature_factors(model, instruments, rows, state)
    sound, leaking, opened = log_sound(model, rows, flow)
    logs = {"inlet": inlet, "outlet": outlet, "sound": sound, "pattern": log_pattern(model, rows)}
    total = sum(logs.values(), start=np.zeros_like(inlet)) + weight
    return {name: value + weight for name, value in logs.items()}, total, leaking, opened


def normalised(logs: np.ndarray) -> np.ndarray:
    """Return chances (n, k) from their logs, each row summing to 1."""
    chance = np.exp(logs - row_max(logs)[:, None])
    result: np.ndarray = chance / row_sum(chance)[:, None]
    return result
