"""A whole round weighed by a given calibration: traps, vents, breakers and check valves."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from survey.columns import BREAKER_STATES, CHECK_STATES, DEVICES, VENT_STATES
from survey.diagnosis import upstream_priors
from survey.diagnosis.companion_looks import SHUT
from survey.diagnosis.companions import DeviceModel
from survey.diagnosis.device_readings import device_factors
from survey.diagnosis.flows import NO_FLOW, PASSING_BACK_STILL, flow_told, jet_chance
from survey.diagnosis.heaters import BY_WAY, STATES_BY_VENT, heat_told
from survey.diagnosis.holding_up import chances_of_air, default_shut, left_out
from survey.diagnosis.instruments import Instruments
from survey.diagnosis.joint import Joint, Seen
from survey.diagnosis.lifting import Lifts
from survey.diagnosis.model import Model
from survey.diagnosis.rows import Conditions, Rows
from survey.diagnosis.rowwise import columns_of, row_sum, rows_of
from survey.diagnosis.trap_logs import TrapLogs, normalised, trap_logs

LIFELESS_UNREAD = 0.05
FAULTY = np.array([state != "working" for state in CHECK_STATES])


@dataclass(frozen=True)
class Round:
    """A round, or whole equipment of one, in arrays.

    Parameters
    ----------
    listed
        Kinds of device that the whole round lists.
    off
        Stations whose steam is off, (stations,) of bool.
    """

    rows: Rows
    state: Conditions
    equipment_count: int
    listed: frozenset[str]
    off: np.ndarray

    def kind(self, device: str) -> np.ndarray:
        """Return the positions of one kind of device."""
        return np.flatnonzero(self.rows.device == DEVICES.index(device))

    def part(self, index: np.ndarray) -> tuple[Rows, Conditions]:
        """Return the readings and conditions of some rows."""
        return self.rows.take(index), self.state.take(index)


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
    lifts
        Of the traps.
    devices
        By kind: positions, chances (n, states), and logs by reading.
    lifeless
        By kind: chance that each equipment's is without heat or flow in each way of
        `companion_looks.LIFELESS_BY_DEVICE`, in each of its states, (E, states, ways).
    by_breaker
        How much each trap's breaker favours each way that its heater may stand, (traps, ways).
    stands
        By kind: chance of each device's having heat, and of each way of having none, by its own
        readings in each of its states, (n, states, 1 + ways).
    """

    traps: np.ndarray
    logs: TrapLogs
    joint: Joint
    lifts: Lifts
    devices: dict[str, tuple[np.ndarray, np.ndarray, dict[str, np.ndarray]]]
    lifeless: dict[str, np.ndarray]
    by_breaker: np.ndarray
    stands: dict[str, np.ndarray]


def weigh_round(
    model: Model,
    kinds: dict[str, DeviceModel],
    instruments: Instruments,
    whole: Round,
) -> Weighed:
    """Weigh every device of a round."""
    traps = whole.kind("trap")
    rows, state = whole.part(traps)
    logs = trap_logs(model, instruments, rows, state)
    lifts = Lifts.of(rows, state)
    seen = Seen.of(
        model,
        logs.total,
        equipment=rows.equipment,
        equipment_count=whole.equipment_count,
        lift=lifts.chance(model),
        off=whole.off[rows.station],
        air=chances_of_air(model, rows.trap_type, state.supply_psia),
    )
    lifeless = _lifeless(seen, kinds, rows, whole.equipment_count)
    alone = {
        name: _device_alone(kind, model, instruments, whole, lifeless[name])
        for name, kind in kinds.items()
    }
    shut, check = _before(model, kinds, whole, rows, alone)
    heat = {
        name: heat_told(
            alone[name].chance,
            alone[name].ways,
            lifeless[name][alone[name].equipment],
            cooled=kinds[name].cooled,
            states=states,
            devices=alone[name].equipment,
            traps=rows.equipment,
            equipment_count=whole.equipment_count,
        )
        for name, states in STATES_BY_VENT.items()
    }
    checks = alone["check_valve"]
    flow = flow_told(
        checks.ways,
        lifeless["check_valve"][checks.equipment],
        stilled=float(kinds["check_valve"].cooled[0]),
        checks=checks.equipment,
        traps=rows.equipment,
        equipment_count=whole.equipment_count,
    )
    joint = seen.weigh(
        shut_before=shut, check_before=check, heat=np.prod([*heat.values()], axis=0), flow=flow
    )
    devices = {name: _told_by_traps(name, each, joint) for name, each in alone.items()}
    # A breaker tells the same whether the vent is open or shut.
    by_breaker = heat["vacuum_breaker"][:, 0]
    stands = {name: each.ways for name, each in alone.items()}
    return Weighed(traps, logs, joint, lifts, devices, lifeless, by_breaker, stands)


