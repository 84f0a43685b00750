"""What a round may move of what was believed before it: starts at the priors, ends calibrated."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from survey.columns import SERVICES, TRAP_TYPES
from survey.diagnosis import priors, upstream_priors
from survey.diagnosis.hypotheses import LOOKS

UPSTREAM = ("air_vent", "check_valve")
"""Devices of which a round may leave some out, though they hold their traps up."""


def _by_look(rows: dict[str, tuple[float, float, float, float]]) -> np.ndarray:
    return np.array([rows.get(look, priors.PATTERN_COOL) for look in LOOKS])


def _pattern_of(trap_type: str) -> np.ndarray:
    cycling = trap_type in priors.CYCLING_TYPES
    usual = priors.PATTERN_CYCLING if cycling else priors.PATTERN_STEADY
    return _by_look({**usual, "working": priors.PATTERN_WORKING.get(trap_type, usual["working"])})


@dataclass
class Model:
    """Everything the round may move: starts at the priors, ends calibrated.

    Arrays run over `LOOKS`, `TRAP_TYPES`, `PATTERNS` and `OBSERVATIONS` in their order.
    """

    subcooling_f: np.ndarray = field(
        default_factory=lambda: np.array([priors.SUBCOOLING_F[t][0] for t in TRAP_TYPES])
    )
    inlet_spread: np.ndarray = field(
        default_factory=lambda: np.array(
            [
                priors.INLET_HOT_SPREAD[k]
                if k in priors.INLET_HOT_SPREAD
                else priors.INLET_COOL[k][1]
                for k in LOOKS
            ]
        )
    )
    inlet_cool: np.ndarray = field(
        default_factory=lambda: np.array([priors.INLET_COOL.get(k, (1.0, 0.0))[0] for k in LOOKS])
    )
    inlet_doubt: np.ndarray = field(
        default_factory=lambda: np.array([priors.INLET_COOL_DOUBT.get(k, 0.0) for k in LOOKS])
    )
    outlet_doubt: np.ndarray = field(
        default_factory=lambda: np.array([priors.OUTLET_DOUBT[k] for k in LOOKS])
    )
    outlet_at_return: np.ndarray = field(
        default_factory=lambda: np.array([priors.OUTLET_AT_RETURN[k] for k in LOOKS])
    )
    outlet_towards_supply: np.ndarray = field(
        default_factory=lambda: np.array([priors.OUTLET_TOWARDS_SUPPLY[k] for k in LOOKS])
    )
    outlet_warmed: np.ndarray = field(
        default_factory=lambda: np.array([priors.OUTLET_WARMED.get(k, 0.0) for k in LOOKS])
    )
    outlet_spread: np.ndarray = field(
        default_factory=lambda: np.array([priors.OUTLET_SPREAD[k] for k in LOOKS])
    )
    outlet_follows: np.ndarray = field(
        default_factory=lambda: np.array(
            [priors.COOL_OUTLET_FOLLOWS.get(k, priors.OUTLET_FOLLOWS)[0] for k in LOOKS]
        )
    )
    background_db: float = 0.0
    background_spread_db: float = 4.0
    silent_db: float = priors.SOURCE_SILENT_DB[0]
    working_db: np.ndarray = field(
        default_factory=lambda: np.array([priors.SOURCE_WORKING_DB[t][0] for t in TRAP_TYPES])
    )
    working_db_per_decade: float = priors.WORKING_DB_PER_DECADE[0]
    working_db_per_bore_decade: float = priors.WORKING_DB_PER_BORE_DECADE[0]
    jet_db: float = priors.SOURCE_JET_DB[0]
    jet_db_per_decade: float = priors.JET_DB_PER_DECADE[0]
    jet_db_per_psi_decade: float = priors.JET_DB_PER_PSI_DECADE[0]
    sound_spread_db: np.ndarray = field(
        default_factory=lambda: np.array(
            [priors.SOUND_SPREAD_DB[k] for k in ("silent", "working", "jet")]
        )
    )
    pattern: np.ndarray = field(
        default_factory=lambda: np.stack([_pattern_of(name) for name in TRAP_TYPES])
    )
    observed: np.ndarray = field(
        default_factory=lambda: np.array([priors.OBSERVED[k] for k in LOOKS])
    )
    trap_rates: np.ndarray = field(
        default_factory=lambda: np.array(list(priors.TRAP_RATES.values()))
    )
    valved_off: float = upstream_priors.VALVED_OFF
    closed_misread: float = priors.VALVE_CLOSED_MISREAD
    absent_misread: float = priors.ABSENT_MISREAD
    air_bound_if_shut: float = upstream_priors.AIR_BOUND["shut"]
    backed_if_stuck: float = upstream_priors.BACKED_BY_CHECK["stuck"]
    backed_if_passing: float = upstream_priors.BACKED_BY_CHECK["passing_back"]
    backed_if_short: float = upstream_priors.BACKED_BY_LIFT_SHORT
    lift_taken: float = upstream_priors.LIFT_TAKEN[0]
    unread_lifted: float = upstream_priors.UNREAD_LIFTED
    listed: dict[str, np.ndarray] = field(
        default_factory=lambda: {name: np.zeros(len(SERVICES) + 1) for name in UPSTREAM}
    )
    """Share of the traps of each service, the last if unknown, whose equipment has one listed."""
    type_shares: np.ndarray = field(
        default_factory=lambda: np.full(len(TRAP_TYPES), 1.0 / len(TRAP_TYPES))
    )

    @property
    def inlet_blur(self) -> np.ndarray:
        """Spread of an inlet about its expected share, the centre's own doubt included."""
        return np.asarray(np.hypot(self.inlet_spread, self.inlet_doubt))

    @property
    def outlet_blur(self) -> np.ndarray:
        """Spread of an outlet about its expected share, the centre's own doubt included."""
        return np.asarray(np.hypot(self.outlet_spread, self.outlet_doubt))
