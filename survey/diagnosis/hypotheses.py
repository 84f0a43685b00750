"""What may be the matter with a trap: one short list of (state, cause), weighed together.

Adding a hypothesis is adding a row here, its emission class (what its readings look like) and
its prior in `priors.py`; nothing else names a hypothesis by number.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from survey.columns import CAUSES, TRAP_STATES


@dataclass(frozen=True)
class Hypothesis:
    """One explanation of a trap's readings.

    Parameters
    ----------
    name
        Its own word.
    state, cause
        What the findings say when it wins.
    looks
        Its emission class: hypotheses that look alike on the trap itself share one, and are
        told apart by the valve, the lift and the devices of the same equipment.
    """

    name: str
    state: str
    cause: str
    looks: str


HYPOTHESES: tuple[Hypothesis, ...] = (
    Hypothesis("working", "working", "none", "working"),
    Hypothesis("working_idle", "working", "none", "idle"),
    Hypothesis("leaking", "leaking", "trap", "leaking"),
    Hypothesis("failed_open", "failed_open", "trap", "failed_open"),
    Hypothesis("failed_closed", "failed_closed", "trap", "failed_closed"),
    Hypothesis("backed_by_check", "backed_up", "check_valve", "backed_up"),
    Hypothesis("backed_by_lift", "backed_up", "lift", "backed_up"),
    Hypothesis("backed_unexplained", "backed_up", "unknown", "backed_up"),
    Hypothesis("cold_by_vent", "cold", "air_vent", "air_bound"),
    Hypothesis("cold_by_valve", "cold", "valved_off", "no_steam"),
    Hypothesis("cold_unexplained", "cold", "unknown", "no_steam"),
)
LOOKS: tuple[str, ...] = (
    "working",
    "idle",
    "leaking",
    "failed_open",
    "failed_closed",
    "backed_up",
    "air_bound",
    "no_steam",
)
"""Emission classes, hot ones first."""

HOT_LOOKS = 4
HEATERS = ("hot", "flooded", "air_bound", "no_steam")
"""How a heater stands, by what its trap looks like: `HEATER_OF_LOOK`, hot for all others."""
HEATER_OF_LOOK = {
    "failed_closed": "flooded",
    "backed_up": "flooded",
    "air_bound": "air_bound",
    "no_steam": "no_steam",
}
FLOWS = ("flowing", "still")
"""Whether anything passes on to a check valve, by what its trap is."""
INDEX: dict[str, int] = {h.name: i for i, h in enumerate(HYPOTHESES)}
LOOKS_INDEX: dict[str, int] = {name: i for i, name in enumerate(LOOKS)}
LOSING_LOOKS = [LOOKS_INDEX[name] for name in ("leaking", "failed_open")]
LOOKS_OF = np.array([LOOKS_INDEX[h.looks] for h in HYPOTHESES])
STATE_OF = np.array([TRAP_STATES.index(h.state) for h in HYPOTHESES])
CAUSE_OF = np.array([CAUSES.index(h.cause) for h in HYPOTHESES])


def by_state(probability: np.ndarray) -> np.ndarray:
    """Sum hypotheses (n, H) into the six trap states (n, 6)."""
    return _summed(probability, STATE_OF, len(TRAP_STATES))


def by_look(probability: np.ndarray) -> np.ndarray:
    """Sum hypotheses (n, H) into the emission classes (n, looks)."""
    return _summed(probability, LOOKS_OF, len(LOOKS))


def _summed(probability: np.ndarray, group: np.ndarray, groups: int) -> np.ndarray:
    result = np.zeros((len(probability), groups), order="F")
    for position, member_of in enumerate(group):
        result[:, member_of] += probability[:, position]
    return result
