"""The traps of a judged round as arrays: what lift, heat and pressure are worked out from."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
import pandas as pd

from survey.columns import INPUT_BY_NAME, TRAP_STATES
from survey.diagnosis.priors import SUBCOOLING_F
from survey.physics.saturation import saturation_psia
from survey.physics.units import atmosphere_psia
from survey.readings.names import phrase
from survey.site import Site

USUAL_SUBCOOLING_F = 6.0
"""Where the trap's type is not known; the middle of those of known types."""
LOAD_COLUMN = "load_lb_per_h"
RETURN_MAIN_COLUMN = "return_main"
PLAN_COLUMNS = (LOAD_COLUMN, RETURN_MAIN_COLUMN)
"""Two columns a round may carry beyond those it is judged by: condensate that a unit makes at
its present pressure, and the name of the return main it drains to."""
_HEADERS = {
    LOAD_COLUMN: (phrase(LOAD_COLUMN), phrase(f"condensate {LOAD_COLUMN}")),
    RETURN_MAIN_COLUMN: (phrase(RETURN_MAIN_COLUMN),),
}
"""Their headers, keyed as the reader keys those of its own: 'Load (lb/h)' is one of them."""


@dataclass(frozen=True)
class Units:
    """n traps. Text is '' where missing, numbers NaN.

    Parameters
    ----------
    supply_psia, return_psia
        Absolute pressures they were judged at, the gauge's fault taken out.
    gauge_psig
        The pressure read ahead of it, as it was noted.
    return_given
        Whether a return pressure was read there, set for the station, or read at another of
        its units; where not, the return was taken as vented.
    inlet_f
        Temperature of the pipe ahead, the thermometer's fault taken out.
    load_lb_per_h
        Condensate at the present pressure, where the round gives it.
    hot, held_by_lift, backed, cold, stuck_shut
        Chances: drains now; condensate stands back for its lift; stands back; has no steam;
        its trap is stuck shut.
    """

    tag: np.ndarray
    equipment: np.ndarray
    area: np.ndarray
    station: np.ndarray
    return_main: np.ndarray
    trap_type: np.ndarray
    service: np.ndarray
    state: np.ndarray
    cause: np.ndarray
    thermometer: np.ndarray
    supply_psia: np.ndarray
    return_psia: np.ndarray
    gauge_psig: np.ndarray
    return_given: np.ndarray
    ambient_f: np.ndarray
    inlet_f: np.ndarray
    outlet_f: np.ndarray
    lift_ft: np.ndarray
    bore_in: np.ndarray
    load_lb_per_h: np.ndarray
    hours: np.ndarray
    loss_lb_per_h: np.ndarray
    loss_spread_lb_per_h: np.ndarray
    hot: np.ndarray
    held_by_lift: np.ndarray
    backed: np.ndarray
    cold: np.ndarray
    stuck_shut: np.ndarray

    def __len__(self) -> int:
        """Return the number of traps."""
        return len(self.tag)

    def take(self, index: np.ndarray) -> Units:
        """Return the traps that an index or a mask picks."""
        return Units(**{f.name: getattr(self, f.name)[index] for f in fields(self)})

    def and_more(self, others: Units) -> Units:
        """Return these traps and others behind them."""
        return Units(**{
            f.name: np.concatenate([getattr(self, f.name), getattr(others, f.name)])
            for f in fields(self)
        })  # fmt: skip

    @property
    def supply_given(self) -> np.ndarray:
        """Return whether a pressure was read ahead of each, (n,)."""
        return np.asarray(~np.isnan(self.gauge_psig))

    @property
    def subcooling_f(self) -> np.ndarray:
        """How far under saturation a working trap of each type holds its inlet, °F, (n,)."""
        usual = {name: centre for name, (centre, _) in SUBCOOLING_F.items()}
        return np.array([usual.get(name, USUAL_SUBCOOLING_F) for name in self.trap_type])

    @property
    def subcooling_spread_f(self) -> np.ndarray:
        """Spread of that, °F, (n,)."""
        spreads = {name: spread for name, (_, spread) in SUBCOOLING_F.items()}
        return np.array([spreads.get(name, USUAL_SUBCOOLING_F) for name in self.trap_type])


