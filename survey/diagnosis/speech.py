"""Evidence in words: the readings that decided, as odds, and what speaks against."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from survey.columns import DEVICES, OBSERVATIONS, PATTERNS, STATES_BY_DEVICE
from survey.diagnosis.hypotheses import HYPOTHESES
from survey.diagnosis.rows import Conditions, Rows

STATE_WORDS = {
    "working": "working",
    "leaking": "leaking",
    "failed_open": "blown open",
    "failed_closed": "failed closed",
    "backed_up": "backed up",
    "cold": "cold",
    "isolated": "isolated",
    "missing": "missing",
    "passing_water": "passing water",
    "stuck": "stuck",
    "passing_back": "passing back",
}
HYPOTHESIS_WORDS = {
    "working": "working",
    "working_idle": "working with little to discharge",
    "leaking": "leaking",
    "failed_open": "blown open",
    "failed_closed": "failed closed",
    "backed_by_check": "backed up behind its check valve",
    "backed_by_lift": "backed up by its lift",
    "backed_unexplained": "backed up, cause not seen",
    "cold_by_vent": "cold for want of venting",
    "cold_by_valve": "valved off",
    "cold_unexplained": "without steam, cause not seen",
}
PATTERN_WORDS = {
    "quiet": "it is quiet",
    "intermittent": "its sound comes and goes",
    "continuous": "it hisses without a pause",
    "modulating": "its sound rises and falls",
}
OBSERVED_WORDS = {
    "nothing": "nothing came out when it was opened or watched",
    "air": "air came out when it was opened or watched",
    "water": "water came out when it was opened or watched",
    "steam": "steam came out when it was opened or watched",
}
LEAST_NATS = 0.35
"""A reading that moves the odds by less than this, natural log, is not worth a word."""
MOST_ODDS = 1000


@dataclass(frozen=True)
class Told:
    """What the words are made from: readings as read and as corrected, and conditions."""

    rows: Rows
    corrected: Rows
    state: Conditions
    background_db: np.ndarray
    background_known: np.ndarray


def odds_words(nats: float) -> str:
    """Return odds from a natural log: '40 to 1', 'even', 'over 1,000 to 1'."""
    odds = float(np.exp(min(abs(nats), 20.0)))
    if odds < 1.2:
        return "about even"
    if odds > MOST_ODDS:
        return f"over {MOST_ODDS:,} to 1"
    return (
        f"{odds:.2g} to 1" if odds < 10 else f"{round(odds, 1 - len(str(int(odds))) + 1):,.0f} to 1"
    )


def decided(parts: dict[str, float], clause: Callable[[str], str], first: str, second: str) -> str:
    """Say what decided between two explanations.

    Parameters
    ----------
    parts
        Natural log of how much each reading favours the first over the second.
    clause
        Makes words of a reading by its name.
    first, second
        The explanations in words.
    """
    for_it = sorted((p for p in parts.items() if p[1] >= LEAST_NATS), key=lambda p: -p[1])[:3]
    against = sorted((p for p in parts.items() if p[1] <= -LEAST_NATS), key=lambda p: p[1])[:1]
    total = sum(parts.values())
    lead = "; ".join(clause(name) for name, _ in for_it) or "No one reading decides it"
    words = f"{lead[0].upper()}{lead[1:]}: {odds_words(total)} for {first} over {second}."
    if against:
        name, nats = against[0]
        words += f" Against: {clause(name)} ({odds_words(nats)} the other way)."
    return words


def trap_clause(told: Told, row: int, upstream: str) -> Callable[[str], str]:
    """Return words for each of a trap's readings.

    Parameters
    ----------
    upstream
        What is known of the row's vent, check valve and lift, in words.
    """
    rows, state = told.rows, told.state
    makers: dict[str, Callable[[], str]] = {
        "inlet": lambda: _inlet(told, row),
        "outlet": lambda: _outlet(told, row),
        "sound": lambda: _sound(told, row),
        "pattern": lambda: PATTERN_WORDS[PATTERNS[rows.pattern[row]]],
        "observed": lambda: OBSERVED_WORDS[OBSERVATIONS[rows.observed[row]]],
        "valve": lambda: f"its isolating valve reads {('open', 'closed')[rows.valve[row]]}",
        "present": lambda: f"it is {('fitted', 'not fitted')[rows.present[row]]}",
        "upstream": lambda: upstream,
        "usual": lambda: "how common each is",
    }
    assert len(state.span_f) == len(rows)
    return lambda name: makers[name]()


def _inlet(told: Told, row: int) -> str:
    rows, state = told.rows, told.state
    read = rows.inlet_f[row]
    if np.isnan(state.span_f[row]):
        return f"its inlet reads {read:.0f} °F"
    way = (told.corrected.inlet_f[row] - rows.ambient_f[row]) / state.span_f[row]
    return (
        f"its inlet reads {read:.0f} °F, {100 * max(way, 0.0):.0f} % of the way to saturation "
        f"({state.saturation_f[row]:.0f} °F)"
    )


def _outlet(told: Told, row: int) -> str:
    return (
        f"its outlet reads {told.rows.outlet_f[row]:.0f} °F "
        f"(the return's saturation is {told.state.return_saturation_f[row]:.0f} °F)"
    )


def _sound(told: Told, row: int) -> str:
    level = told.rows.sound_db[row]
    over = level - told.background_db[row]
    if told.background_known[row]:
        return f"it sounds {level:.0f} dB, {over:+.0f} dB on its background"
    return f"it sounds {level:.0f} dB, {over:+.0f} dB on the round's usual background"


def _likely(chance: float) -> str:
    return "is likely" if chance >= 0.5 else "may be"


def upstream_words(hypothesis: int, *, shut: float, stuck: float, short_psi: float) -> str:
    """Say what bears on a trap from outside it, for the explanation that leads."""
    cause = HYPOTHESES[hypothesis].cause
    if cause == "air_vent":
        return f"its air vent {_likely(shut)} shut or missing ({100 * shut:.0f} %)"
    if cause == "check_valve":
        return f"a check valve {_likely(stuck)} stuck or passing back ({100 * stuck:.0f} %)"
    if cause == "lift":
        return f"its lift wants {short_psi:.0f} psi more than there is"
    if cause == "valved_off":
        return "no steam reaches it"
    if not np.isnan(short_psi) and short_psi < 0:
        return f"its lift has {-short_psi:.0f} psi to spare"
    return "nothing upstream speaks for another cause"


def device_words(device: int, state: int) -> str:
    """Return a device's state in words."""
    return STATE_WORDS[STATES_BY_DEVICE[DEVICES[device]][state]]
