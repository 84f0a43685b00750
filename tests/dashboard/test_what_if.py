"""A unit judged again: by its whole round's calibration, and by its own equipment alone."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from survey import Findings, Site, analyze
from survey.columns import INPUT_NAMES
from survey.dashboard import what_if
from survey.dashboard.what_if import Calibrated, calibrated, judged_again

from .conftest import Opened, go

SAID = ["state", "cause", "action", "evidence", "flags"]


@pytest.fixture(scope="module")
def whole(findings: Findings, site: Site) -> Calibrated:
    return calibrated(findings, site)


@pytest.mark.parametrize("every", [pytest.param(3, marks=pytest.mark.thorough), 25])
def test_unchanged_readings_give_a_unit_its_own_verdict(whole: Calibrated, every: int) -> None:
    places = range(0, len(whole.of.table), every)
    table = whole.of.table.iloc[places]
    assert set(table["device"]) == set(whole.of.table["device"])
    again = pd.DataFrame([judged_again(whole, place, [{}])[0] for place in places])
    for name in SAID:
        assert again[name].fillna("").tolist() == table[name].fillna("").tolist()
    np.testing.assert_allclose(again["confidence"], table["confidence"], rtol=0, atol=1e-12)


def test_units_of_a_round_too_large_to_calibrate_on_keep_their_verdicts_too(
    findings: Findings, site: Site
) -> None:
    sample = findings.table[[name for name in INPUT_NAMES if name in findings.table.columns]]
    copies = 27  # more rows than a round is calibrated on
    large = pd.concat([sample] * copies, ignore_index=True)
    number = np.repeat(np.arange(copies), len(sample)).astype(str)
    for name in ("tag", "equipment"):
        large[name] = large[name].astype("str") + "-" + number
    judged = analyze(large, site=site)
    its = calibrated(judged, site)
    for place in range(0, len(large), 431):
        row = judged.table.iloc[place]
        [again] = judged_again(its, place, [{}])
        assert again is not None
        assert (again["state"], again["evidence"]) == (row["state"], row["evidence"])
        assert again["confidence"] == pytest.approx(row["confidence"], abs=1e-12)


def test_each_change_is_judged_by_itself(whole: Calibrated) -> None:
    place = int(np.flatnonzero(whole.of.table["tag"] == "T-160")[0])
    changes = [{"observed": "water"}, {}, {"sound_pattern": "quiet"}]
    together = judged_again(whole, place, changes)
    alone = [judged_again(whole, place, [one])[0] for one in changes]
    for one, other in zip(together, alone, strict=True):
        assert one is not None
        assert other is not None
        assert one[SAID].equals(other[SAID])
    sure = [one["confidence"] for one in together if one is not None]
    assert sure[1] == pytest.approx(whole.of.table["confidence"].iloc[place], abs=1e-12)
    assert len(set(sure)) == len(changes)


def test_a_reading_that_would_be_set_aside_has_no_verdict(whole: Calibrated) -> None:
    cannot_be, can = judged_again(whole, 0, [{"inlet_temp_f": 1e6}, {}])
    assert cannot_be is None
    assert can is not None


def test_a_unit_that_cannot_be_read_again_has_no_verdict(whole: Calibrated) -> None:
    lost = whole.equipment.copy()
    lost[[0, 5]] = -1
    assert judged_again(replace(whole, equipment=lost), 0, [{}, {}]) == [None, None]


def test_a_round_is_calibrated_once_for_all_its_units(
    open_app: Opened, findings: Findings, monkeypatch: pytest.MonkeyPatch
) -> None:
    calls: list[int] = []
    judged: list[int] = []
    calibrate, take_in = what_if.calibrate_round, what_if.take_in

    def counted(table: pd.DataFrame, **named: Site) -> object:
        calls.append(1)
        judged.append(len(table))
        return calibrate(table, **named)

    def measured(table: pd.DataFrame, *args: object) -> object:
        judged.append(len(table))
        return take_in(table, *args)

    monkeypatch.setattr(what_if, "calibrate_round", counted)
    monkeypatch.setattr(what_if, "take_in", measured)
    app = open_app("unit.py", findings)
    assert calls == []  # nothing is judged before it is asked for
    app = app.button(key="try_others").click().run()
    tags = app.selectbox(key="kept_unit").options
    app = app.selectbox(key="kept_unit").set_value(tags[1]).run()
    app = app.button(key="try_others").click().run()
    app = go(go(app, "overview.py"), "unit.py")
    assert not app.exception
    assert len(calls) == 1
    # Only the equipment concerned is taken in, once for each reading that is tried.
    assert judged[0] == len(findings.table)
    assert len(judged) == 3
    assert max(judged[1:]) < len(findings.table)
