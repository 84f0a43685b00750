"""How often a trap is held up from upstream, before a round is read: as `priors`, named data.

Unless a source is named, a value is common practice, no source, and the round's own readings
outweigh it.
"""

from __future__ import annotations

USUAL_VICTIM = 0.03
"""Share of traps that each thing upstream holds up, where that must not be asked."""
VALVED_OFF = 0.03
BACKED_UNEXPLAINED = 0.004
COLD_UNEXPLAINED = 0.001
"""Of a single trap under steam: one that is dead cold though its valve is open and its vent works
is shut or plugged itself, far likelier than kept from its steam by nothing that was read."""
COLD_IF_OFF = 0.8
"""The same where the whole station is cold: its steam is off, or was not let in yet."""
AIR_BOUND = {"shut": 0.22, "working": 0.002}
AIR_BOUND_AT_PSIA = 45.0
AIR_BY_PRESSURE = 0.5
"""That is of a heater at about 30 psig; how its odds fall as the pressure rises. Were the share
of a heater that its own air takes up all (Dalton), the power would be one; more air comes with the
steam. Common practice, no source."""
AIR_KEPT = {
    "float_thermostatic": 0.6,
    "inverted_bucket": 1.25,
    "thermodynamic": 1.2,
    "thermostatic": 0.65,
    "bimetallic": 0.75,
    "fixed_orifice": 1.0,
}
"""How the odds of an air-bound heater hang on its trap's type, against an unknown one: some let
air out by themselves, through a thermostatic element; a bucket has a pinhole for it, and a disk can
be held shut by it. Common practice, no source."""
BACKED_BY_CHECK = {"working": 0.0005, "stuck": 0.92, "passing_back": 0.05}
LIFT_TAKEN = (0.10, 0.08)
"""Share of the pressure at hand that the trap itself and the pipes take, so that it lifts nothing:
a trap that passes three times its load takes a ninth. Common practice, no source; the plant
tells."""
LIFT_TAKEN_RANGE = (0.0, 0.22)
LIFT_TELLS = 0.15
"""How much of a lift's weight tells that share: a few alike may all be misjudged by eye."""
BACKED_BY_LIFT_SHORT = 0.85
BACKED_BY_LIFT_ENOUGH = 0.002
UNREAD_LIFTED = 0.3  # share of traps with a lift, of those of which none is written down
RATE_WEIGHT = 8.0
NO_VENT_SHUT = {"unit_heater": 0.05, "process": 0.03}
NO_VENT_SHUT_OTHER = 0.02
NO_CHECK_STUCK = 0.02
LISTED_ELSEWHERE = 0.1
"""Where a round lists its check valves, equipment that has none listed seldom has one: its chance
of a stuck one is then at least this share of what it is where the round lists none at all."""
NOT_LISTED = 0.45
"""Of equipment with none listed, where nearly all of its kind has one: how much of it has one as
well, that was left out. Common practice, no source."""
