"""A table of readings as plain arrays: the form every weighing works on."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np
import pandas as pd

from survey.columns import INPUT_BY_NAME
from survey.physics.saturation import saturation_f
from survey.physics.units import absolute_psia
from survey.site import Site

MISSING = -1
LEAST_SPAN_F = 15.0
"""Saturation less air, °F: under this a temperature tells nothing about steam."""


@dataclass(frozen=True)
class Rows:
    """Readings of n devices. Floats are NaN where missing, codes are -1.

    Codes index the choices of their column in `columns.INPUT_COLUMNS`; `station` and
    `equipment` index the round's own lists. ``by_shared_pipe`` is whether a trap's outlet was read
    at the inlet of the check valve behind it, or that inlet at the trap: both are on one pipe.
    """

    device: np.ndarray
    trap_type: np.ndarray
    service: np.ndarray
    thermometer: np.ndarray
    pattern: np.ndarray
    valve: np.ndarray
    observed: np.ndarray
    present: np.ndarray
    station: np.ndarray
    equipment: np.ndarray
    inlet_f: np.ndarray
    outlet_f: np.ndarray
    ambient_f: np.ndarray
    supply_psig: np.ndarray
    return_psig: np.ndarray
    sound_db: np.ndarray
    background_db: np.ndarray
    orifice_in: np.ndarray
    lift_ft: np.ndarray
    by_shared_pipe: np.ndarray

    def __len__(self) -> int:
        """Return the number of devices."""
        return len(self.device)

    def take(self, index: np.ndarray | slice) -> Rows:
        """Return the rows that an index, a mask or a slice picks."""
        return Rows(*(getattr(self, name)[index] for name in _READINGS))

    def on(self, equipment: np.ndarray) -> Rows:
        """Return the same readings with other equipment codes."""
        return replace(self, equipment=equipment)

    def of_type(self, code: int) -> Rows:
        """Return the same readings as if every trap were of one type."""
        return replace(self, trap_type=np.full(len(self), code, dtype=np.int8))


@dataclass(frozen=True)
class Conditions:
    """What the pressures make of each row, after the gauge's correction.

    Parameters
    ----------
    supply_psia, return_psia
        Absolute pressures, (n,); NaN where nothing gives one.
    saturation_f, return_saturation_f
        Saturation temperatures at them, °F, (n,).
    span_f
        Saturation less air, °F; NaN where too small to tell anything.
    return_share
        Where the return's saturation lies on the way from air to supply saturation, 0..1.
    """

    supply_psia: np.ndarray
    return_psia: np.ndarray
    saturation_f: np.ndarray
    return_saturation_f: np.ndarray
    span_f: np.ndarray
    return_share: np.ndarray

    def take(self, index: np.ndarray | slice) -> Conditions:
        """Return the conditions of the rows that an index, a mask or a slice picks."""
        return Conditions(*(getattr(self, name)[index] for name in _CONDITIONS))


_READINGS = tuple(f.name for f in fields(Rows))
_CONDITIONS = tuple(f.name for f in fields(Conditions))


def codes(column: pd.Series, name: str) -> np.ndarray:
    """Return the codes of a choice column, -1 where missing."""
    choices = list(INPUT_BY_NAME[name].choices)
    if not isinstance(column.dtype, pd.CategoricalDtype):
        column = column.astype("object").astype(pd.CategoricalDtype(choices))
    elif list(column.cat.categories) != choices:
        column = column.cat.set_categories(choices)
    return column.cat.codes.to_numpy(dtype=np.int8)


def conditions(rows: Rows, *, gauge_shift_psi: np.ndarray, site: Site) -> Conditions:
    """Turn gauge pressures into saturation temperatures.

    Parameters
    ----------
    gauge_shift_psi
        What to add to each row's supply gauge, psi, (n,).
    """
    supply = absolute_psia(
        gauge_psig=rows.supply_psig + gauge_shift_psi, altitude_ft=site.altitude_ft
    )
    back = absolute_psia(gauge_psig=rows.return_psig, altitude_ft=site.altitude_ft)
    hot, back_hot = saturation_f(pressure_psia=supply), saturation_f(pressure_psia=back)
    span = hot - rows.ambient_f
    span = np.where(span >= LEAST_SPAN_F, span, np.nan)
    with np.errstate(invalid="ignore"):
        share = np.clip((back_hot - rows.ambient_f) / span, 0.0, 1.0)
    return Conditions(supply, back, hot, back_hot, span, share)
