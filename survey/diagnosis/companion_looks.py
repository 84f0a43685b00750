"""What each state of an air vent, a vacuum breaker and a check valve looks like before any round.

The numbers are common practice, no source; what was seen when a device was opened, and
whether it is shut or fitted at all, decide long before its temperature does.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from survey.columns import BREAKER_STATES, CHECK_STATES, OBSERVATIONS, PATTERNS, VENT_STATES
from survey.diagnosis.priors import ABSENT_MISREAD, VALVE_CLOSED_MISREAD

CENTRE_DOUBT = 0.10
"""How far a plant's own centre may lie from those given here."""


@dataclass(frozen=True)
class Look:
    """What one state of a device shows.

    Parameters
    ----------
    rate
        Share of such devices in this state before anything is read.
    inlet, outlet
        Centre and spread. The inlet's is its share of the way to saturation; a check valve's
        tells what comes through its trap, and is not compared. The outlet, of a vent or breaker
        the discharge side, is a share of how warm the inlet is, behind a shut valve (`PAST_SHUT`)
        of the way to saturation; a check valve's how much more it is than one.
    source_db, source_spread_db
        Sound it makes, over the round's background.
    observed, pattern
        Chances in the order of `columns.OBSERVATIONS` and `columns.PATTERNS`.
    closed, absent
        Chance that its valve reads closed, and that it reads as not fitted.
    least_rate
        Least share of its usual rate that a round may bring it down to: one device that is not
        fitted among a thousand that are is still not fitted.
    inlet_doubt
        How far a plant's own inlets may lie from this one.
    observed_weight
        Devices that the usual words of what came out count as, against the round's own. Many: what
        steam at a discharge means does not change from plant to plant, and a few words told wrongly
        would turn two states round.
    slight
        Share of them that pass too little to be heard.
    """

    rate: float
    inlet: tuple[float, float]
    outlet: tuple[float, float]
    source_db: float
    observed: tuple[float, float, float, float]
    pattern: tuple[float, float, float, float]
    source_spread_db: float = 6.0
    closed: float = VALVE_CLOSED_MISREAD
    absent: float = ABSENT_MISREAD
    least_rate: float = 0.5
    inlet_doubt: float = CENTRE_DOUBT
    observed_weight: float = 60.0
    slight: float = 0.0


@dataclass(frozen=True)
class Lifeless:
    """What a device that no heat or no flow comes by shows, whatever its own state.

    Parameters
    ----------
    ways
        Two centres with their spreads, by why nothing comes. Of how warm the place it sits on is, 1
        where it has heat: what its inlet shows is its own share of that, a shut valve's as ever
        less than an open one's. And of its outlet, a share of the way to saturation, a check
        valve's told as in `Look`; it counts where it is not told by its own inlet.
    observed, pattern
        As in `Look`.
    """

    ways: tuple[tuple[tuple[float, float], tuple[float, float]], ...]
    pattern: tuple[float, float, float, float]
    observed: tuple[float, float, float, float] = (0.84, 0.08, 0.06, 0.02)
    source_db: float = -9.0
    source_spread_db: float = 6.0


PAST_SHUT = (0.06, 0.05)
"""Outlet of a vent or breaker whose valve is shut, as a share of the way to saturation: it hangs on
the air and on what the pipe conducts, far less than an open one's on how hot its inlet is. Centre
and spread. Common practice, no source."""
_QUIET = (0.88, 0.07, 0.025, 0.025)
_SILENT = (0.90, 0.06, 0.02, 0.02)
_JET = (0.03, 0.07, 0.80, 0.10)
_SPUTTER = (0.15, 0.18, 0.40, 0.27)
_BURBLE = (0.28, 0.32, 0.22, 0.18)

