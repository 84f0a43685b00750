"""Write simulated rounds and their truth: python benchmarks/simulate_plants.py --out FOLDER."""

from __future__ import annotations

import argparse
from pathlib import Path

import pandas as pd
from plants import EIGHT, Plant, simulate


def make_plants(seed: int, names: list[str] | None = None) -> list[Plant]:
    """The eight plants of one seed, or those named."""
    return [simulate(s, seed) for s in EIGHT if not names or s.name in names]


def write_plant(plant: Plant, folder: Path) -> None:
    """Write NAME.csv, NAME-truth.csv and NAME-site.toml."""
    folder.mkdir(parents=True, exist_ok=True)
    plant.table.to_csv(folder / f"{plant.name}.csv", index=False)
    plant.truth.to_csv(folder / f"{plant.name}-truth.csv", index=False)
    (folder / f"{plant.name}-site.toml").write_text(_toml(plant.site))


def _toml(site):
    lines = [
        f'name = "{site["name"]}"',
        f"altitude_ft = {site['altitude_ft']}",
        f"hours_per_year = {site['hours_per_year']}",
    ]
    for name, station in site["stations"].items():
        lines.append(f"[stations.{name}]")
        lines += [f"{key} = {value}" for key, value in station.items()]
    return "\n".join(lines) + "\n"


def _counts(plants):
    traps = {p.name: p.truth[p.truth["device"] == "trap"] for p in plants}
    table = pd.DataFrame({n: t["state"].value_counts() for n, t in traps.items()}).T
    table = table.fillna(0).astype(int)
    table["rows"] = [len(p.table) for p in plants]
    table["loss_lb_per_h"] = [round(t["steam_loss_lb_per_h"].sum()) for t in traps.values()]
    return table


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--out", type=Path, required=True, help="folder to write to")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--plant", action="append", help="only this plant; may be repeated")
    arguments = parser.parse_args()
    plants = make_plants(arguments.seed, arguments.plant)
    for plant in plants:
        write_plant(plant, arguments.out)
    print(_counts(plants).to_string())


if __name__ == "__main__":
    main()
