"""What is believed before a round is read: every prior as named data, with where it comes from.

Shares are of the way from the air's temperature to saturation (1 = saturation), after the
thermometer's own share is taken out. A pair is (centre, spread); `WEIGHT`s say how many units
a prior is worth against the round's own. Unless a source is named, a value is common practice,
no source, and the round's own readings outweigh it as soon as there are some dozens of them.
"""

from __future__ import annotations

import numpy as np

from survey.columns import OBSERVATIONS, PATTERNS, TRAP_TYPES

STUDENT_FREEDOM = 8.0
"""Tail of every reading's error."""
GROSS_TEMPERATURE = 0.015 / 1.3
"""Density, per unit of share, of a temperature that is simply wrong (the wrong pipe, two
digits changed round): one or two in a hundred, anywhere. Common practice, no source."""
GROSS_SOUND = 0.01 / 60.0
"""The same for a sound level, per dB."""
SWAPPED = 0.012
"""Chance that the two temperatures were written down the wrong way round."""

# -- temperatures ---------------------------------------------------------------------------
SUBCOOLING_F = {
    "float_thermostatic": (4.0, 4.0),
    "inverted_bucket": (4.0, 4.0),
    "thermodynamic": (6.0, 5.0),
    "thermostatic": (16.0, 8.0),
    "bimetallic": (35.0, 15.0),
    "fixed_orifice": (4.0, 4.0),
}
"""How far under saturation a working trap of a type holds its inlet, °F."""
SUBCOOLING_KEPT = {"working": 1.0, "idle": 1.0, "leaking": 0.4, "failed_open": 0.1}
"""Share of that subcooling left in each hot class: live steam at the seat ends it."""
SUBCOOLING_SCATTER = 0.35
"""How much traps of one type differ in their subcooling, as a share of it: what holds back more
also varies more. Common practice, no source."""
MISLABELLED = 0.05
"""Chance that a trap is of another type than the round says; common practice, no source."""
INLET_HOT_SPREAD = {"working": 0.030, "idle": 0.040, "leaking": 0.025, "failed_open": 0.025}
INLET_COOL = {
    "failed_closed": (0.43, 0.15),
    "backed_up": (0.57, 0.15),
    "air_bound": (0.25, 0.12),
    "no_steam": (0.07, 0.07),
}
VALVE_SEEPS = 0.10
SEEPING_INLET = (0.30, 0.16)
"""Share of traps without steam whose shut valve lets a little by, and how warm that keeps the
inlet. Common practice, no source."""
INLET_COOL_DOUBT = {"failed_closed": 0.08, "backed_up": 0.08, "air_bound": 0.10, "no_steam": 0.06}
"""How far a plant's own centre may lie from these, beside the spread of its units about it. What
stands before a shut trap cools as far as its pipe lets it; air leaves more or less steam in."""
OUTLET_AT_RETURN = {
    "working": 0.92,
    "idle": 0.82,
    "leaking": 0.96,
    "failed_open": 1.00,
    "failed_closed": 0.16,
    "backed_up": 0.55,
    "air_bound": 0.25,
    "no_steam": 0.10,
}
"""Outlet's share as a multiple of the return's own saturation share."""
OUTLET_TOWARDS_SUPPLY = {
    "working": 0.03,
    "idle": 0.0,
    "leaking": 0.30,
    "failed_open": 0.60,
    "failed_closed": 0.0,
    "backed_up": 0.0,
    "air_bound": 0.0,
    "no_steam": 0.0,
}
"""How far past the return's share towards the supply's the outlet stands."""
OUTLET_TOWARDS_SUPPLY_DOUBT = {"usual": 0.15, "leaking": 0.25, "failed_open": 0.25}
"""How far a plant's own may lie from these. How far a jet warms the pipe behind it hangs on the
pipe and on the condensate that goes with it. Common practice, no source."""
OPEN_OVER_LEAKING = 0.10
"""Least that a blown trap's outlet is further on that way than a leaking one's: more steam through
it warms it more. Common practice, no source."""
OUTLET_SPREAD = {
    "working": 0.06,
    "idle": 0.09,
    "leaking": 0.06,
    "failed_open": 0.07,
    "failed_closed": 0.065,
    "backed_up": 0.055,
    "air_bound": 0.06,
    "no_steam": 0.06,
}
LOSING_SPREAD_LEAST = 0.7
"""Least spread of a leaking or blown trap's outlets, of a working trap's: steam holds them at the
return's own temperature, which what a working trap happens to discharge does not. Common practice,
no source."""
OUTLET_DOUBT = {
    "working": 0.05,
    "idle": 0.07,
    "leaking": 0.07,
    "failed_open": 0.08,
    "failed_closed": 0.08,
    "backed_up": 0.10,
    "air_bound": 0.12,
    "no_steam": 0.06,
}
OUTLET_WARMED = {"working": 0.10, "idle": 0.10, "leaking": 0.08}
"""Share of outlets that stand anywhere between a sound trap's own and the supply's: a neighbour
that has blown open warms the return that they share, and a jet warms its pipe more or less. Common
practice, no source; how many sound traps' returns are hot is the plant's own."""
OUTLET_WARMED_WEIGHT = 30.0
OUTLET_WARMED_MOST = 0.30
"""Sound traps that the usual share counts as, and the most that a round may bring it to."""
DEAD_OUTLET_MOST = 0.55
"""Most that the outlet of a trap that passes nothing may come to, of that of one that is backed
up: else a round of many backed-up traps would call the cooler ones failed closed. Common
practice, no source."""
TEMPERATURE_WEIGHT = 12.0
COOL_OUTLET_WEIGHT = 2.0
"""Units that the usual spread of a cool look's outlets counts as: how alike they stay hangs on the
plant's pipes more than anything here does. Common practice, no source."""
OUTLET_FOLLOWS = (0.30, 0.20)
"""Share of a hot inlet's miss that its outlet repeats: both are read on one pipe's surface, with
one hand, against one pressure. Common practice, no source; the round settles it."""
COOL_OUTLET_FOLLOWS = {
    "failed_closed": (0.20, 0.15),
    "backed_up": (0.80, 0.15),
    "air_bound": (0.60, 0.25),
    "no_steam": (0.50, 0.25),
}
"""The same for cool looks: an open trap has the same water before it and behind it, so that a
warmer inlet has a warmer outlet; a shut one has a dead pipe behind it whatever stands before."""
FOLLOWED_MOST = {"hot": 0.06, "cool": 0.30}
"""A miss past this is a wrong reading, which an outlet does not repeat."""

