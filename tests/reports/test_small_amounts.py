"""Amounts too small to measure, and whose fault a breaker's is."""

from __future__ import annotations

import pandas as pd

from survey.reports import measures, tables, words


def test_steam_that_nothing_measures_is_not_told_to_its_digits() -> None:
    assert measures.flow((3.3e-5, 2.6e-10, 3.7e-6)) == "under 0.05 lb/h"
    assert measures.flow((0.0, 0.0, 0.0)).startswith("0 lb/h")
    assert measures.flow((0.02, 0.0, 0.5)) == "0.0200 lb/h (0 to 0.50)"


def test_a_breaker_at_fault_is_behind_its_own_state() -> None:
    table = pd.DataFrame({
        "device": ["vacuum_breaker", "vacuum_breaker", "trap", "vacuum_breaker"],
        "state": ["leaking", "undecided", "backed_up", "isolated"],
        "cause": ["unknown", "unknown", "unknown", "valved_off"],
    })  # fmt: skip
    found = tables.causes_of(table).tolist()
    assert found == ["vacuum_breaker", "unknown", "unknown", "valved_off"]
    assert words.BEHIND_IT[found[0]] == "a vacuum breaker"
