"""How good a findings table is against the truth: python benchmarks/score.py FINDINGS TRUTH."""

from __future__ import annotations

import argparse
import math
from pathlib import Path

import numpy as np
import pandas as pd

TRAP_STATES = ("working", "leaking", "failed_open", "failed_closed", "backed_up", "cold")
CONDEMNED = ("leaking", "failed_open", "failed_closed")
VICTIMS = ("air_vent", "check_valve", "lift", "valved_off")
SURE = 0.9
MEASURES = {  # key: words in the table
    "macro_f1": "macro-F1, six trap states",
    "auroc_failed_open": "AUROC of failed_open",
    "loss_in_top_tenth": "loss in top tenth / perfect",
    "total_loss_ratio": "total loss / true",
    "calibration_error": "expected calibration error",
    "sure_right": "right at confidence >= 0.9",
    "sure_share": "share at confidence >= 0.9",
    "undecided_share": "undecided",
    "range_holds_leaks": "10-90 % range holds loss, leaking traps",
    "range_holds_all": "10-90 % range holds loss, all traps",
    "cause_right": "cause right, units with a fault",
    "victims_condemned": "victims condemned",
    "companions_right": "vents, breakers, checks right",
    "vents_right": "vents right",
    "breakers_right": "breakers right",
    "checks_right": "check valves right",
}


def score(findings: pd.DataFrame, truth: pd.DataFrame) -> dict[str, float]:
    """Every measure of one plant, by the keys of MEASURES; NaN where it has no meaning.

    Rows are matched by tag. A device that the findings leave out counts as undecided.
    """
    both = truth.add_prefix("true_").merge(
        findings, left_on="true_tag", right_on="tag", how="left", validate="one_to_one"
    )
    both["state"] = both["state"].astype(object).where(both["state"].notna(), "undecided")
    traps = both[both["true_device"] == "trap"]
    return {
        **_states(traps), **_losses(traps), **_confidence(traps), **_causes(traps),
        **_companions(both),
    }  # fmt: skip


def _states(traps):
    return {
        "macro_f1": macro_f1(traps["true_state"], traps["state"]),
        "auroc_failed_open": auroc(traps["true_state"] == "failed_open", traps["p_failed_open"]),
        "undecided_share": _mean(traps["state"] == "undecided"),
    }


def macro_f1(true: pd.Series, said: pd.Series) -> float:
    """Mean F1 over the states that occur in the truth; an undecided trap is a miss."""
    scores = []
    for state in TRAP_STATES:
        wanted, got = (true == state).to_numpy(), (said == state).to_numpy()
        if wanted.any():
            scores.append(2 * (wanted & got).sum() / (wanted.sum() + got.sum()))
    return float(np.mean(scores))


def auroc(positive: pd.Series, score_of: pd.Series) -> float:
    """Chance that a failed_open trap scores above one that is not; ties count half."""
    positive = positive.to_numpy(dtype=bool)
    ranks = score_of.astype(float).fillna(0.0).rank().to_numpy()
    yes, no = positive.sum(), (~positive).sum()
    if not yes or not no:
        return math.nan
    return float((ranks[positive].sum() - yes * (yes + 1) / 2) / (yes * no))


def _losses(traps):
    said = traps["steam_loss_lb_per_h"].astype(float).fillna(0.0)
    true = traps["true_steam_loss_lb_per_h"]
    yearly = (true * traps["true_hours_per_year"]).to_numpy()
    order = np.argsort(-traps["annual_cost"].astype(float).fillna(0.0).to_numpy(), kind="stable")
    tenth = math.ceil(len(traps) / 10)
    perfect = np.sort(yearly)[::-1][:tenth].sum()
    low = traps["steam_loss_low_lb_per_h"].astype(float)
    high = traps["steam_loss_high_lb_per_h"].astype(float)
    inside = (low <= true + 1e-9) & (true <= high + 1e-9)
    ranged = low.notna().any()
    leaks = traps["true_state"].isin(["leaking", "failed_open"])
    return {
        "loss_in_top_tenth": float(yearly[order[:tenth]].sum() / perfect),
        "total_loss_ratio": float(said.sum() / true.sum()),
        "range_holds_leaks": _mean(inside[leaks]) if ranged else math.nan,
        "range_holds_all": _mean(inside) if ranged else math.nan,
    }


def _confidence(traps):
    decided = traps[traps["state"] != "undecided"]
    confidence = decided["confidence"].astype(float)
    if not confidence.notna().any():
        return dict.fromkeys(("calibration_error", "sure_right", "sure_share"), math.nan)
    right = decided["state"] == decided["true_state"]
    sure = confidence >= SURE
    return {
        "calibration_error": calibration_error(confidence, right),
        "sure_right": _mean(right[sure]),
        "sure_share": float(sure.sum() / len(traps)),
    }


def calibration_error(confidence: pd.Series, right: pd.Series, bins: int = 10) -> float:
    """Mean gap between confidence and share right, over equal bins, weighted by their size."""
    number = np.minimum((confidence.to_numpy() * bins).astype(int), bins - 1)
    gap = pd.DataFrame({"bin": number, "gap": confidence.to_numpy() - right.to_numpy(dtype=float)})
    return float(gap.groupby("bin")["gap"].sum().abs().sum() / len(gap))


def _causes(traps):
    faulty = traps[traps["true_cause"] != "none"]
    victims = traps[traps["true_cause"].isin(VICTIMS)]
    condemned = victims["state"].isin(CONDEMNED) | (victims["cause"] == "trap")
    return {
        "cause_right": _mean(faulty["cause"] == faulty["true_cause"]),
        "victims_condemned": _mean(condemned),
    }


def _companions(both):
    right = both["state"] == both["true_state"]
    device = both["true_device"]
    return {
        "companions_right": _mean(right[device != "trap"]),
        "vents_right": _mean(right[device == "air_vent"]),
        "breakers_right": _mean(right[device == "vacuum_breaker"]),
        "checks_right": _mean(right[device == "check_valve"]),
    }


def _mean(values):
    return float(np.mean(values)) if len(values) else math.nan


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("findings", type=Path, help="findings, .csv or .parquet")
    parser.add_argument("truth", type=Path, help="NAME-truth.csv of simulate_plants.py")
    arguments = parser.parse_args()
    read = pd.read_parquet if arguments.findings.suffix == ".parquet" else pd.read_csv
    truth = pd.read_csv(arguments.truth, keep_default_na=False, na_values=[""])
    for key, value in score(read(arguments.findings), truth).items():
        print(f"{MEASURES[key]:45} {value:.3f}")


if __name__ == "__main__":
    main()
