"""Small rounds of findings, made by hand: what is not said is an ordinary working trap."""

from __future__ import annotations

from typing import Any

import pandas as pd

from survey.findings import Findings

KLB_PER_LB_PER_H = 6.0  # 6,000 h a year
COST_PER_KLB = 10.0
CO2_T_PER_KLB = 0.068
SUMMED = (
    "steam_loss_lb_per_h", "steam_loss_low_lb_per_h", "steam_loss_high_lb_per_h",
    "annual_cost", "annual_cost_low", "annual_cost_high", "annual_loss_klb", "annual_co2_t",
)  # fmt: skip


def trap(tag: str, **given: Any) -> dict[str, Any]:
    """Return a row of findings; the loss is a mean, or (mean, low, high)."""
    state = given.pop("state", "working")
    loss = given.pop("loss", 0.0)
    mean, low, high = loss if isinstance(loss, tuple) else (loss, 0.4 * loss, 1.8 * loss)
    klb = given.pop("klb_per_lb_per_h", KLB_PER_LB_PER_H)
    price = given.pop("cost_per_klb", COST_PER_KLB)
    row: dict[str, Any] = {
        "tag": tag, "device": "trap", "equipment": f"UH-{tag}", "area": "Glasshouse A",
        "station": "North", "trap_type": "float_thermostatic", "orifice_in": 0.125,
        "inlet_temp_f": 290.0, "read_at": "2025-11-04T08:00:00",
        "state": state, "confidence": 0.95, "cause": "none",
        **{f"p_{name}": 0.01 for name in ("leaking", "failed_open", "failed_closed", "backed_up",
                                          "cold", "working")},
        "steam_loss_lb_per_h": mean, "steam_loss_low_lb_per_h": low,
        "steam_loss_high_lb_per_h": high, "annual_loss_klb": mean * klb,
        "annual_cost": mean * klb * price, "annual_cost_low": low * klb * price,
        "annual_cost_high": high * klb * price, "annual_co2_t": mean * klb * CO2_T_PER_KLB,
        "rank": float("nan"), "action": "", "evidence": "", "saturation_f": 307.3,
        "return_saturation_f": 218.5, "flags": "", "subcooling_f": 4.0,
        "sound_over_background_db": float("nan"),
    }  # fmt: skip
    if state in ("working", "leaking", "failed_open", "failed_closed", "backed_up", "cold"):
        row[f"p_{state}"] = 0.95
    return {**row, **given}


def findings(*rows: dict[str, Any], **summary: Any) -> Findings:
    """Return findings of these rows, with a summary of them."""
    table = pd.DataFrame(list(rows))
    sums = {name: float(table[name].sum()) for name in table if name in SUMMED}
    about = {
        "rows_read": len(table), "rows_judged": len(table), "rows_set_aside": 0,
        "states": {str(k): int(v) for k, v in table["state"].value_counts().items()},
        "states_by_device": {}, "causes": {}, "loss_basis": "By the whole pound.",
        "assumptions": [], "currency": "USD", "site_name": "Nursery", **sums, **summary,
    }  # fmt: skip
    return Findings(table, pd.DataFrame(), about)