VENT_LOOKS: dict[str, Look] = {
    "working": Look(
        0.80, (0.92, 0.14), (0.40, 0.28), -6.0, (0.60, 0.355, 0.02, 0.025), (0.80, 0.14, 0.03, 0.03)
    ),
    "isolated": Look(
        0.09, (0.32, 0.22), PAST_SHUT, -9.0, (0.90, 0.07, 0.015, 0.015), _QUIET, closed=0.99,
        inlet_doubt=0.15,
    ),
    "failed_open": Look(
        0.05, (0.98, 0.06), (0.85, 0.16), 14.0, (0.02, 0.03, 0.05, 0.90), _JET,
        least_rate=0.7, slight=0.03,
    ),
    "passing_water": Look(
        0.03, (0.86, 0.17), (0.62, 0.20), 7.0, (0.02, 0.03, 0.90, 0.05), _SPUTTER, 8.0,
        least_rate=0.7, slight=0.2,
    ),
    "missing": Look(
        0.03, (0.50, 0.40), (0.30, 0.30), -9.0, (0.90, 0.04, 0.03, 0.03), _QUIET, absent=0.998,
        least_rate=0.8,
    ),
}
BREAKER_LOOKS: dict[str, Look] = {
    "working": Look(
        0.84, (0.75, 0.25), (0.20, 0.20), -9.0, (0.86, 0.12, 0.01, 0.01), (0.84, 0.10, 0.03, 0.03),
        inlet_doubt=0.25,
    ),
    "missing": Look(
        0.05, (0.50, 0.40), (0.30, 0.30), -9.0, (0.90, 0.04, 0.03, 0.03), _QUIET, absent=0.998,
        least_rate=0.8,
    ),
    "isolated": Look(
        0.05, (0.35, 0.24), PAST_SHUT, -9.0, (0.90, 0.04, 0.03, 0.03), _QUIET, closed=0.99,
        inlet_doubt=0.15,
    ),
    "leaking": Look(
        0.06, (0.95, 0.10), (0.75, 0.20), 10.0, (0.015, 0.015, 0.22, 0.75), _JET, slight=0.2
    ),
}
_UNTOLD = (0.70, 0.30)  # never compared
# Flow carries heat with it: past a check valve that passes forward the pipe is a little cooler
# than before it, past one that stays shut it keeps a third of the warmth that stands before it,
# and one that passes back is hotter on the return's side.
CHECK_LOOKS: dict[str, Look] = {
    "working": Look(
        0.88, _UNTOLD, (-0.05, 0.10), -2.0, (0.955, 0.02, 0.0125, 0.0125), (0.45, 0.35, 0.10, 0.10),
        observed_weight=200.0,
    ),
    "stuck": Look(
        0.07, _UNTOLD, (-0.62, 0.20), -9.0, (0.76, 0.04, 0.18, 0.02), _QUIET, least_rate=0.25
    ),
    "passing_back": Look(
        0.06, _UNTOLD, (0.04, 0.05), 4.0, (0.06, 0.02, 0.74, 0.18), _BURBLE, 8.0, least_rate=1.0,
        slight=0.10,
    ),
}
ON_HEATER = Lifeless(
    (((0.70, 0.18), (0.20, 0.20)), ((0.20, 0.16), (0.13, 0.13)), ((0.22, 0.22), (0.12, 0.12))),
    _QUIET,
)
"""A vent or breaker on a heater that condensate fills, that air fills, and that no steam comes to.
Steam still comes to the top of a flooded one and warms it; air gathers where it should leave, so
that is the coldest place. What stands there is under the steam's pressure: a flooded one's device
that lets it out is heard and seen to."""
FLOODED_WAY, AIR_WAY = 0, 1
COOLED = {"flooded": 0.6, "air_bound": 0.8, "no_steam": 0.75}
"""How often a heater that stands so leaves the devices on it without heat: one chance for each of
the ways of `ON_HEATER`, in their order. The valve of a trap that is off may be the one behind the
heater, with steam still on it; where breakers sit where steam comes in they tell little, and the
plant tells where they sit. Common practice, no source."""
BEHIND_TRAP = Lifeless(((_UNTOLD, (-0.08, 0.07)),), _SILENT)
"""A check valve that nothing flows through: the pipe is as warm behind it as before it, or warmer
(`RETURN_WARMS`); only one that holds water back has a step in it. Common practice, no source."""
RETURN_WARMS = (0.20, 1.0)
"""Share of pipes without flow that the return warms from behind, and how much more than before the
valve they are then: any share up to it, and seldom more. Common practice, no source."""
STILLED = [0.65]
"""How often a trap that passes nothing leaves its check valve without flow: another trap's may come
by it, and what stood in the pipe cools slowly. Common practice, no source."""
STEAM_THROUGH = Lifeless(
    ((_UNTOLD, (-0.35, 0.20)),), _JET, source_db=14.0, source_spread_db=10.0
)
"""A check valve behind a trap that loses steam: it sounds as the trap does, whatever its own state,
and is told by its temperatures alone. One that works may be cooler behind, half of the time: what
blew hot into it stands at the return's pressure there."""
LOOKS_BY_DEVICE: dict[str, dict[str, Look]] = {
    "air_vent": VENT_LOOKS,
    "vacuum_breaker": BREAKER_LOOKS,
    "check_valve": CHECK_LOOKS,
}
SHUT = np.array([state in ("isolated", "missing") for state in VENT_STATES])
LIFELESS_BY_DEVICE: dict[str, Lifeless] = {
    "air_vent": ON_HEATER,
    "vacuum_breaker": ON_HEATER,
    "check_valve": BEHIND_TRAP,
}
SILENT_WAYS: dict[str, list[int]] = {
    "air_vent": [AIR_WAY, AIR_WAY + 1],
    "vacuum_breaker": [AIR_WAY, AIR_WAY + 1],
    "check_valve": [0, 1],
}
"""Ways in which a device is neither heard nor seen to do what its own state is, of those that it
may be left in, a check valve's jet included."""
assert tuple(VENT_LOOKS) == VENT_STATES
assert tuple(BREAKER_LOOKS) == BREAKER_STATES
assert tuple(CHECK_LOOKS) == CHECK_STATES
assert len(_QUIET) == len(PATTERNS)
assert len(VENT_LOOKS["working"].observed) == len(OBSERVATIONS)
