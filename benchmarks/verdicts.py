"""Score the verdicts on eight simulated plants, beside a fixed-threshold script.

One command: python benchmarks/verdicts.py [--seeds 3] [--json FILE]
"""

from __future__ import annotations

import argparse
import json
import math
import sys
from pathlib import Path
from typing import Any

import fixed_thresholds
import pandas as pd
from plants import EIGHT, Plant, simulate
from score import MEASURES, score

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

BARS = {  # bar, and which way is better
    "macro_f1": (">=", 0.92), "auroc_failed_open": (">=", 0.99), "loss_in_top_tenth": (">=", 0.97),
    "total_loss_ratio": ("within", 0.12), "calibration_error": ("<=", 0.04),
    "sure_right": (">=", 0.985), "sure_share": (">=", 0.72), "range_holds_leaks": ("in", 0.72),
    "cause_right": (">=", 0.95), "victims_condemned": ("<=", 0.01),
    "companions_right": (">=", 0.97),
}  # fmt: skip


def by_survey(plant: Plant) -> pd.DataFrame:
    """Findings of the package under test."""
    from survey.pipeline import analyze
    from survey.site import Site

    return analyze(plant.table, site=Site(**plant.site)).table


def by_thresholds(plant: Plant) -> pd.DataFrame:
    """Findings of the fixed-threshold script."""
    return fixed_thresholds.judge(plant.table, plant.site)


METHODS = {"survey": by_survey, "fixed thresholds": by_thresholds}


def measure(seeds: list[int], methods: list[str], names: list[str] | None) -> pd.DataFrame:
    """One row per method, plant and seed, with every measure."""
    rows: list[dict[str, Any]] = []
    for settings in EIGHT:
        if names and settings.name not in names:
            continue
        for seed in seeds:
            plant = simulate(settings, seed)
            for method in methods:
                scores = score(METHODS[method](plant), plant.truth)
                rows.append({"method": method, "plant": plant.name, "seed": seed, **scores})
    return pd.DataFrame(rows)


def as_markdown(scores: pd.DataFrame, method: str) -> str:
    """Measures down, plants across, then their mean and the bar."""
    own = scores[scores["method"] == method]
    plants = own.groupby("plant", sort=False)[list(MEASURES)].mean()
    lines = [f"| {method} | {' | '.join(plants.index)} | mean | bar |"]
    lines.append("|---" * (len(plants) + 3) + "|")
    for key, words in MEASURES.items():
        cells = [_number(v) for v in plants[key]]
        lines.append(
            f"| {words} | {' | '.join(cells)} | {_mean(key, plants[key])} | {_bar(key)} |"
        )
    return "\n".join(lines)


def _number(value):
    return "–" if math.isnan(value) else f"{value:.3f}"


def _mean(key, values):
    if key == "total_loss_ratio":  # over- and underestimates must not cancel
        return f"{values.mean():.3f} (mean miss {(values - 1).abs().mean():.3f})"
    if key == "macro_f1":
        return f"{values.mean():.3f} (worst {values.min():.3f})"
    return _number(values.mean())


def _bar(key):
    if key not in BARS:
        return ""
    way, bar = BARS[key]
    return {"within": f"1 ± {bar}", "in": f"{bar} to 0.90"}.get(way, f"{way} {bar}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=3, help="how many, from --first-seed on")
    parser.add_argument("--first-seed", type=int, default=1)
    parser.add_argument("--plant", action="append", help="only this plant; may be repeated")
    parser.add_argument("--method", action="append", choices=list(METHODS))
    parser.add_argument("--json", type=Path, help="also write every measure here")
    arguments = parser.parse_args()
    methods = arguments.method or list(METHODS)
    seeds = list(range(arguments.first_seed, arguments.first_seed + arguments.seeds))
    scores = measure(seeds, methods, arguments.plant)
    for method in methods:
        print(as_markdown(scores, method), end="\n\n")
    if arguments.json:
        arguments.json.write_text(json.dumps(_clean(scores), indent=1))


def _clean(scores):
    records = scores.to_dict(orient="records")
    return [
        {k: None if isinstance(v, float) and math.isnan(v) else v for k, v in r.items()}
        for r in records
    ]


if __name__ == "__main__":
    main()
