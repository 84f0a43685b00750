"""Air vents, vacuum breakers and check valves: what a round may move of how they look."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from survey.columns import DEVICES
from survey.diagnosis.companion_looks import (
    CENTRE_DOUBT,
    COOLED,
    LIFELESS_BY_DEVICE,
    LOOKS_BY_DEVICE,
    STILLED,
)
from survey.diagnosis.rows import Conditions, Rows

RATE_WEIGHT = 15.0
PATTERN_WEIGHT = 40.0
"""Devices that the usual patterns count as, against the round's own."""
TEMPERATURE_WEIGHT = 3.0
LEAST_SPREAD = {"air_vent": 0.05, "vacuum_breaker": 0.05, "check_valve": 0.025}
"""No state is held closer to its centre than this, so that none wins readings by being the
narrowest about the same place. Of check valves only a difference between two readings is told."""
MOST_RATE = 2.5
"""Most of its usual rate that a round may bring a state to which only its readings tell: a round
whose good vents all look open would else have a plague of open ones. Those that a valve or an
empty place tell, isolated and missing, may be as common as they are."""
TOLD_AT_SIGHT = ("working", "isolated", "missing")
OUTLET_DOUBT = 0.40  # of vents and breakers: where their outlets are read differs most
SOURCE_DOUBT_DB = 5.0
LEAST_WARM = 0.12
"""An inlet is taken as at least this far up to saturation: nearer to the air's temperature, a
degree more or less of that would be a large share."""
READ_BLUR = 0.015
"""How far a temperature may be off, as a share of the way to saturation: some 3 °F at 60 psig.
Common practice, no source."""
DISCHARGE_BLUR = 0.04
"""The same for the discharge side of a vent or breaker, in air that the heater warms. Common
practice, no source."""
INLET_UNREAD = 0.93
"""Where a device's inlet was not read it is taken as a hot one's, as most are: its share of the way
to saturation, a little under 1 by the thermometer and the pipe. Common practice, no source."""
BACK_OVER_WORKING = 0.03
"""Least that the pipe behind a check valve that passes back is hotter than behind one that works,
by the round's own: what comes back has not cooled on its way. Common practice, no source."""
HOT_BEFORE_SHUT = 0.2
"""Share of shut valves of vents and breakers that steam stands right before: where the stub is
short; a long one cools. Common practice, no source."""
PAST_SHUT_DOUBT = 0.05
"""How far a plant's own centre may lie from `companion_looks.PAST_SHUT`. Common practice, no
source."""
HOT_PAST_SHUT = 0.1
"""Of those with steam right before them, how many are as warm behind as an open one: where the
outlet is read on one piece of metal with the inlet. Common practice, no source."""
READ_THOUGH_MISSING = 0.1
"""Share of devices that are not fitted of which more is read than a bare pipe gives
(`device_there.shows_itself`). Common practice, no source."""
GIVING_WATER = (0.10, 0.30)
"""Share of a round's check valves that may give water because all those pass back, and from which
on they were watched in use. Common practice, no source."""
TRIED_WEIGHT = 8.0
"""Check valves that gave nothing, which a round counts as having beside its own."""
USED_WEIGHT = 10.0
"""Check valves that the usual words count as where they were watched in use."""
NOTED_WEIGHT = 4.0
"""Devices noted as shut, or as not fitted, that those two count as."""
NOTED_RANGE = (0.01, 0.5)
COOLED_WEIGHT = 2.0
"""Heaters that are not hot, or traps that pass nothing, which the usual chances of showing it on
their devices count as: where a plant has its vents, breakers and check valves is much the same on
all of its heaters. Common practice, no source."""
COOLED_RANGE = (0.05, 0.95)
WARMTH_DOUBT = 0.20
"""How far a plant's own may lie from how warm a heater's devices usually are without heat. Common
practice, no source."""
CLEAR_BLUR = 0.08
"""Only outlets told at least this closely teach where outlets are: inlets from a third of the way
up to saturation on."""


@dataclass
class DeviceModel:
    """One kind of device: what the round may move of its looks. Arrays run over its states.

    But `cooled`, how often a heater that stands so leaves it without heat, and `warmth`, how warm
    the place it sits on then is: they run over the ways of `companion_looks.Lifeless`.
    """

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
    observed_weight: np.ndarray
    slight: np.ndarray
    cooled: np.ndarray
    warmth: np.ndarray
    hot_before_shut: float
    read_though_missing: float

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
            inlet_doubt=np.array([look.inlet_doubt for look in looks]),
            outlet_doubt=np.array([PAST_SHUT_DOUBT if k.closed > 0.5 else doubt for k in looks]),
            observed_weight=np.array([look.observed_weight for look in looks]),
            slight=np.array([look.slight for look in looks]),
            cooled=np.array(STILLED if device == "check_valve" else list(COOLED.values())),
            warmth=np.array([each[0] for each, _ in LIFELESS_BY_DEVICE[device].ways]),
            hot_before_shut=HOT_BEFORE_SHUT,
            read_though_missing=READ_THOUGH_MISSING,
        )

    @property
    def most_rates(self) -> np.ndarray:
        """Return the most that each state's rate may become in a round, (states,)."""
        looks = LOOKS_BY_DEVICE[self.device].items()
        return np.array([1.0 if k in TOLD_AT_SIGHT else MOST_RATE * v.rate for k, v in looks])

    @property
    def least_rates(self) -> np.ndarray:
        """Return the least that each state's rate may become in a round, (states,)."""
        looks = LOOKS_BY_DEVICE[self.device].values()
        return np.array([look.least_rate * look.rate for look in looks])

    @property
    def by_valve(self) -> np.ndarray:
        """Return which states are told by a closed valve, (states,)."""
        return np.asarray(self.closed > 0.5)

    @property
    def by_absence(self) -> np.ndarray:
        """Return which states are told by nothing being fitted, (states,)."""
        return np.asarray(self.absent > 0.5)

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
    return inlet, outlet / warm, DISCHARGE_BLUR / warm
