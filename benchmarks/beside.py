"""What `speed.py` times the package beside: pyarrow alone, a vectorised script, a row loop.

    python benchmarks/beside.py copy|thresholds|loop|both IN.parquet OUT.parquet
"""

from __future__ import annotations

import sys


def copy(source: str, target: str) -> None:
    """Read a findings file and write it again."""
    import pyarrow.parquet as pq

    pq.write_table(pq.read_table(source), target)


def thresholds(source: str, target: str) -> None:
    """Judge by fixed thresholds, in whole columns, with a steam library."""
    import numpy as np
    import pandas as pd
    from CoolProp.CoolProp import PropsSI

    table = pd.read_parquet(source)
    pascal = (table["supply_psig"].fillna(15.0).to_numpy() + 14.696) * 6894.757
    table["saturation_f"] = (PropsSI("T", "P", pascal, "Q", 1.0, "Water") - 273.15) * 1.8 + 32.0
    over = table["sound_db"] - table["background_db"].fillna(25.0)
    inlet = table["saturation_f"] - table["inlet_temp_f"]
    outlet = table["inlet_temp_f"] - table["outlet_temp_f"]
    table["state"] = np.select(
        [inlet > 100.0, inlet > 40.0, (over > 20.0) & (outlet < 15.0), over > 10.0],
        ["cold", "backed_up", "failed_open", "leaking"],
        "working",
    )
    bore = table["orifice_in"].fillna(0.1875)
    full = 24.24 * (table["supply_psig"].fillna(15.0) + 14.7) * bore**2  # Napier, lb/h
    share = table["state"].map({"failed_open": 1.0, "leaking": 0.25}).fillna(0.0)
    table["steam_loss_lb_per_h"] = full * share
    table["annual_cost"] = table["steam_loss_lb_per_h"] * 8760.0 / 1000.0 * 10.0
    table["rank"] = table["annual_cost"].rank(ascending=False, method="first")
    table["evidence"] = (
        "inlet " + table["inlet_temp_f"].round().astype(str) + " °F, saturation "
        + table["saturation_f"].round().astype(str) + " °F, "
        + over.round().astype(str) + " dB over background"
    )  # fmt: skip
    table.to_parquet(target, index=False)


def loop(source: str, target: str, *, back: bool = False) -> None:
    """Judge row by row with a steam library, as a first script does.

    Parameters
    ----------
    back
        Find the return's saturation as well, as the findings have it.
    """
    import pandas as pd
    from iapws import IAPWS97

    if source == "none":
        return
    rows = pd.read_parquet(source).to_dict("records")
    for row in rows:
        psig = row["supply_psig"] if row["supply_psig"] == row["supply_psig"] else 15.0
        saturation_f = (IAPWS97(P=(psig + 14.696) * 0.006894757, x=1).T - 273.15) * 1.8 + 32.0
        row["saturation_f"] = saturation_f
        if back:
            psig = row["return_psig"] if row["return_psig"] == row["return_psig"] else 0.0
            kelvin = IAPWS97(P=(psig + 14.696) * 0.006894757, x=1).T
            row["return_saturation_f"] = (kelvin - 273.15) * 1.8 + 32.0
        cold = row["inlet_temp_f"] < saturation_f - 100.0
        row["state"] = "cold" if cold else "working"
        row["steam_loss_lb_per_h"] = 0.0
    pd.DataFrame(rows).to_parquet(target, index=False)


def both(source: str, target: str) -> None:
    """Judge row by row, as `loop` does, by the saturation of supply and return."""
    loop(source, target, back=True)


WAYS = {"copy": copy, "thresholds": thresholds, "loop": loop, "both": both}

if __name__ == "__main__":
    WAYS[sys.argv[1]](*sys.argv[2:4])
