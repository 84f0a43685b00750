"""All of a trap's own readings put together, and a round weighed by a given calibration."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from survey.columns import CHECK_STATES, DEVICES, TRAP_TYPES, VENT_STATES
from survey.diagnosis import priors
from survey.diagnosis.companions import DeviceModel, device_factors
from survey.diagnosis.hypotheses import INDEX, LOOKS, LOOKS_INDEX, LOOKS_OF
from survey.diagnosis.instruments import Instruments, log_temperature_factors
from survey.diagnosis.joint import SHUT, Joint, chance_lift, default_shut, weigh
from survey.diagnosis.likelihood import (
    OPENINGS,
    jet_flow_lb_per_h,
    log_observed,
    log_pattern,
    log_sound,
    log_sum,
    log_valve,
)
from survey.diagnosis.priors import Model
from survey.diagnosis.rows import Conditions, Rows

BY_TYPE = ("inlet", "outlet", "sound", "pattern")
HEATER_COOLED = 0.4
"""How often a flooded or air-bound heater leaves the devices on it cold too."""
LIFELESS_UNREAD = 0.05
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
        at = Conditions(**{name: values[index] for name, values in vars(state).items()})
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
    return TrapLogs(factors, total, _normalised(leaking), _normalised(opened), flow)


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


def _normalised(logs: np.ndarray) -> np.ndarray:
    chance = np.exp(logs - logs.max(axis=1, keepdims=True))
    result: np.ndarray = chance / chance.sum(axis=1, keepdims=True)
    return result


@dataclass(frozen=True)
class Round:
    """A whole round in arrays: all devices, and which rows are of which kind."""

    rows: Rows
    state: Conditions
    equipment_count: int

    def kind(self, device: str) -> np.ndarray:
        """Return the positions of one kind of device."""
        return np.flatnonzero(self.rows.device == DEVICES.index(device))

    def part(self, index: np.ndarray) -> tuple[Rows, Conditions]:
        """Return the readings and conditions of some rows."""
        at = {name: values[index] for name, values in vars(self.state).items()}
        return self.rows.take(index), Conditions(**at)


@dataclass(frozen=True)
class Weighed:
    """Posterior of every device of a round under one calibration.

    Parameters
    ----------
    traps
        Positions of the traps among the rows, (traps,).
    logs
        What the traps' own readings say.
    joint
        Traps, vents and check valves together.
    lift
        Chance before readings that each trap's lift holds condensate back, (traps,).
    devices
        By kind: positions, chances (n, states), and logs by reading.
    lifeless
        By kind: chance that no heat or flow comes by each equipment's, (E,).
    """

    traps: np.ndarray
    logs: TrapLogs
    joint: Joint
    lift: np.ndarray
    devices: dict[str, tuple[np.ndarray, np.ndarray, dict[str, np.ndarray]]]
    lifeless: dict[str, np.ndarray]


def weigh_round(
    model: Model,
    kinds: dict[str, DeviceModel],
    instruments: Instruments,
    whole: Round,
    short_psi: np.ndarray,
) -> Weighed:
    """Weigh every device of a round.

    Parameters
    ----------
    short_psi
        Pressure lacking for each trap's lift, (traps,).
    """
    traps = whole.kind("trap")
    rows, state = whole.part(traps)
    logs = trap_logs(model, instruments, rows, state)
    lift = chance_lift(model, short_psi)
    lifeless = _lifeless(model, logs, rows, lift, whole.equipment_count)
    alone = {
        name: _device_alone(kind, model, instruments, whole, lifeless[name])
        for name, kind in kinds.items()
    }
    shut, check = _before(whole, rows, alone)
    joint = weigh(
        model,
        logs.total,
        equipment=rows.equipment,
        equipment_count=whole.equipment_count,
        lift=lift,
        shut_before=shut,
        check_before=check,
    )
    devices = {
        name: _told_by_traps(name, index, chance, factors, joint, whole.rows.equipment[index])
        for name, (index, chance, factors) in alone.items()
    }
    return Weighed(traps, logs, joint, lift, devices, lifeless)


def _lifeless(
    model: Model, logs: TrapLogs, traps: Rows, lift: np.ndarray, equipment_count: int
) -> dict[str, np.ndarray]:
    """Chance, by the traps' own readings, that no heat or flow comes by each equipment's devices.

    A vent or breaker sits on the heater, a check valve behind the trap: what starves one of
    heat need not starve the other.
    """
    shut, check = _unread(traps, equipment_count, (1.0, 1.0))
    first = weigh(
        model, logs.total, equipment=traps.equipment, equipment_count=equipment_count,
        lift=lift, shut_before=shut, check_before=check,
    ).trap
    looks = {name: first[:, LOOKS_OF == LOOKS_INDEX[name]].sum(axis=1) for name in LOOKS}
    no_flow = looks["no_steam"] + looks["air_bound"] + looks["failed_closed"]
    heater = looks["no_steam"] + HEATER_COOLED * (looks["failed_closed"] + looks["air_bound"])
    return {
        "air_vent": _least(heater, traps.equipment, equipment_count),
        "vacuum_breaker": _least(heater + HEATER_COOLED * looks["backed_up"], traps.equipment,
                                 equipment_count),
        "check_valve": _least(no_flow + first[:, INDEX["backed_by_lift"]], traps.equipment,
                              equipment_count),
    }


def _least(chance: np.ndarray, equipment: np.ndarray, count: int) -> np.ndarray:
    # Any live trap keeps the equipment's devices warm; with no trap read, little is known.
    result = np.full(count, np.inf)
    np.minimum.at(result, equipment, chance)
    return np.where(np.isinf(result), LIFELESS_UNREAD, result)


def _device_alone(
    kind: DeviceModel, model: Model, instruments: Instruments, whole: Round, lifeless: np.ndarray
) -> tuple[np.ndarray, np.ndarray, dict[str, np.ndarray]]:
    index = whole.kind(kind.device)
    rows, state = whole.part(index)
    factors = device_factors(
        kind, model, rows, state, instruments.row_share(rows), lifeless[rows.equipment]
    )
    total = sum(factors.values(), start=np.log(kind.rates)[None, :])
    return index, _normalised(np.asarray(total)), factors


def _before(
    whole: Round, traps: Rows, alone: dict[str, tuple[np.ndarray, np.ndarray, dict[str, np.ndarray]]]
) -> tuple[np.ndarray, np.ndarray]:
    """Chance that each equipment's vent is shut (E,), and of its check valve's states (E, 3)."""
    count = whole.equipment_count
    listed = [priors.LISTED_ELSEWHERE if len(alone[name][0]) else 1.0
              for name in ("air_vent", "check_valve")]
    shut, check = _unread(traps, count, (listed[0], listed[1]))
    index, chance, _ = alone["air_vent"]
    where = whole.rows.equipment[index]
    clear = np.ones(count)
    np.multiply.at(clear, where, 1.0 - chance[:, SHUT].sum(axis=1))
    shut[where] = 1.0 - clear[where]
    index, chance, _ = alone["check_valve"]
    where = whole.rows.equipment[index]
    check[where] = chance
    return shut, check


def _unread(
    traps: Rows, count: int, listed: tuple[float, float]
) -> tuple[np.ndarray, np.ndarray]:
    """Return what is believed of each equipment's vent and check valve where none was read.

    Parameters
    ----------
    listed
        What to scale the chances of a shut vent and of a stuck check valve by.
    """
    shut = np.full(count, priors.NO_VENT_SHUT_OTHER)
    shut[traps.equipment] = default_shut(traps) * listed[0]
    stuck = priors.NO_CHECK_STUCK * listed[1]
    return shut, np.tile([1.0 - 1.5 * stuck, stuck, 0.5 * stuck], (count, 1))


def _told_by_traps(
    name: str,
    index: np.ndarray,
    chance: np.ndarray,
    factors: dict[str, np.ndarray],
    joint: Joint,
    equipment: np.ndarray,
) -> tuple[np.ndarray, np.ndarray, dict[str, np.ndarray]]:
    """Add what the traps of the same equipment say of a vent or a check valve."""
    message = np.zeros_like(chance)
    if name == "air_vent":
        message = joint.vent_message[equipment][:, SHUT.astype(np.int8)]
    elif name == "check_valve":
        message = joint.check_message[equipment]
    factors = {**factors, "equipment": message}
    return index, _normalised(np.log(chance + 1e-300) + message), factors


assert CHECK_STATES[0] == VENT_STATES[0] == "working"
assert len(OPENINGS) == len(priors.OPENING_LEAKING) + len(priors.OPENING_OPEN)
assert len(TRAP_TYPES) == len(Model().type_shares)
