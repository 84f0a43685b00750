"""Invented plants as findings tables: only for properties, never for how well a verdict does."""

from __future__ import annotations

from typing import Any

import pandas as pd

from survey.columns import TRAP_STATES
from survey.physics.saturation import saturation_f
from survey.physics.units import absolute_psia
from survey.site import Site

SITE = Site(name="Nursery", ambient_f=65.0)
SUBCOOLING_F = 4.0


def trap(tag: str, **given: Any) -> dict[str, Any]:
    """Return a working trap of a unit heater, but for what is given."""
    row: dict[str, Any] = {
        "tag": tag, "device": "trap", "equipment": f"UH-{tag}", "area": "Hall 1", "station": "N",
        "trap_type": "float_thermostatic", "service": "unit_heater", "orifice_in": 0.166,
        "supply_psig": 40.0, "return_psig": 2.0, "ambient_f": 60.0, "lift_ft": 8.0,
        "thermometer": "contact", "state": "working", "cause": "none", "confidence": 0.97,
        "read_at": "2025-11-04T08:00:00", "steam_loss_lb_per_h": 0.0,
        "steam_loss_low_lb_per_h": 0.0, "steam_loss_high_lb_per_h": 0.0,
        "annual_cost": 0.0, "annual_cost_low": 0.0, "annual_cost_high": 0.0,
        "action": "Nothing to do.", "evidence": "It reads as it should.",
    } | given  # fmt: skip
    supply = absolute_psia(gauge_psig=row["supply_psig"], altitude_ft=0.0)
    back = row["return_psig"]
    hot = float(saturation_f(pressure_psia=supply))
    row.setdefault("saturation_f", hot)
    row.setdefault(
        "return_saturation_f",
        float(saturation_f(pressure_psia=absolute_psia(
            gauge_psig=0.0 if back is None else back, altitude_ft=0.0
        ))),
    )  # fmt: skip
    row.setdefault("subcooling_f", SUBCOOLING_F)
    for state in TRAP_STATES:
        row.setdefault(f"p_{state}", row["confidence"] if state == row["state"] else 0.006)
    return row


def device(tag: str, kind: str, equipment: str, **given: Any) -> dict[str, Any]:
    """Return a working vent, breaker or check valve, but for what is given."""
    return {
        "tag": tag, "device": kind, "equipment": equipment, "area": "Hall 1", "station": "N",
        "state": "working", "cause": "none", "confidence": 0.97, "annual_cost": 0.0,
        "annual_cost_low": 0.0, "annual_cost_high": 0.0, "read_at": "2025-11-04T08:00:00",
        "action": "Nothing to do.", "evidence": "It reads as it should.",
    } | given  # fmt: skip


def findings(*rows: dict[str, Any]) -> pd.DataFrame:
    """Return a findings table of these rows."""
    return pd.DataFrame(list(rows))
