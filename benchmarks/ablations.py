"""What each part of the verdict model buys: score it with one part taken away at a time.

One command: python benchmarks/ablations.py [--seeds 2]
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from pathlib import Path

import pandas as pd
from plants import EIGHT, Plant, simulate
from score import score

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from survey.diagnosis.calibration import Calibration
from survey.diagnosis.companion_looks import LOOKS_BY_DEVICE
from survey.diagnosis.companions import DeviceModel
from survey.diagnosis.gaps import find_gaps
from survey.diagnosis.instruments import Instruments
from survey.diagnosis.model import Model
from survey.diagnosis.verdict import diagnose
from survey.losses.priced import add_losses
from survey.losses.ranking import add_rank
from survey.readings import round_from_frame
from survey.site import Site

SHOWN = (
    "macro_f1", "auroc_failed_open", "loss_in_top_tenth", "total_loss_ratio",
    "calibration_error", "cause_right", "victims_condemned", "companions_right",
)  # fmt: skip


def judge(plant: Plant, table: pd.DataFrame, *, calibrated: bool = True) -> pd.DataFrame:
    """Return findings of a table; uncalibrated, the priors stand as they are."""
    site = Site(**plant.site)
    tidy = round_from_frame(table, altitude_ft=site.altitude_ft).table
    prior = None if calibrated else _prior(tidy, site)
    found = add_rank(add_losses(diagnose(tidy, site=site, calibration=prior), tidy, site))
    inputs = tidy[[name for name in tidy.columns if name not in found.columns]]
    return pd.concat([inputs, found], axis=1)


def _prior(tidy: pd.DataFrame, site: Site) -> Calibration:
    gaps = find_gaps(tidy, site)
    kinds = {device: DeviceModel.prior(device) for device in LOOKS_BY_DEVICE}
    model = Model()
    background = tidy["background_db"].median()
    model.background_db = float(background if pd.notna(background) else tidy["sound_db"].min())
    return Calibration(model, kinds, Instruments.prior(len(gaps.stations)), gaps)


def without(*columns: str) -> Callable[[Plant], pd.DataFrame]:
    """Return a judge that never sees some columns."""
    return lambda plant: judge(plant, plant.table.drop(columns=list(columns), errors="ignore"))


PARTS: dict[str, Callable[[Plant], pd.DataFrame]] = {
    "everything": lambda plant: judge(plant, plant.table),
    "no calibration (priors only)": lambda plant: judge(plant, plant.table, calibrated=False),
    "no temperatures": without("inlet_temp_f", "outlet_temp_f"),
    "no sound level": without("sound_db", "background_db"),
    "no sound pattern": without("sound_pattern"),
    "nothing watched (observed)": without("observed"),
    "no valve positions": without("valve_position"),
    "no lifts": without("lift_ft"),
    "traps alone (no equipment)": without("equipment"),
}


def main() -> None:
    """Print the table as Markdown."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=2)
    seeds = parser.parse_args().seeds
    rows = []
    for name, method in PARTS.items():
        for settings in EIGHT:
            for seed in range(1, seeds + 1):
                plant = simulate(settings, seed)
                rows.append({"part": name, **score(method(plant), plant.truth)})
    means = pd.DataFrame(rows).groupby("part", sort=False)[list(SHOWN)].mean()
    print("| model | " + " | ".join(name.replace("_", " ") for name in SHOWN) + " |")
    print("|---" * (len(SHOWN) + 1) + "|")
    for part, figures in means.iterrows():
        print(f"| {part} | " + " | ".join(f"{value:.3f}" for value in figures) + " |")


if __name__ == "__main__":
    main()
