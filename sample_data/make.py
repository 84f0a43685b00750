"""Write the nursery's sample files again, the same to the byte: python make.py [FOLDER]."""

from __future__ import annotations

import sys
from datetime import datetime, timedelta
from pathlib import Path
from random import Random

import pandas as pd

HERE = Path(__file__).resolve().parent
PACKAGED = HERE.parent / "survey" / "sample"
"""The two files that go with the package, so that the screens have a round to try anywhere."""
sys.path.insert(0, str(HERE))

import messy  # noqa: E402  these two stand beside this script
import nursery  # noqa: E402

COLUMNS = (
    "tag", "device", "equipment", "area", "station", "trap_type", "service", "orifice_in",
    "supply_psig", "return_psig", "ambient_f", "inlet_temp_f", "outlet_temp_f", "thermometer",
    "sound_db", "background_db", "sound_pattern", "valve_position", "observed", "present",
    "lift_ft", "hours_per_year", "read_at", "note",
)
NUMBERS = (
    "orifice_in", "supply_psig", "return_psig", "ambient_f", "inlet_temp_f", "outlet_temp_f",
    "sound_db", "background_db", "lift_ft", "hours_per_year",
)
LAUNDRY_HOURS = 4200
ROUNDS = {
    "nursery_round": (False, 20251104, datetime(2025, 11, 4, 8, 0)),
    "nursery_after_repair": (True, 20260120, datetime(2026, 1, 20, 8, 0)),
}
SITE = """\
# The nursery: every setting that the tool takes from a site file, with its unit.
name = "Nursery"
altitude_ft = 600            # height over the sea, or altitude_m
currency = "USD"
hours_per_year = 6000        # hours under steam, where a row has none
boiler_efficiency = 0.80
feedwater_f = 180
ambient_f = 65               # air round a device, where a row has none

[fuel]
kind = "natural_gas"         # natural_gas, oil_no2, oil_no6, propane, coal
price_per_mmbtu = 8.0

[stations.North]             # where a row has no pressures of its own
supply_psig = 60
return_psig = 3

[stations.South]
supply_psig = 15
return_psig = 1
"""


def main(folder: Path = HERE) -> None:
    """Write every sample file into a folder."""
    for name, (repaired, seed, start) in ROUNDS.items():
        table = readings(repaired=repaired, seed=seed, start=start)
        table.to_csv(folder / f"{name}.csv", index=False, lineterminator="\n")
        table.to_parquet(folder / f"{name}.parquet", index=False)
    (folder / "nursery_site.toml").write_text(SITE, encoding="utf-8")
    _truth().to_csv(folder / "nursery_truth.csv", index=False, lineterminator="\n")
    repaired, seed, start = ROUNDS["nursery_round"]
    messy.write(readings(repaired=repaired, seed=seed, start=start), folder / "nursery_messy.xlsx")
    if folder == HERE:
        for name in ("nursery_round.csv", "nursery_site.toml"):
            (PACKAGED / name).write_bytes((folder / name).read_bytes())


def readings(*, repaired: bool, seed: int, start: datetime) -> pd.DataFrame:
    """Return one round of the nursery, in the columns of a round."""
    dice = Random(seed)
    truth = nursery.truth(repaired=repaired)
    rows = []
    for place, device in enumerate(nursery.plant()):
        row = nursery.read(device, *truth[device.tag], dice)
        row["read_at"] = (start + timedelta(minutes=2 * place)).isoformat()
        if device.area == "Laundry":
            row["hours_per_year"] = LAUNDRY_HOURS
        rows.append(row)
    table = pd.DataFrame(rows, columns=list(COLUMNS))
    table[list(NUMBERS)] = table[list(NUMBERS)].astype("float64")
    words = [name for name in COLUMNS if name not in NUMBERS]
    table[words] = table[words].astype("str").where(table[words].notna() & (table[words] != ""))
    return table


def _truth() -> pd.DataFrame:
    before, after = (nursery.truth(repaired=repaired) for repaired in (False, True))
    return pd.DataFrame(
        [(tag, *before[tag], *after[tag]) for tag in before],
        columns=["tag", "state", "cause", "state_after_repair", "cause_after_repair"],
    )


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else HERE)