# -- thermometers and gauges ----------------------------------------------------------------
THERMOMETER_SHARE = {"contact": (0.970, 0.020), "infrared": (0.87, 0.13)}
"""Share of the way to saturation that a hot unit reads. Contact on bare steel reads a little
low (common practice, no source). Infrared: emissivity of rust 0.69, oil paint 0.94 (published
tables, Bramson; Wolfe; Thome 2008) spans about 0.75 to 0.97; galvanised or bare metal less."""
THERMOMETER_STATION_SPREAD = {"contact": 0.008, "infrared": 0.07}
GAUGE_WRONG = 0.10
"""Chance that a station's gauge is off enough to matter; common practice, no source."""

# -- sound, in dB over the round's usual background ------------------------------------------
SOURCE_SILENT_DB = (-8.0, 4.0)
SOURCE_WORKING_DB = {
    "float_thermostatic": (8.0, 5.0),
    "inverted_bucket": (9.0, 5.0),
    "thermodynamic": (11.0, 5.0),
    "thermostatic": (7.0, 5.0),
    "bimetallic": (7.0, 5.0),
    "fixed_orifice": (11.0, 5.0),
}
WORKING_DB_PER_DECADE = (7.0, 8.0)
"""A working trap's discharge is louder at a higher pressure difference; dB a decade of psi."""
WORKING_DB_PER_BORE_DECADE = (5.0, 4.0)
WORKING_DB_PER_BORE_DECADE_MOST = 18.0
"""A larger trap is there for more condensate; dB a decade of bore over `BORE_IN`. How far that is
heard hangs on how the plant's traps were sized: from not at all to nearly in step with the flow,
which would be 20 dB. Common practice, no source."""
WORKING_AT_PSI = 30.0
SOURCE_JET_DB = (26.0, 9.0)
"""Level of a jet of 10 lb/h over background; the round settles it."""
JET_OVER_WORKING_DB = (14.0, 9.0)
"""The same jet over a working trap's discharge; never under `JET_LEAST_OVER_WORKING_DB`, or
what the round calls leaking would be its quieter working traps."""
JET_LEAST_OVER_WORKING_DB = 4.0
JET_DB_PER_PSI_DECADE = (4.0, 2.0)
"""The same flow is louder at a higher pressure difference, dB a decade of psi over
`WORKING_AT_PSI`: more of a faster jet's power turns to sound (the form of the noise estimate in API
521, from memory; its size common practice, no source)."""
JET_DB_PER_DECADE = (10.0, 1.5)
"""Sound power in step with mass flow is 10 dB a decade; a meter's gain tilts it a little. Held
looser it sinks where blown traps pass for leaks, and then tells the two apart no more."""
SOUND_SPREAD_DB = {"silent": 3.0, "working": 4.0, "jet": 3.0}
SOUND_SPREAD_LEAST = {"silent": 0.4, "working": 0.5, "jet": 0.5}
SOUND_SPREAD_MOST = {"silent": 2.0, "working": 2.0, "jet": 1.0}
"""Least and most share of those spreads a round may move them to. A working trap's level hangs on
what it happens to discharge: held too close, the loud ones would pass for leaking. Jets that seem
to scatter wider are leaking and blown traps taken for one another, and a wider spread would keep
them so: the level then tells nothing of the opening."""
SOUND_WEIGHT = 10.0

