"""From a tidy table to arrays: gaps filled from the station, the site, or the row's like."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc

from survey.columns import DEVICES
from survey.diagnosis.equipment import PlaceNames, equipment_codes
from survey.diagnosis.gaps import NO_STATION, Gaps, find_gaps, lifts, valves
from survey.diagnosis.rows import Rows, codes
from survey.site import Site

SAME_AIR_F = 15.0
"""How far the air at two rows may be noted apart for a pipe of both to be read at either. Common
practice, no source."""


@dataclass(frozen=True)
class Intake:
    """A round as arrays, and what its codes stand for.

    Parameters
    ----------
    rows
        The readings; station and equipment codes are never missing.
    gaps
        What its gaps were filled with; its stations name the station codes.
    equipment_count
        Number of equipment codes; a row that names none has one of its own.
    bore_given, pressure_given, return_given
        Whether the row itself gave its bore; whether row, site or station gave its supply
        and its return pressure.
    """

    rows: Rows
    gaps: Gaps
    equipment_count: int
    bore_given: np.ndarray
    pressure_given: np.ndarray
    return_given: np.ndarray


def take_in(
    table: pd.DataFrame,
    site: Site,
    gaps: Gaps | None = None,
    equipment: np.ndarray | None = None,
) -> Intake:
    """Make arrays of a tidy table; raises nothing, every gap is allowed.

    Parameters
    ----------
    gaps
        What the whole round fills its gaps with, where the table is a batch of it.
    equipment
        Equipment code of each row in the whole round, (n,), where the table is a batch of it.
    """
    gaps = find_gaps(table, site) if gaps is None else gaps
    station = _station_codes(table, gaps.stations)
    supply = _filled(table["supply_psig"], gaps.given["supply_psig"][station])
    back = _filled(table["return_psig"], gaps.given["return_psig"][station])
    held = codes(table["thermometer"], "thermometer")
    trap_type = codes(table["trap_type"], "trap_type")
    ambient = table["ambient_f"].to_numpy(dtype=float)
    bore = table["orifice_in"].to_numpy(dtype=float)
    if equipment is None:
        equipment = equipment_codes(PlaceNames.of(table))
    equipment, found = pd.factorize(equipment)
    rows = Rows(
        device=codes(table["device"], "device"),
        trap_type=trap_type,
        service=codes(table["service"], "service"),
        thermometer=np.where(held >= 0, held, gaps.thermometer[station]).astype(np.int8),
        pattern=codes(table["sound_pattern"], "sound_pattern"),
        valve=valves(table, gaps),
        observed=codes(table["observed"], "observed"),
        present=codes(table["present"], "present"),
        station=station,
        equipment=equipment.astype(np.int32),
        inlet_f=table["inlet_temp_f"].to_numpy(dtype=float),
        outlet_f=table["outlet_temp_f"].to_numpy(dtype=float),
        ambient_f=np.where(np.isnan(ambient), gaps.ambient_f, ambient),
        supply_psig=np.where(np.isnan(supply), gaps.taken_psig[station], supply),
        return_psig=np.where(np.isnan(back), 0.0, back),
        sound_db=table["sound_db"].to_numpy(dtype=float),
        background_db=table["background_db"].to_numpy(dtype=float),
        orifice_in=np.where(np.isnan(bore), gaps.bore_in[trap_type], bore),
        lift_ft=lifts(table, gaps),
        by_shared_pipe=np.zeros(len(table), dtype=bool),
    )
    return Intake(
        rows=_with_shared_pipes(rows),
        gaps=gaps,
        equipment_count=len(found),
        bore_given=~np.isnan(bore),
        pressure_given=_own_or_set(table, site, gaps, station),
        return_given=~np.isnan(back),
    )


def _with_shared_pipes(rows: Rows) -> Rows:
    """Return the rows with the pipe between a trap and its check valve read at either of them.

    A trap's outlet that was not read is what was read before its check valve; and what stands
    before a check valve that was read behind alone is its trap's outlet. Where a heater has several
    of either it is not known whose is whose, and what was read with another thermometer, or in
    other air, is not read as its own.
    """
    trap, check = (rows.device == DEVICES.index(name) for name in ("trap", "check_valve"))
    count = int(rows.equipment.max(initial=-1)) + 1
    alone = np.ones(count, dtype=bool)
    for kind in (trap, check):
        alone &= np.bincount(rows.equipment[kind], minlength=count) == 1
    trap, check = np.flatnonzero(trap), np.flatnonzero(check)
    place = np.full(count, -1)
    place[rows.equipment[check]] = check
    trap = trap[alone[rows.equipment[trap]]]
    check = place[rows.equipment[trap]]
    alike = np.abs(rows.ambient_f[trap] - rows.ambient_f[check]) <= SAME_AIR_F
    for code in (rows.thermometer, rows.station):
        alike &= code[trap] == code[check]
    trap, check = trap[alike], check[alike]
    behind, before = rows.outlet_f[trap], rows.inlet_f[check]
    taken = np.isnan(behind) & ~np.isnan(before)
    lent = np.isnan(before) & ~np.isnan(behind) & ~np.isnan(rows.outlet_f[check])
    inlet, outlet, shared = (values.copy() for values in (
        rows.inlet_f, rows.outlet_f, rows.by_shared_pipe
    ))  # fmt: skip
    outlet[trap[taken]] = before[taken]
    inlet[check[lent]] = behind[lent]
    shared[trap[taken]] = shared[check[lent]] = True
    return replace(rows, inlet_f=inlet, outlet_f=outlet, by_shared_pipe=shared)


def _station_codes(table: pd.DataFrame, stations: list[str]) -> np.ndarray:
    # Cast: a column of blanks alone is of no type, and may be of numbers.
    named = pa.array(table["station"], from_pandas=True).cast(pa.large_string())
    named = named.fill_null(NO_STATION)
    code = pc.index_in(named, value_set=pa.array(stations, type=pa.large_string()))
    assert not code.null_count, "a batch names a station that its round does not"
    return np.asarray(code.to_numpy(), dtype=np.int32)


def _own_or_set(table: pd.DataFrame, site: Site, gaps: Gaps, station: np.ndarray) -> np.ndarray:
    """Return which rows have a supply pressure of their own or of the site's station, (n,)."""
    own = table["supply_psig"].notna().to_numpy()
    stations = [site.stations.get(name) for name in gaps.stations]
    is_set = np.array([s is not None and s.supply_psig is not None for s in stations], dtype=bool)
    return np.asarray(own | is_set[station])


def _filled(column: pd.Series, otherwise: np.ndarray) -> np.ndarray:
    values = column.to_numpy(dtype=float)
    return np.where(np.isnan(values), otherwise, values)
