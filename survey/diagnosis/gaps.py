"""What a round fills its gaps with: found once over the whole round, the same for every batch."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from survey.columns import DEVICES, THERMOMETERS, TRAP_TYPES, VALVE_POSITIONS
from survey.diagnosis import priors
from survey.diagnosis.rows import MISSING, codes
from survey.diagnosis.unread_pressure import pressure_of_hot_inlets_psig
from survey.site import Site

NO_STATION = ""
WARM_F = 130.0
"""No pipe with steam in it reads this little, on bare metal with an infrared gun neither, °F."""
LEAST_OFF = 3
"""Cold traps from which a station's steam is taken to be off; one or two may be its only faults."""
LEAST_NOTED = 3
"""Valves written down as closed, and none as open, before a blank is taken for an open one; lifts
written down, and none as 0, before a blank is taken for no lift."""
_CLOSED, _OPEN = VALVE_POSITIONS.index("closed"), VALVE_POSITIONS.index("open")
PRESSURES = ("supply_psig", "return_psig")


@dataclass(frozen=True)
class Gaps:
    """What stands in for a reading that a row does not have.

    Parameters
    ----------
    stations
        Names of the round's stations, sorted; `NO_STATION` for rows that name none.
    given
        Gauge pressure of each station by name of `PRESSURES`: the site's, else the middle of
        the station's own rows; NaN where there is neither. (stations,) each.
    taken_psig
        Supply pressure to use where none is given: off the station's hot inlets, else the
        middle of the whole round. (stations,); may be NaN.
    ambient_f
        Middle of the round's air temperatures, else the site's.
    bore_in
        Middle bore of each trap type, the last one for an unknown type. (types + 1,)
    thermometer
        Code of the thermometer each station was mostly read with, else the round; -1 where
        the round names none. (stations,)
    listed
        Kinds of device that the round lists at all.
    """

    stations: list[str]
    given: dict[str, np.ndarray]
    taken_psig: np.ndarray
    ambient_f: float
    bore_in: np.ndarray
    thermometer: np.ndarray
    listed: frozenset[str]
    off: np.ndarray
    """Stations where no trap's inlet is warm, though several were read: their steam is off."""
    blank_is_open: np.ndarray
    """Kinds of device, by code, whose valves the round writes down only where they are closed."""
    blank_is_no_lift: bool
    """Whether the round writes down a lift only where a trap has one."""


def find_gaps(table: pd.DataFrame, site: Site) -> Gaps:
    """Find what fills the gaps of a round; raises nothing, every gap is allowed."""
    station, stations = station_codes(table["station"])
    ambient = middle(table["ambient_f"].to_numpy(dtype=float), site.ambient_f)
    given = {name: _given(table[name], station, stations, site, name) for name in PRESSURES}
    device = codes(table["device"], "device")
    return Gaps(
        stations=stations,
        given=given,
        taken_psig=_taken(table, station, given["supply_psig"], ambient, site),
        ambient_f=ambient,
        bore_in=_bores(table),
        thermometer=_thermometers(
            codes(table["thermometer"], "thermometer"), station, len(stations)
        ),
        listed=frozenset(DEVICES[code] for code in np.unique(device)),
        off=_off(table["inlet_temp_f"].to_numpy(dtype=float), device, station, len(stations)),
        blank_is_open=_blank_is_open(codes(table["valve_position"], "valve_position"), device),
        blank_is_no_lift=_blank_is_no_lift(table["lift_ft"].to_numpy(dtype=float), device),
    )


def _off(
    inlet_f: np.ndarray, device: np.ndarray, station: np.ndarray, stations: int
) -> np.ndarray:
    read = (device == DEVICES.index("trap")) & ~np.isnan(inlet_f)
    hottest = np.full(stations, -np.inf)
    np.maximum.at(hottest, station[read], inlet_f[read])
    return (np.bincount(station[read], minlength=stations) >= LEAST_OFF) & (hottest < WARM_F)


def _blank_is_open(valve: np.ndarray, device: np.ndarray) -> np.ndarray:
    """Return which kinds of device have several closed valves, many blanks and none open."""
    result = np.zeros(len(DEVICES), dtype=bool)
    for code in range(len(DEVICES)):
        mine = valve[device == code]
        result[code] = _noted_only_where_so(mine == _CLOSED, mine == MISSING)
    return result


