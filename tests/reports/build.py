"""Small findings, written by hand, so that every figure in a page can be told beforehand."""

from __future__ import annotations

from typing import Any

import pandas as pd

from survey.columns import FINDING_COLUMNS, INPUT_COLUMNS
from survey.findings import Findings

_NUMBERS = {c.name for c in (*INPUT_COLUMNS, *FINDING_COLUMNS) if c.kind == "number"}
_NAMES = [c.name for c in (*INPUT_COLUMNS, *FINDING_COLUMNS)]

UNITS: list[dict[str, Any]] = [
    {
        "tag": "T-1", "equipment": "Heater 1", "area": "Glasshouse", "station": "North",
        "trap_type": "float_thermostatic", "service": "unit_heater", "orifice_in": 0.125,
        "supply_psig": 60.0, "return_psig": 2.0, "inlet_temp_f": 303.5, "outlet_temp_f": 231.0,
        "sound_db": 52.0, "background_db": 30.0, "state": "failed_open", "confidence": 0.97,
        "cause": "trap", "rank": 1.0, "steam_loss_lb_per_h": 41.25,
        "annual_cost": 2431.4, "annual_cost_low": 1377.0, "annual_cost_high": 3719.0,
        "action": "Replace the trap.", "evidence": "It roars without a pause, 22 dB over.",
        "saturation_f": 307.4, "return_saturation_f": 218.5, "flags": "gauge_doubtful",
        "note": "behind the boiler", "read_at": "2026-11-03T09:30:00",
    },
    {
        "tag": "V-1", "device": "air_vent", "equipment": "Heater 1", "area": "Glasshouse",
        "station": "North", "state": "isolated", "confidence": 0.99, "cause": "valved_off",
        "rank": 4.0, "action": "Open its valve.", "evidence": "Its valve was found closed.",
        "read_at": "2026-11-05T10:00:00",
    },
    {
        "tag": "T-2", "equipment": "Heater 2", "area": "Glasshouse", "station": "North",
        "supply_psig": 60.0, "inlet_temp_f": 301.0, "state": "working", "confidence": 0.98,
        "cause": "none", "action": "Nothing to do.", "evidence": "It opens and shuts.",
        "saturation_f": 307.4, "steam_loss_lb_per_h": 0.25, "annual_cost": 14.6,
        "annual_cost_low": 0.0, "annual_cost_high": 20.0,
    },
    {
        "tag": "T-3", "equipment": "Ironer", "area": "Laundry", "station": "South",
        "supply_psig": 90.0, "inlet_temp_f": 328.0, "outlet_temp_f": 221.0, "state": "leaking",
        "confidence": 0.81, "cause": "trap", "rank": 2.0, "steam_loss_lb_per_h": 9.5,
        "annual_cost": 560.0, "annual_cost_low": 210.0, "annual_cost_high": 990.0,
        "action": "Clean or replace it.", "evidence": "It hisses between discharges.",
        "saturation_f": 331.4,
    },
    {
        "tag": "T-4", "area": "Laundry", "station": "South", "inlet_temp_f": 88.0,
        "state": "undecided", "confidence": 0.44, "cause": "unknown", "rank": 3.0,
        "steam_loss_lb_per_h": 2.0, "annual_cost": 118.0, "annual_cost_low": 0.0,
        "annual_cost_high": 450.0, "action": "Read its sound.", "evidence": "Too little was read.",
    },
]
SUMMARY: dict[str, Any] = {
    "rows_read": 6, "rows_judged": 5, "rows_set_aside": 1, "currency": "USD",
    "steam_loss_lb_per_h": 53.0, "steam_loss_low_lb_per_h": 31.0,
    "steam_loss_high_lb_per_h": 78.0, "annual_cost": 3124.0, "annual_cost_low": 1913.0,
    "annual_cost_high": 4621.0, "annual_co2_t": 15.6, "site_name": "The Nursery",
    "loss_basis": "Loss counted by the whole pound.",
    "assumptions": ["Altitude taken as sea level.", "Fuel price taken as USD 8.00 per MMBtu.",
                    "Hours taken from station South."],
    "calibration": [
        {"what": "thermometer", "group": "North, contact", "value": 0.97, "low": 0.96,
         "high": 0.98, "unit": "share", "words": "At station North it read 3 % low."},
        {"what": "thermometer", "group": "South, contact", "value": 0.99, "low": 0.98,
         "high": 1.0, "unit": "share", "words": "At station South it read 1 % low."},
    ],
    "notes": ["One title line skipped."], "made_at": "2026-11-25T14:00:00+00:00",
    "version": "0.1.0",
}


def findings(
    units: list[dict[str, Any]] | None = None, summary: dict[str, Any] | None = None
) -> Findings:
    """Return findings of the units given, all columns there."""
    rows = [_whole(unit) for unit in (UNITS if units is None else units)]
    table = pd.DataFrame(rows, columns=_NAMES)
    for name in _NAMES:
        table[name] = table[name].astype("float64" if name in _NUMBERS else "str")
    rejects = pd.DataFrame(
        {"row": ["7"], "column": ["inlet_temp_f"], "value": ["-900"],
         "reason": ["below absolute zero"], "tag": ["T-9"], "area": ["Laundry"]}
    )
    return Findings(table, rejects, dict(SUMMARY if summary is None else summary))


def many(count: int) -> Findings:
    """Return findings of many units, every tenth losing steam, in twelve areas."""
    units = []
    for at in range(count):
        base = dict(UNITS[0] if at % 10 == 0 else UNITS[2])
        scale = 1 + (at * 7919 % 1000) / 100
        base |= {"tag": f"T-{at:05d}", "equipment": f"Heater {at // 2}", "area": f"House {at % 12}"}
        base |= {k: base[k] * scale for k in base if k.startswith(("annual", "steam"))}
        units.append(base)
    made = findings(units)
    order = made.table["annual_cost"].where(made.table["state"] != "working").rank(
        ascending=False, method="first")
    made.table["rank"] = order
    totals = {name: float(made.table[name].sum()) for name in SUMMARY if name in made.table}
    made.summary.update(totals, rows_read=count + 1, rows_judged=count)
    return made


def _whole(unit: dict[str, Any]) -> dict[str, Any]:
    lost = unit.get("steam_loss_lb_per_h", 0.0)
    return {
        "device": "trap", "steam_loss_lb_per_h": 0.0, "steam_loss_low_lb_per_h": 0.5 * lost,
        "steam_loss_high_lb_per_h": 1.6 * lost, "annual_cost": 0.0, "annual_cost_low": 0.0,
        "annual_cost_high": 0.0, "annual_co2_t": 0.3 * lost, **unit,
    }
