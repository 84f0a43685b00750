"""Rounds of invented traps whose failures follow a known law, for checks of the fit."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from typing import Any

import numpy as np
import pandas as pd

from survey.columns import TRAP_STATES

FIRST = date(2020, 1, 1)
YEAR = 365.25


def row(tag: str, state: str = "working", **given: Any) -> dict[str, Any]:
    """Return a trap that is surely in this state, but for what is given."""
    sure = {f"p_{name}": float(name == state) for name in TRAP_STATES}
    return {
        "tag": tag, "device": "trap", "area": "Hall 1", "station": "N", "equipment": f"UH-{tag}",
        "trap_type": "inverted_bucket", "service": "unit_heater", "supply_psig": 40.0,
        "state": state, "confidence": 1.0, "annual_cost": 0.0, "installed_at": None,
    } | sure | given  # fmt: skip


def walked(
    lives_years: Sequence[float], looks_years: Sequence[float], **given: Any
) -> list[tuple[date, pd.DataFrame]]:
    """Return rounds of traps that were all new on the first day and then left alone."""
    rounds = []
    for look in looks_years:
        rows = [
            row(f"T-{i}", "failed_open" if life <= look else "working",
                installed_at=FIRST.isoformat(), **given)
            for i, life in enumerate(lives_years)
        ]  # fmt: skip
        rounds.append((FIRST + timedelta(days=round(look * YEAR)), pd.DataFrame(rows)))
    return rounds


def weibull_lives(count: int, *, scale_years: float, shape: float, seed: int = 5) -> np.ndarray:
    """Return lives drawn from a Weibull law, years."""
    return np.asarray(scale_years * np.random.default_rng(seed).weibull(shape, count))