def _lifeless(
    seen: Seen, kinds: dict[str, DeviceModel], traps: Rows, equipment_count: int
) -> dict[str, np.ndarray]:
    """Chance, by the traps' own readings, that no heat or flow comes by each equipment's devices.

    A vent or breaker sits on the heater, a check valve behind the trap: what starves one of
    heat need not starve the other. Each state of a device has a chance of its own, (E, states):
    behind a trap that passes nothing a check valve that works sees no flow, but one that is
    stuck is itself what holds the condensate back.
    """
    shut, check = _unread(traps, equipment_count)

    def least(shares: list[np.ndarray], shut: np.ndarray, check: np.ndarray) -> np.ndarray:
        weights = seen.weights(shut_before=shut, check_before=check)
        return np.stack(
            [
                _least(row_sum(row_sum(weights * each)), traps.equipment, equipment_count)
                for each in shares
            ]
        ).T

    ways = [seen.share(worth) for worth in BY_WAY]
    by_vent = np.stack([least(ways, np.full_like(shut, x), check) for x in (0.0, 1.0)], axis=1)
    checks = [np.tile(state, (equipment_count, 1)) for state in np.eye(len(FAULTY))]
    no_flow = [seen.share(NO_FLOW)]
    still = np.stack([least(no_flow, shut, state)[:, 0] for state in checks], axis=-1)
    jet = np.zeros(equipment_count)
    np.maximum.at(jet, traps.equipment, jet_chance(seen.likely))
    still *= kinds["check_valve"].cooled[0] * PASSING_BACK_STILL
    breaker = least(ways, shut, check) * kinds["vacuum_breaker"].cooled
    return {
        "air_vent": by_vent[:, SHUT.astype(np.int8)] * kinds["air_vent"].cooled,
        "vacuum_breaker": np.stack([breaker] * len(BREAKER_STATES), axis=1),
        "check_valve": np.stack([still, (1.0 - still) * jet[:, None]], axis=-1),
    }


def _least(chance: np.ndarray, equipment: np.ndarray, count: int) -> np.ndarray:
    # Any live trap keeps the equipment's devices warm; with no trap read, little is known.
    result = np.full(count, np.inf)
    np.minimum.at(result, equipment, chance)
    return np.where(np.isinf(result), LIFELESS_UNREAD, result)


@dataclass(frozen=True)
class _Alone:
    """What devices' own readings say.

    Parameters
    ----------
    index, equipment
        Positions of the devices and the equipment of each, (n,).
    chance
        Of each state, (n, states).
    factors
        Logs by reading, (n, states) each.
    ways
        Chance of having heat, and of each way of having none, in each state, (n, states, 1 + ways).
    """

    index: np.ndarray
    equipment: np.ndarray
    chance: np.ndarray
    factors: dict[str, np.ndarray]
    ways: np.ndarray


def _device_alone(
    kind: DeviceModel, model: Model, instruments: Instruments, whole: Round, lifeless: np.ndarray
) -> _Alone:
    index = whole.kind(kind.device)
    rows, state = whole.part(index)
    factors, ways = device_factors(
        kind, model, instruments.corrected(rows), state, lifeless[rows.equipment]
    )
    total = sum(factors.values(), start=np.log(kind.rates)[None, :])
    return _Alone(index, rows.equipment, normalised(np.asarray(total)), factors, ways)


def _before(
    model: Model,
    kinds: dict[str, DeviceModel],
    whole: Round,
    traps: Rows,
    alone: dict[str, _Alone],
) -> tuple[np.ndarray, np.ndarray]:
    """Chance that each equipment's vent is shut (E,), and of its check valve's states (E, 3)."""
    count = whole.equipment_count
    shut, check = _unread(traps, count)
    if "air_vent" in whole.listed:
        left = _left_out(model, kinds["air_vent"], traps, count)
        shut = np.maximum(upstream_priors.NO_VENT_SHUT_OTHER, left[:, SHUT].sum(axis=1))
    if "check_valve" in whole.listed:
        left = _left_out(model, kinds["check_valve"], traps, count)
        check = FAULTY * np.maximum(upstream_priors.LISTED_ELSEWHERE * check, left)
        check[:, 0] = 1.0 - check.sum(axis=1)
    chance, where = alone["air_vent"].chance, alone["air_vent"].equipment
    clear = np.ones(count)
    np.multiply.at(clear, where, 1.0 - chance[:, SHUT].sum(axis=1))
    shut[where] = 1.0 - clear[where]
    chance, where = alone["check_valve"].chance, alone["check_valve"].equipment
    check[where] = 0.0
    np.maximum.at(check, where, chance * FAULTY)
    faulty = check.sum(axis=1)[where]
    # Of several check valves the worst one holds back: faults are the likeliest, not the last.
    check[where] /= np.maximum(faulty, 1.0)[:, None]
    check[where, 0] = np.maximum(1.0 - faulty, 0.0)
    return shut, check


def _unread(traps: Rows, count: int) -> tuple[np.ndarray, np.ndarray]:
    """Return what is believed of each equipment's vent and check valve in a round without any."""
    shut = np.full(count, upstream_priors.NO_VENT_SHUT_OTHER)
    np.maximum.at(shut, traps.equipment, default_shut(traps))
    stuck = upstream_priors.NO_CHECK_STUCK
    return shut, np.tile([1.0 - 1.5 * stuck, stuck, 0.5 * stuck], (count, 1))


def _left_out(model: Model, kind: DeviceModel, traps: Rows, count: int) -> np.ndarray:
    """Return the chance that equipment has one in each state, though not listed, (E, states)."""
    has = np.zeros(count)
    np.maximum.at(has, traps.equipment, left_out(model, traps, kind.device))
    return np.asarray(has[:, None] * kind.rates)


def _told_by_traps(
    name: str, alone: _Alone, joint: Joint
) -> tuple[np.ndarray, np.ndarray, dict[str, np.ndarray]]:
    """Add what the traps of the same equipment say of a vent or a check valve."""
    message = np.zeros_like(alone.chance)
    if name == "air_vent":
        message = rows_of(columns_of(joint.vent_message, SHUT.astype(np.int8)), alone.equipment)
    elif name == "check_valve":
        message = rows_of(joint.check_message, alone.equipment)
    factors = {**alone.factors, "equipment": message}
    return alone.index, normalised(np.log(alone.chance + 1e-300) + message), factors


assert CHECK_STATES[0] == VENT_STATES[0] == "working"
