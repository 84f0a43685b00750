"""What to read on each device at the next round, the reading that tells most first."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd

from survey.columns import DEVICES, INPUT_COLUMNS, TRAP_STATES
from survey.diagnosis.hypotheses import HYPOTHESES, STATE_OF
from survey.diagnosis.intake import take_in
from survey.diagnosis.model import Model
from survey.diagnosis.rows import conditions
from survey.diagnosis.settle import READING_WORDS, telling_bits
from survey.diagnosis.sound_levels import jet_flow_lb_per_h
from survey.plant.units import numbers_of, text_of
from survey.site import Site

COLUMNS_OF_READING = {
    "inlet": ("inlet_temp_f",),
    "outlet": ("outlet_temp_f",),
    "sound": ("sound_db", "background_db"),
    "pattern": ("sound_pattern",),
    "observed": ("observed",),
    "valve": ("valve_position",),
}
COMPANION_COLUMNS = {
    "air_vent": ("valve_position", "inlet_temp_f", "outlet_temp_f", "observed", "sound_db",
                 "background_db", "present"),
    "vacuum_breaker": ("present", "valve_position", "observed", "inlet_temp_f", "outlet_temp_f",
                       "sound_db", "background_db"),
    "check_valve": ("inlet_temp_f", "outlet_temp_f", "sound_db", "background_db",
                    "sound_pattern", "present"),
}  # fmt: skip
"""Order of reading a trap's companions: common practice, no source."""
ALWAYS_LAST = ("supply_psig", "return_psig", "ambient_f")
LEAST_NEW_FAILURE = 0.05
"""However sure the last verdict was, this much is open again at the next visit."""
# A good trap, then each way to fail, as shares of what is open again; where it goes is a guess.
_OPEN_AGAIN = np.array([0.2, 0.25, 0.25, 0.1, 0.1, 0.1])
_READINGS = ("inlet_temp_f", "outlet_temp_f", "sound_db")
_CHOICES = ("sound_pattern", "observed", "valve_position")


def columns_to_read(findings: pd.DataFrame, *, site: Site) -> list[tuple[str, ...]]:
    """Return the columns to read on each device, the one that tells most first.

    Parameters
    ----------
    findings
        A findings table: its last verdict is what a reading has to add to.
    site
        Altitude and stations.

    Notes
    -----
    A trap's readings go by what each is expected to tell about its state (mutual information),
    with nothing read yet and the last verdict fading. Its companions go by custom.
    """
    kind = text_of(findings, "device")
    kind = np.where(np.isin(kind, DEVICES), kind, "trap")
    traps = kind == "trap"
    by_trap = _trap_columns(findings.loc[traps], site)
    result: list[tuple[str, ...]] = []
    for name in kind:
        own = next(by_trap) if name == "trap" else COMPANION_COLUMNS[str(name)]
        result.append((*own, *ALWAYS_LAST))
    return result


def _trap_columns(traps: pd.DataFrame, site: Site) -> Iterator[tuple[str, ...]]:
    if not len(traps):
        return iter(())
    names = [name for name in READING_WORDS if name in COLUMNS_OF_READING]
    bits = _bits(traps, site)[:, [name in COLUMNS_OF_READING for name in READING_WORDS]]
    orders = np.argsort(-bits, axis=1, kind="stable")
    return iter(
        tuple(column for place in order for column in COLUMNS_OF_READING[names[place]])
        for order in orders
    )


def _bits(traps: pd.DataFrame, site: Site) -> np.ndarray:
    rows = take_in(_unread(traps), site).rows
    at = conditions(rows, gauge_shift_psi=np.zeros(len(rows)), site=site)
    bits = telling_bits(Model(), rows, at, jet_flow_lb_per_h(rows, at), _chance(traps))
    # Where no pressure is known, what a temperature tells cannot be reckoned: it tells usually.
    usual = float(np.nanmedian(bits)) if np.isfinite(bits).any() else 0.0
    return np.asarray(np.nan_to_num(bits, nan=usual))


def _unread(traps: pd.DataFrame) -> pd.DataFrame:
    """Return the traps as a tidy table with its readings taken out, pressures kept."""
    columns: dict[str, np.ndarray] = {}
    for column in INPUT_COLUMNS:
        if column.kind == "number":
            blank = column.name in _READINGS
            columns[column.name] = (
                np.full(len(traps), np.nan) if blank else numbers_of(traps, column.name)
            )
        else:
            text = text_of(traps, column.name)
            # Findings written by hand may hold any word: one that is no choice says nothing.
            unknown = ~np.isin(text, column.choices) if column.choices else text == ""
            text[unknown | (column.name in _CHOICES)] = None
            columns[column.name] = text
    columns["device"] = np.full(len(traps), "trap", dtype=object)
    return pd.DataFrame(columns).reset_index(drop=True)


def _chance(traps: pd.DataFrame) -> np.ndarray:
    """Return the chance of each hypothesis at the next visit, (traps, hypotheses)."""
    states = np.stack([numbers_of(traps, f"p_{name}") for name in TRAP_STATES], axis=1)
    states = np.where(np.isnan(states).any(axis=1, keepdims=True), _OPEN_AGAIN, states)
    states = states / np.maximum(states.sum(axis=1, keepdims=True), 1e-9)
    states = (1.0 - LEAST_NEW_FAILURE) * states + LEAST_NEW_FAILURE * _OPEN_AGAIN
    sharing = np.bincount(STATE_OF, minlength=len(TRAP_STATES))
    assert len(STATE_OF) == len(HYPOTHESES)
    return np.asarray(states[:, STATE_OF] / sharing[STATE_OF])
