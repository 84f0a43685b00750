"""The script a competent user would write without a model: fixed thresholds, Napier's formula.

It knows what a careful person knows: saturation from the pressure, altitude, the valve and vent
positions written down, and that a lift needs pressure. It does not know what its instruments do.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

HOT_WITHIN_F = 40.0  # inlet this close to saturation: steam is there
COLD_WITHIN_F = 60.0  # inlet this close to the room: no steam
SMALL_DIFFERENCE_F = 15.0
LOUD_DB, AUDIBLE_DB = 20.0, 10.0  # over the background
USUAL_BACKGROUND_DB = 25.0
USUAL_BORE_IN = 3 / 16
LEAK_SHARE = 0.25
FT_PER_PSI = 2.31
COST_PER_KLB = 10.0


def judge(table: pd.DataFrame, site: dict[str, Any]) -> pd.DataFrame:
    """Findings by fixed thresholds, in the columns that `score` reads."""
    d = _with_pressures(table, site)
    trap = d["device"] == "trap"
    d["p_failed_open"] = 0.0
    d["steam_loss_lb_per_h"] = 0.0
    d["state"], d["cause"] = "working", "none"
    _judge_companions(d)
    _judge_traps(d, trap)
    _lose(d, trap)
    for name in ("confidence", "steam_loss_low_lb_per_h", "steam_loss_high_lb_per_h"):
        d[name] = np.nan
    return d


def _with_pressures(table, site):
    d = table.copy()
    stations = pd.DataFrame(site["stations"]).T
    for name in ("supply_psig", "return_psig"):
        d[name] = d[name].fillna(d["station"].map(stations[name]))
    air = 14.7 - site["altitude_ft"] * 0.0005  # about half a psi per 1,000 ft
    d["psia"] = d["supply_psig"] + air
    # Antoine's equation for water, 99 to 374 °C (mmHg, °C).
    mmhg = np.log10(d["psia"] * 51.715)
    d["saturation_f"] = (1810.94 / (8.14019 - mmhg) - 244.485) * 1.8 + 32
    d["ambient_f"] = d["ambient_f"].fillna(70.0)
    d["over_db"] = d["sound_db"] - d["background_db"].fillna(USUAL_BACKGROUND_DB)
    return d


def _judge_companions(d):
    vent, breaker, check = (
        d["device"] == name for name in ("air_vent", "vacuum_breaker", "check_valve")
    )
    for device in (vent, breaker):
        d.loc[device & (d["valve_position"] == "closed"), "state"] = "isolated"
        d.loc[device & (d["present"] == "no"), "state"] = "missing"
    d.loc[vent & (d["observed"] == "steam"), "state"] = "failed_open"
    d.loc[vent & (d["observed"] == "water"), "state"] = "passing_water"
    d.loc[breaker & d["observed"].isin(["steam", "water"]), "state"] = "leaking"
    d.loc[check & d["observed"].isin(["steam", "water"]), "state"] = "passing_back"
    stuck = check & (d["inlet_temp_f"] - d["outlet_temp_f"] > 50)
    d.loc[stuck, "state"] = "stuck"


def _judge_traps(d, trap):
    shut_vents = d.loc[
        (d["device"] == "air_vent") & d["state"].isin(["isolated", "missing"]), "equipment"
    ]
    stuck_checks = d.loc[(d["device"] == "check_valve") & (d["state"] == "stuck"), "equipment"]
    shut = d["valve_position"] == "closed"
    cold = d["inlet_temp_f"] < d["ambient_f"] + COLD_WITHIN_F
    cool = ~cold & (d["inlet_temp_f"] < d["saturation_f"] - HOT_WITHIN_F)
    stands = cold | cool
    lifts = d["lift_ft"] / FT_PER_PSI > d["supply_psig"] - d["return_psig"]
    close = (d["inlet_temp_f"] - d["outlet_temp_f"]) < SMALL_DIFFERENCE_F
    steady = d["sound_pattern"].isin(["continuous"])
    blown = (d["over_db"] > LOUD_DB) & (steady | close)
    leaks = (d["over_db"] > AUDIBLE_DB) & steady & (d["trap_type"] != "float_thermostatic")
    rules = [
        (shut, "cold", "valved_off"),
        (stands & d["equipment"].isin(stuck_checks), "backed_up", "check_valve"),
        (stands & lifts, "backed_up", "lift"),
        (stands & d["equipment"].isin(shut_vents), "cold", "air_vent"),
        (cold, "cold", "unknown"),
        (cool, "failed_closed", "trap"),
        (blown, "failed_open", "trap"),
        (leaks, "leaking", "trap"),
    ]
    tests = [(trap & rule).to_numpy() for rule, _, _ in rules]
    d["state"] = np.select(tests, [state for _, state, _ in rules], d["state"])
    d["cause"] = np.select(tests, [cause for _, _, cause in rules], d["cause"])
    # The verdict first, then the louder one: the fairest order such a script can give.
    verdict = np.select([d["state"] == "failed_open", d["state"] == "leaking"], [0.6, 0.3], 0.0)
    hot = ~d["state"].isin(["cold", "backed_up", "failed_closed"])
    loud = (d["over_db"].fillna(0.0) / 100).clip(0, 0.4)
    d["p_failed_open"] = verdict + np.where(hot, loud, 0.0)


def _lose(d, trap):
    bore = d["orifice_in"].fillna(USUAL_BORE_IN)
    napier = np.pi / 4 * bore**2 * d["psia"] / 70 * 3600
    share = np.select([d["state"] == "failed_open", d["state"] == "leaking"], [1.0, LEAK_SHARE])
    d["steam_loss_lb_per_h"] = np.where(trap, napier * share, 0.0)
    hours = d["hours_per_year"].fillna(4900.0)
    d["annual_cost"] = d["steam_loss_lb_per_h"] * hours / 1000 * COST_PER_KLB
