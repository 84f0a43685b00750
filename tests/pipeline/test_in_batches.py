"""A large round is judged in batches, and nobody can tell."""

from __future__ import annotations

import pandas as pd
import pytest
from diagnosis.rounds import Plant, Station, made_round

from survey import analyze, pipeline


def test_batches_change_no_finding(monkeypatch: pytest.MonkeyPatch) -> None:
    places = {"Hill": Station(60.0, 3.0, heaters=60), "Dell": Station(15.0, 1.0, heaters=60)}
    frame = made_round(Plant(stations=places)).sample(frac=1.0, random_state=3)
    frame = frame.sort_values("equipment", kind="stable").reset_index(drop=True)
    whole = analyze(frame)
    parts = []
    judge = pipeline.judge
    monkeypatch.setattr(pipeline, "JUDGED_AT_ONCE", 50)
    monkeypatch.setattr(
        pipeline, "judge", lambda intake, **how: parts.append(1) or judge(intake, **how)
    )
    batched = analyze(frame)
    assert len(parts) > 4
    pd.testing.assert_frame_equal(batched.table, whole.table, check_exact=True)
    for name, value in whole.summary.items():
        if name not in ("made_at", "seconds"):
            assert batched.summary[name] == value, name
