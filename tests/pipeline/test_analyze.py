"""analyze(): every kind of file, nothing lost, totals that are sums, progress that is told."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

from pipeline.rounds import EXTRA, small_round, write
from survey import analyze
from survey.columns import CAUSES, FINDING_NAMES, INPUT_NAMES, STATES_BY_DEVICE
from survey.errors import NothingToJudge
from survey.findings import Findings
from survey.readings import round_from_frame
from survey.site import Site

KINDS = (".csv", ".parquet", ".xlsx")
SUMMARY_KEYS = {
    "rows_read",
    "rows_judged",
    "rows_set_aside",
    "states",
    "states_by_device",
    "causes",
    "steam_loss_lb_per_h",
    "steam_loss_low_lb_per_h",
    "steam_loss_high_lb_per_h",
    "annual_cost",
    "annual_cost_low",
    "annual_cost_high",
    "annual_co2_t",
    "annual_loss_klb",
    "currency",
    "site_name",
    "loss_basis",
    "assumptions",
    "calibration",
    "notes",
    "headers",
    "made_at",
    "seconds",
    "version",
}


@pytest.fixture(scope="module")
def frame() -> pd.DataFrame:
    """Return a small round."""
    return small_round()


@pytest.fixture(scope="module")
def findings(frame: pd.DataFrame) -> Findings:
    """Return its findings."""
    return analyze(frame, site=Site(name="Nursery"))


@pytest.fixture(scope="module")
def faulty(tmp_path_factory: pytest.TempPathFactory) -> Findings:
    """Return findings of a file with rows that cannot be used."""
    frame = small_round(4).astype(object)
    frame.loc[0, "inlet_temp_f"] = "-500"
    frame.loc[1, "tag"] = None
    frame.loc[2, "tag"] = frame.loc[3, "tag"]
    frame.loc[4, "orifice_in"] = "80"
    return analyze(write(frame, tmp_path_factory.mktemp("faulty") / "round.csv"))


@pytest.mark.parametrize("suffix", KINDS)
def test_every_kind_of_file_gives_the_same_findings(
    frame: pd.DataFrame, findings: Findings, tmp_path: Path, suffix: str
) -> None:
    again = analyze(write(frame, tmp_path / f"round{suffix}"), site=Site(name="Nursery"))
    pd.testing.assert_frame_equal(
        again.table[list(FINDING_NAMES)], findings.table[list(FINDING_NAMES)]
    )
    assert list(again.table.columns) == list(findings.table.columns)
    varies = {"made_at", "seconds", "headers"}
    for key in SUMMARY_KEYS - varies:
        assert again.summary[key] == findings.summary[key], key


def test_several_files_are_one_round(
    frame: pd.DataFrame, findings: Findings, tmp_path: Path
) -> None:
    first = write(frame.iloc[:9], tmp_path / "a.csv")
    second = write(frame.iloc[9:], tmp_path / "b.xlsx")
    again = analyze([first, second], site=Site(name="Nursery"))
    pd.testing.assert_series_equal(again.table["state"], findings.table["state"])
    np.testing.assert_allclose(again.table["confidence"], findings.table["confidence"])


def test_a_round_read_before_gives_the_same(frame: pd.DataFrame, findings: Findings) -> None:
    read = round_from_frame(frame)
    again = analyze(read, site=Site(name="Nursery"))
    pd.testing.assert_frame_equal(again.table, findings.table)


def test_the_table_given_is_left_as_it_was(frame: pd.DataFrame) -> None:
    before = frame.copy(deep=True)
    analyze(frame)
    pd.testing.assert_frame_equal(frame, before)


def test_every_input_column_is_kept(frame: pd.DataFrame, findings: Findings) -> None:
    table = findings.table
    assert table.columns.is_unique
    for name in frame.columns:
        kept = f"input_{name}" if name in EXTRA and name != "Colour of tag" else name
        assert kept in table.columns, name
        if frame[name].dtype.kind == "f":
            np.testing.assert_array_equal(table[kept], frame[name])
        else:
            given = frame[name].astype(object)
            same = (table[kept].astype(object) == given) | (table[kept].isna() & given.isna())
            assert same.all(), name


def test_columns_named_as_the_findings_are_kept_beside_them(findings: Findings) -> None:
    table = findings.table
    assert (table["input_state"] == "New York").all()
    assert set(table["state"]) <= {s for states in STATES_BY_DEVICE.values() for s in states}
    assert (table["input_confidence"] == "high").all()
    assert table["confidence"].dtype == float
    assert any("'state' as 'input_state'" in note for note in findings.summary["notes"])


def test_inputs_come_first_then_every_finding_in_its_order(findings: Findings) -> None:
    columns = list(findings.table.columns)
    assert columns[-len(FINDING_NAMES) :] == list(FINDING_NAMES)
    assert "device" in columns


def test_a_converted_column_stands_beside_what_was_given() -> None:
    frame = pd.DataFrame(
        {"Tag no": ["7"], "Inlet Temp (°C)": ["140,5"], "Steam pressure [bar g]": [4.0]}
    )
    table = analyze(frame.replace("140,5", "140.5")).table
    assert table["Inlet Temp (°C)"].tolist() == ["140.5"]
    assert table["inlet_temp_f"].tolist() == pytest.approx([284.9])
    assert table["supply_psig"].tolist() == pytest.approx([58.0], abs=0.02)
    assert table["tag"].tolist() == ["7"]


def test_rows_read_are_judged_or_set_aside(faulty: Findings) -> None:
    summary = faulty.summary
    assert summary["rows_read"] == 12
    assert summary["rows_judged"] == len(faulty.table) == 8
    assert summary["rows_set_aside"] == len(faulty.rejects) == 4
    assert list(faulty.rejects.columns[:4]) == ["row", "column", "value", "reason"]
    assert sorted(faulty.rejects["row"]) == [2, 3, 5, 6]
    assert faulty.rejects["reason"].str.len().gt(0).all()
    reasons = " ".join(faulty.rejects["reason"])
    for words in ("absolute zero", "no tag", "already on row", "bore"):
        assert words in reasons


def test_a_row_set_aside_is_kept_whole(faulty: Findings) -> None:
    rejects = faulty.rejects
    taken = set(EXTRA) - {"Colour of tag"}
    assert set(small_round(1).columns) - taken <= set(rejects.columns)
    for name in taken:
        assert rejects[f"input_{name}"].tolist() == [EXTRA[name]] * 4
    assert "-500" in set(rejects["inlet_temp_f"])


def test_nothing_to_judge_carries_the_findings(tmp_path: Path) -> None:
    path = tmp_path / "round.csv"
    path.write_text("tag,inlet_temp_f\nT-1,-999\n,212\nT-3,\n", encoding="utf-8")
    with pytest.raises(NothingToJudge, match="3 rows, all set aside") as caught:
        analyze(path)
    findings = caught.value.findings
    assert caught.value.exit_code == 1
    assert isinstance(findings, Findings)
    assert len(findings.table) == 0
    assert set(FINDING_NAMES) <= set(findings.table.columns)
    assert len(findings.rejects) == 3
    assert findings.summary["rows_set_aside"] == findings.summary["rows_read"] == 3
    assert findings.summary["annual_cost"] == 0.0
    json.dumps(findings.summary, allow_nan=False)


@pytest.mark.parametrize("suffix", KINDS)
def test_findings_of_nothing_can_be_kept(tmp_path: Path, suffix: str) -> None:
    with pytest.raises(NothingToJudge) as caught:
        analyze(pd.DataFrame({"tag": ["T-1"], "inlet_temp_f": [-999.0]}))
    path = tmp_path / f"findings{suffix}"
    caught.value.findings.save(path)
    assert len(Findings.load(path).table) == 0


def test_the_summary_is_json_with_every_key(findings: Findings) -> None:
    text = json.dumps(findings.summary, allow_nan=False)
    assert json.loads(text) == findings.summary
    assert set(findings.summary) >= SUMMARY_KEYS
    assert findings.summary["site_name"] == "Nursery"
    assert findings.summary["seconds"] > 0.0
    header = next(h for h in findings.summary["headers"] if h["header"] == "inlet_temp_f")
    assert header == {
        "header": "inlet_temp_f",
        "column": "inlet_temp_f",
        "unit": "°F",
        "how": "exact",
        "sample": header["sample"],
    }
    assert float(header["sample"]) > 100.0


@pytest.mark.parametrize(
    "name", ["steam_loss_lb_per_h", "annual_loss_klb", "annual_cost", "annual_co2_t"]
)
def test_totals_are_sums_over_the_table(findings: Findings, name: str) -> None:
    assert findings.summary[name] == pytest.approx(float(findings.table[name].sum()))
    assert findings.summary[name] > 0.0


@pytest.mark.parametrize("name", ["steam_loss{}_lb_per_h", "annual_cost{}"])
def test_the_range_of_a_total_holds_it_and_is_narrower_than_sums_of_ends(
    findings: Findings, name: str
) -> None:
    total, low, high = (findings.summary[name.format(end)] for end in ("", "_low", "_high"))
    assert 0.0 < low < total < high
    # Devices err apart from each other, so the total is known better than each of them.
    each = findings.table[name.format("")]
    assert (high - low) / total < 2.0
    assert high < each.sum() * math.exp(1.2816 * 0.7)


def test_counts_are_counts_over_the_table(findings: Findings) -> None:
    table, summary = findings.table, findings.summary
    assert summary["states"] == table["state"].value_counts().to_dict()
    assert summary["causes"] == table["cause"].value_counts().to_dict()
    assert set(summary["causes"]) <= set(CAUSES)
    by_device: dict[str, int] = {}
    for device, states in summary["states_by_device"].items():
        mine = table[table["device"] == device]
        assert states == mine["state"].value_counts().to_dict()
        assert sum(states.values()) == len(mine)
        for state, count in states.items():
            by_device[state] = by_device.get(state, 0) + count
    assert by_device == summary["states"]


def test_progress_is_told_from_none_to_all(frame: pd.DataFrame) -> None:
    told: list[tuple[int, int]] = []
    analyze(frame, progress=lambda done, of: told.append((done, of)))
    assert told[0][0] == 0
    assert told[-1][0] == told[-1][1]
    assert [done for done, _ in told] == sorted(done for done, _ in told)


def test_a_header_map_is_used(tmp_path: Path) -> None:
    path = tmp_path / "round.csv"
    path.write_text("tag,How hot\nT-1,212\nT-2,90\n", encoding="utf-8")
    findings = analyze(path, header_map={"How hot": "inlet_temp_f"})
    assert findings.table["inlet_temp_f"].tolist() == [212.0, 90.0]
    assert "How hot" in findings.table.columns


def test_the_site_gives_pressures_where_rows_have_none(tmp_path: Path) -> None:
    frame = small_round(6).drop(columns=["supply_psig", "return_psig"])
    site = Site.from_mapping({"stations": {"Hill": {"supply_psig": 60, "return_psig": 3}}})
    table = analyze(frame, site=site).table
    # 60 psig boils at 307.3 °F, 3 psig at 221.5 °F (steam tables).
    assert table["saturation_f"].tolist() == pytest.approx([307.3] * len(table), abs=0.3)
    assert table["return_saturation_f"].tolist() == pytest.approx([221.5] * len(table), abs=0.3)
    assert not table["flags"].str.contains("pressure_assumed").any()


def test_a_round_of_files_and_a_round_of_memory_number_rows_as_each_does(tmp_path: Path) -> None:
    path = tmp_path / "round.csv"
    path.write_text("tag,inlet_temp_f\nT-1,212\nT-2,-999\n", encoding="utf-8")
    assert analyze(path).rejects["row"].tolist() == [3]
    frame = pd.DataFrame({"tag": ["T-1", "T-2"], "inlet_temp_f": [212.0, -999.0]})
    assert analyze(frame).rejects["row"].tolist() == [2]


def test_the_same_call_twice_gives_the_same(frame: pd.DataFrame, findings: Findings) -> None:
    again = analyze(frame, site=Site(name="Nursery"))
    pd.testing.assert_frame_equal(again.table, findings.table)
    same: dict[str, Any] = {k: again.summary[k] for k in SUMMARY_KEYS - {"made_at", "seconds"}}
    assert same == {k: findings.summary[k] for k in same}


def test_a_round_read_has_the_contracts_columns() -> None:
    assert tuple(round_from_frame(small_round(1)).table.columns) == INPUT_NAMES