def _blank_is_no_lift(lift_ft: np.ndarray, device: np.ndarray) -> bool:
    """Return whether traps have several lifts, at least as many blanks and no 0."""
    mine = lift_ft[device == DEVICES.index("trap")]
    return _noted_only_where_so(mine > 0.0, np.isnan(mine))


def _noted_only_where_so(noted: np.ndarray, blank: np.ndarray) -> bool:
    """Return whether several are noted, at least as many blank, and nothing else is said."""
    return bool((noted | blank).all() and LEAST_NOTED <= noted.sum() <= blank.sum())


def lifts(table: pd.DataFrame, gaps: Gaps) -> np.ndarray:
    """Return the traps' lifts, ft, blanks as none where the round means that."""
    lift_ft = table["lift_ft"].to_numpy(dtype=float)
    return np.nan_to_num(lift_ft) if gaps.blank_is_no_lift else lift_ft


def valves(table: pd.DataFrame, gaps: Gaps) -> np.ndarray:
    """Return the codes of the valves' positions, blanks as open where the round means that."""
    valve = codes(table["valve_position"], "valve_position")
    meant = gaps.blank_is_open[codes(table["device"], "device")]
    return np.where((valve == MISSING) & meant, _OPEN, valve).astype(np.int8)


def station_codes(column: pd.Series) -> tuple[np.ndarray, list[str]]:
    """Return which station each row names, (n,), and the stations' names, sorted.

    `NO_STATION` is among them where a row names none.
    """
    named = column.astype("category").cat
    # One past the names that there are, so that a row without one, code -1, finds itself there.
    names = [*map(str, named.categories), NO_STATION]
    used = sorted({names[code] for code in np.unique(named.codes)})
    place = np.array([used.index(name) if name in used else MISSING for name in names])
    return place[named.codes], used


def middle(values: np.ndarray, otherwise: float) -> float:
    """Return the median of the known values, or ``otherwise`` where there are none."""
    known = values[~np.isnan(values)]
    return float(np.median(known)) if len(known) else otherwise


def _given(
    column: pd.Series, station: np.ndarray, stations: list[str], site: Site, name: str
) -> np.ndarray:
    by_rows = pd.Series(column.to_numpy(dtype=float)).groupby(station).median()
    by_station = by_rows.reindex(range(len(stations))).to_numpy(dtype=float)
    by_site = np.array([_set_pressure(site, place, name) for place in stations], dtype=float)
    return np.where(np.isnan(by_site), by_station, by_site)


def _set_pressure(site: Site, station: str, name: str) -> float:
    if station not in site.stations:
        return float("nan")
    value = getattr(site.stations[station], name)
    return float("nan") if value is None else float(value)


def _taken(
    table: pd.DataFrame, station: np.ndarray, given: np.ndarray, ambient_f: float, site: Site
) -> np.ndarray:
    result = given.copy()
    ambient = table["ambient_f"].to_numpy(dtype=float)
    readings = {
        "device": codes(table["device"], "device"),
        "inlet_f": table["inlet_temp_f"].to_numpy(dtype=float),
        "ambient_f": np.where(np.isnan(ambient), ambient_f, ambient),
        "thermometer": codes(table["thermometer"], "thermometer"),
    }
    for place in np.flatnonzero(np.isnan(given)):
        part = {name: values[station == place] for name, values in readings.items()}
        result[place] = pressure_of_hot_inlets_psig(**part, altitude_ft=site.altitude_ft)
    everywhere = middle(table["supply_psig"].to_numpy(dtype=float), middle(given, float("nan")))
    return np.where(np.isnan(result), everywhere, result)


def _thermometers(code: np.ndarray, station: np.ndarray, stations: int) -> np.ndarray:
    named = code >= 0
    if not named.any():
        return np.full(stations, MISSING, dtype=np.int8)
    counts = np.zeros((stations, len(THERMOMETERS)))
    np.add.at(counts, (station[named], code[named]), 1.0)
    # The round's own mix counts for half a reading: it decides where a station names none.
    counts += counts.sum(axis=0) / (2.0 * counts.sum())
    return np.asarray(counts.argmax(axis=1), dtype=np.int8)


def _bores(table: pd.DataFrame) -> np.ndarray:
    bore = table["orifice_in"].to_numpy(dtype=float)
    trap_type = codes(table["trap_type"], "trap_type")
    everywhere = middle(bore, priors.BORE_IN)
    known = [middle(bore[trap_type == code], everywhere) for code in range(len(TRAP_TYPES))]
    return np.array([*known, middle(bore[trap_type < 0], everywhere)])
