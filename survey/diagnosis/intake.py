"""From a tidy table to arrays: gaps filled from the station, the site, or the row's like."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from survey.columns import TRAP_TYPES
from survey.diagnosis import priors
from survey.diagnosis.rows import MISSING, Rows, codes
from survey.diagnosis.unread_pressure import pressure_of_hot_inlets_psig
from survey.site import Site

NO_STATION = ""


@dataclass(frozen=True)
class Intake:
    """A round as arrays, and what its codes stand for.

    Parameters
    ----------
    rows
        The readings; station and equipment codes are never missing.
    stations
        Name of each station code, `NO_STATION` for rows that name none.
    equipment_count
        Number of equipment codes; a row that names none has one of its own.
    equipment_key
        A hash of each equipment's name, or of its tag where it has none, (equipment_count,).
    bore_given, pressure_given, return_given
        Whether the row itself gave its bore; whether row, site or station gave its supply
        and its return pressure.
    """

    rows: Rows
    stations: list[str]
    equipment_count: int
    equipment_key: np.ndarray
    bore_given: np.ndarray
    pressure_given: np.ndarray
    return_given: np.ndarray


def take_in(table: pd.DataFrame, site: Site) -> Intake:
    """Make arrays of a tidy table; raises nothing, every gap is allowed."""
    station, stations = _stations(table["station"])
    supply, given = _pressures(table["supply_psig"], station, stations, site, "supply_psig")
    supply = _off_hot_inlets(supply, station, table, site)
    back, back_given = _pressures(table["return_psig"], station, stations, site, "return_psig")
    trap_type = codes(table["trap_type"], "trap_type")
    ambient = table["ambient_f"].to_numpy(dtype=float)
    bore = table["orifice_in"].to_numpy(dtype=float)
    equipment, count = _equipment(table)
    key = _equipment_key(table, equipment, count)
    rows = Rows(
        device=codes(table["device"], "device"),
        trap_type=trap_type,
        service=codes(table["service"], "service"),
        thermometer=codes(table["thermometer"], "thermometer"),
        pattern=codes(table["sound_pattern"], "sound_pattern"),
        valve=codes(table["valve_position"], "valve_position"),
        observed=codes(table["observed"], "observed"),
        present=codes(table["present"], "present"),
        station=station,
        equipment=equipment,
        inlet_f=table["inlet_temp_f"].to_numpy(dtype=float),
        outlet_f=table["outlet_temp_f"].to_numpy(dtype=float),
        ambient_f=np.where(np.isnan(ambient), _middle(ambient, site.ambient_f), ambient),
        supply_psig=supply,
        return_psig=np.where(np.isnan(back), 0.0, back),
        sound_db=table["sound_db"].to_numpy(dtype=float),
        background_db=table["background_db"].to_numpy(dtype=float),
        orifice_in=_bores(bore, trap_type),
        lift_ft=table["lift_ft"].to_numpy(dtype=float),
    )
    return Intake(rows, stations, count, key, ~np.isnan(bore), given, back_given)


def _middle(values: np.ndarray, otherwise: float) -> float:
    known = values[~np.isnan(values)]
    return float(np.median(known)) if len(known) else otherwise


def _stations(column: pd.Series) -> tuple[np.ndarray, list[str]]:
    code, names = pd.factorize(column.astype("str").where(column.notna(), NO_STATION), sort=True)
    return code.astype(np.int32), [str(name) for name in names]


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


def _pressures(
    column: pd.Series,
    station: np.ndarray,
    stations: list[str],
    site: Site,
    name: str,
) -> tuple[np.ndarray, np.ndarray]:
    """Fill a pressure from the site's station, else the station's middle, else the round's."""
    values = column.to_numpy(dtype=float)
    by_site = np.array([_set_pressure(site, place, name) for place in stations], dtype=float)
    filled = np.where(np.isnan(values), by_site[station], values)
    middle = pd.Series(values).groupby(station).median()
    by_middle = middle.reindex(range(len(stations))).to_numpy(dtype=float)
    filled = np.where(np.isnan(filled), by_middle[station], filled)
    given = ~np.isnan(filled)
    return filled, given


def _off_hot_inlets(
    supply: np.ndarray, station: np.ndarray, table: pd.DataFrame, site: Site
) -> np.ndarray:
    """Fill what neither row nor site gives from the station's hot inlets, else from the round."""
    if not np.isnan(supply).any():
        return supply
    ambient = table["ambient_f"].to_numpy(dtype=float)
    readings = {
        "device": codes(table["device"], "device"),
        "inlet_f": table["inlet_temp_f"].to_numpy(dtype=float),
        "ambient_f": np.where(np.isnan(ambient), _middle(ambient, site.ambient_f), ambient),
        "thermometer": codes(table["thermometer"], "thermometer"),
    }
    result = supply.copy()
    for place in np.unique(station[np.isnan(supply)]):
        mine = station == place
        part = {name: values[mine] for name, values in readings.items()}
        found = pressure_of_hot_inlets_psig(**part, altitude_ft=site.altitude_ft)
        result[mine & np.isnan(result)] = found
    return np.where(np.isnan(result), _middle(supply, float("nan")), result)


def _set_pressure(site: Site, station: str, name: str) -> float:
    if station not in site.stations:
        return float("nan")
    value = getattr(site.stations[station], name)
    return float("nan") if value is None else float(value)


def _bores(bore: np.ndarray, trap_type: np.ndarray) -> np.ndarray:
    """Fill a bore from the middle one of the same type in the round."""
    result = bore.copy()
    for code in (*range(len(TRAP_TYPES)), MISSING):
        mine = trap_type == code
        middle = _middle(bore[mine], _middle(bore, priors.BORE_IN))
        result[mine & np.isnan(bore)] = middle
    return result