def text_of(table: pd.DataFrame, name: str) -> np.ndarray:
    """Return a column as text, '' where it is missing or there is no such column."""
    if name not in table.columns:
        return np.full(len(table), "", dtype=object)
    column = table[name].astype(object)
    return column.where(column.notna(), "").map(str).to_numpy(dtype=object)


def numbers_of(table: pd.DataFrame, name: str) -> np.ndarray:
    """Return a column as numbers, NaN where it is missing, no number, or not there at all."""
    if name not in table.columns:
        return np.full(len(table), np.nan)
    return pd.to_numeric(table[name], errors="coerce").to_numpy(dtype=float, na_value=np.nan)


def extra_column(table: pd.DataFrame, name: str) -> str:
    """Return the header under which a round carries one of the two extra columns, else ''."""
    for header in table.columns:
        if phrase(str(header)) in _HEADERS[name] and header not in INPUT_BY_NAME:
            return str(header)
    return ""


def units_of(findings: pd.DataFrame, site: Site) -> Units:
    """Take the traps out of a findings table.

    Parameters
    ----------
    findings
        The table of findings: input columns and those of `columns.FINDING_COLUMNS`.
    site
        The site's settings, those the round was judged with.
    """
    table = findings[text_of(findings, "device") == "trap"]
    text = {
        name: text_of(table, name)
        for name in (
            "tag", "equipment", "area", "station", "trap_type", "service", "state", "cause",
            "thermometer",
        )
    }  # fmt: skip
    saturation = numbers_of(table, "saturation_f")
    low, high = (numbers_of(table, f"steam_loss_{end}_lb_per_h") for end in ("low", "high"))
    hours = numbers_of(table, "hours_per_year")
    air = numbers_of(table, "ambient_f")
    return Units(
        **text,
        return_main=text_of(table, extra_column(table, RETURN_MAIN_COLUMN)),
        supply_psia=saturation_psia(temperature_f=saturation),
        return_psia=saturation_psia(temperature_f=numbers_of(table, "return_saturation_f")),
        gauge_psig=numbers_of(table, "supply_psig"),
        return_given=_return_given(table, text["station"], site),
        ambient_f=np.where(np.isnan(air), site.ambient_f, air),
        inlet_f=saturation - numbers_of(table, "subcooling_f"),
        outlet_f=numbers_of(table, "outlet_temp_f"),
        lift_ft=numbers_of(table, "lift_ft"),
        bore_in=numbers_of(table, "orifice_in"),
        load_lb_per_h=_positive(numbers_of(table, extra_column(table, LOAD_COLUMN))),
        hours=np.where(np.isnan(hours), site.hours_per_year, hours),
        loss_lb_per_h=np.nan_to_num(numbers_of(table, "steam_loss_lb_per_h")),
        loss_spread_lb_per_h=np.nan_to_num((high - low) / 2.563),
        **_chances(table, text["cause"]),
    )


def _positive(values: np.ndarray) -> np.ndarray:
    return np.where(np.isfinite(values) & (values > 0), values, np.nan)


def _chances(table: pd.DataFrame, cause: np.ndarray) -> dict[str, np.ndarray]:
    p = {name: np.nan_to_num(numbers_of(table, f"p_{name}")) for name in TRAP_STATES}
    return {
        "hot": p["working"] + p["leaking"] + p["failed_open"],
        "held_by_lift": np.where(cause == "lift", p["backed_up"], 0.0),
        "backed": p["backed_up"],
        "cold": p["cold"],
        "stuck_shut": p["failed_closed"],
    }


def _return_given(table: pd.DataFrame, station: np.ndarray, site: Site) -> np.ndarray:
    read = ~np.isnan(numbers_of(table, "return_psig"))
    somewhere = set(station[read])
    somewhere |= {n for n, place in site.stations.items() if place.return_psig is not None}
    return np.asarray(read | np.array([name in somewhere for name in station], dtype=bool))


def site_atmosphere_psia(site: Site) -> float:
    """Return the pressure of the air at the site, psia."""
    return float(atmosphere_psia(altitude_ft=site.altitude_ft))
