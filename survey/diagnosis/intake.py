"""From a tidy table to arrays: gaps filled from the station, the site, or the row's like."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from survey.diagnosis.gaps import Gaps, find_gaps, station_names
from survey.diagnosis.rows import Rows, codes
from survey.site import Site


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
    equipment_key
        A hash of each equipment's name, or of its tag where it has none, (equipment_count,).
    bore_given, pressure_given, return_given
        Whether the row itself gave its bore; whether row, site or station gave its supply
        and its return pressure.
    """

    rows: Rows
    gaps: Gaps
    equipment_count: int
    equipment_key: np.ndarray
    bore_given: np.ndarray
    pressure_given: np.ndarray
    return_given: np.ndarray


def take_in(table: pd.DataFrame, site: Site, gaps: Gaps | None = None) -> Intake:
    """Make arrays of a tidy table; raises nothing, every gap is allowed.

    Parameters
    ----------
    gaps
        What the whole round fills its gaps with, where the table is a batch of it.
    """
    gaps = find_gaps(table, site) if gaps is None else gaps
    station = _station_codes(table, gaps.stations)
    supply = _filled(table["supply_psig"], gaps.given["supply_psig"][station])
    back = _filled(table["return_psig"], gaps.given["return_psig"][station])
    held = codes(table["thermometer"], "thermometer")
    trap_type = codes(table["trap_type"], "trap_type")
    ambient = table["ambient_f"].to_numpy(dtype=float)
    bore = table["orifice_in"].to_numpy(dtype=float)
    equipment, count = _equipment(table)
    key = _equipment_key(table, equipment, count)
    rows = Rows(
        device=codes(table["device"], "device"),
        trap_type=trap_type,
        service=codes(table["service"], "service"),
        thermometer=np.where(held >= 0, held, gaps.thermometer[station]).astype(np.int8),
        pattern=codes(table["sound_pattern"], "sound_pattern"),
        valve=codes(table["valve_position"], "valve_position"),
        observed=codes(table["observed"], "observed"),
        present=codes(table["present"], "present"),
        station=station,
        equipment=equipment,
        inlet_f=table["inlet_temp_f"].to_numpy(dtype=float),
        outlet_f=table["outlet_temp_f"].to_numpy(dtype=float),
        ambient_f=np.where(np.isnan(ambient), gaps.ambient_f, ambient),
        supply_psig=np.where(np.isnan(supply), gaps.taken_psig[station], supply),
        return_psig=np.where(np.isnan(back), 0.0, back),
        sound_db=table["sound_db"].to_numpy(dtype=float),
        background_db=table["background_db"].to_numpy(dtype=float),
        orifice_in=np.where(np.isnan(bore), gaps.bore_in[trap_type], bore),
        lift_ft=table["lift_ft"].to_numpy(dtype=float),
    )
    return Intake(
        rows=rows,
        gaps=gaps,
        equipment_count=count,
        equipment_key=key,
        bore_given=~np.isnan(bore),
        pressure_given=_own_or_set(table, site, gaps, station),
        return_given=~np.isnan(back),
    )


def _station_codes(table: pd.DataFrame, stations: list[str]) -> np.ndarray:
    column = pd.Categorical(station_names(table), categories=stations)
    assert (column.codes >= 0).all(), "a batch names a station that its round does not"
    return column.codes.astype(np.int32)


def _own_or_set(table: pd.DataFrame, site: Site, gaps: Gaps, station: np.ndarray) -> np.ndarray:
    """Return which rows have a supply pressure of their own or of the site's station, (n,)."""
    own = table["supply_psig"].notna().to_numpy()
    stations = [site.stations.get(name) for name in gaps.stations]
    is_set = np.array([s is not None and s.supply_psig is not None for s in stations], dtype=bool)
    return np.asarray(own | is_set[station])


def _filled(column: pd.Series, otherwise: np.ndarray) -> np.ndarray:
    values = column.to_numpy(dtype=float)
    return np.where(np.isnan(values), otherwise, values)


def _equipment(table: pd.DataFrame) -> tuple[np.ndarray, int]:
    """Code the equipment; one name used in several areas is as many heaters."""
    name, area = table["equipment"], table["area"]
    place, _ = pd.factorize(area)
    code, _ = pd.factorize(name)
    only = _only_place(code, place)
    place = np.where((place < 0) & (code >= 0), only[code], place)
    width = int(place.max(initial=0)) + 2
    combined = code.astype(np.int64) * width + place + 1
    nameless = np.flatnonzero(code < 0)
    # Codes below zero are free, as no real one is: each nameless row gets its own.
    combined[nameless] = -1 - np.arange(len(nameless))
    dense, found = pd.factorize(combined)
    return dense.astype(np.int32), len(found)


def _equipment_key(table: pd.DataFrame, equipment: np.ndarray, count: int) -> np.ndarray:
    names = table["equipment"].where(table["equipment"].notna(), table["tag"])
    names = names.astype(object) + "\n" + table["area"].fillna("").astype(object)
    each = pd.util.hash_array(names.to_numpy(dtype=object), categorize=True)
    key = np.full(count, np.iinfo(np.uint64).max, dtype=np.uint64)
    np.minimum.at(key, equipment, each)
    return key


def _only_place(code: np.ndarray, place: np.ndarray) -> np.ndarray:
    """Return the place of each equipment name that is used in one place only, else -1."""
    # One more than there are names, so that a row without one, code -1, finds -1 at the end.
    first = np.full(int(code.max(initial=-1)) + 2, -1)
    known = (code >= 0) & (place >= 0)
    first[code[known]] = place[known]
    elsewhere = known & (first[code] != place)
    first[code[elsewhere]] = -1
    return first