# -- openings of a leaking and of a blown-open seat, shares of the full bore -------------------
OPENING_LEAKING = np.array([0.03, 0.06, 0.10, 0.15, 0.22, 0.31])
OPENING_LEAKING_WEIGHT = np.array([0.10, 0.17, 0.22, 0.24, 0.17, 0.10])
OPENING_OPEN = np.array([0.45, 0.60, 0.78, 0.95])
OPENING_OPEN_WEIGHT = np.array([0.08, 0.20, 0.37, 0.35])
"""Published tables price a blown trap at its full bore (DOE Steam Tip Sheet 1): most that no
longer close let near that through, less what is left of the seat in the way (common practice, no
source)."""

# -- what is heard, and what is seen ----------------------------------------------------------
CYCLING_TYPES = ("inverted_bucket", "thermodynamic", "thermostatic", "bimetallic")
"""Steady discharge is normal for the others: US Navy MO-209; a trade article of 2017."""
PATTERN_WEIGHT = 25.0
PATTERN_COOL = (0.84, 0.08, 0.04, 0.04)
PATTERN_STEADY = {
    "working": (0.05, 0.15, 0.34, 0.46),
    "idle": (0.74, 0.14, 0.04, 0.08),
    "leaking": (0.03, 0.10, 0.67, 0.20),
    "failed_open": (0.02, 0.03, 0.88, 0.07),
}
PATTERN_CYCLING = {
    "working": (0.05, 0.78, 0.06, 0.11),
    "idle": (0.74, 0.18, 0.03, 0.05),
    "leaking": (0.03, 0.22, 0.53, 0.22),
    "failed_open": (0.02, 0.04, 0.87, 0.07),
}
"""In the order of `columns.PATTERNS`: quiet, intermittent, continuous, modulating."""
PATTERN_WORKING = {
    "thermostatic": (0.08, 0.66, 0.07, 0.19),
    "bimetallic": (0.10, 0.56, 0.10, 0.24),
    "fixed_orifice": (0.04, 0.09, 0.52, 0.35),
}
"""Of working traps of the types that are heard otherwise than the others of their kind: what opens
slowly is also heard to modulate, and a fixed orifice never closes."""
PATTERN_TYPE_WEIGHT = 40.0
"""Units that what all types of a kind are heard as counts as, against one type's own."""
OBSERVED_WEIGHT = 12.0
OBSERVED = {
    "working": (0.08, 0.02, 0.84, 0.06),
    "idle": (0.40, 0.04, 0.53, 0.03),
    "leaking": (0.02, 0.02, 0.34, 0.62),
    "failed_open": (0.01, 0.01, 0.08, 0.90),
    "failed_closed": (0.78, 0.03, 0.17, 0.02),
    "backed_up": (0.20, 0.02, 0.76, 0.02),
    "air_bound": (0.34, 0.54, 0.10, 0.02),
    "no_steam": (0.90, 0.04, 0.04, 0.02),
}
"""In the order of `columns.OBSERVATIONS`: nothing, air, water, steam."""
VALVE_CLOSED_READ = 0.97
VALVE_CLOSED_MISREAD = 0.002
"""Share of open valves that are noted as closed; the round's traps that are hot behind one tell.
Common practice, no source."""
ABSENT_MISREAD = 0.001
"""Share of fitted devices that are noted as not fitted; traps with steam in them tell. Common
practice, no source."""
MISREAD_WEIGHT = 150.0
"""Traps that those two count as."""
MISREAD_MOST = 0.01
"""Most of either that a round may come to."""

# -- how often ---------------------------------------------------------------------------------
TRAP_RATES = {
    "working": 0.57,
    "working_idle": 0.17,
    "leaking": 0.11,
    "failed_open": 0.09,
    "failed_closed": 0.06,
}
"""15-30 % of traps fail in 3-5 years unattended, under 5 % under a programme: US DOE AMO
Steam Tip Sheet 1. Rounds are walked where nobody did for years; the round's own moves it. The split
between the kinds, and the share of working traps that have next to nothing to discharge while they
are read, are common practice, no source."""
TRAP_RATES_WEIGHT = 100.0

# -- bores ---------------------------------------------------------------------------------------
BORE_IN = 0.150
"""Where neither the row nor its like in the round gives one: between 1/8 and 3/16 in."""
BORE_LOG_SPREAD = 0.10
"""A recorded bore may be the wrong one; as a share of the flow."""
BORE_UNKNOWN_LOG_SPREAD = 0.6
COEFFICIENT_LOG_SPREAD = 0.09
"""Published discharge coefficients span 0.57 to 0.73 about 0.65."""
DRY_SHARE = 0.82
DRY_SHARE_LOG_SPREAD = 0.12
"""Share of the opening that live steam, not condensate, passes; common practice, no source."""


IS_CYCLING = np.array([t in CYCLING_TYPES for t in TRAP_TYPES])
assert len(PATTERNS) == len(PATTERN_COOL)
assert len(OBSERVATIONS) == len(OBSERVED["working"])
