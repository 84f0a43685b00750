"""The printed summary: what it says, and that no terminal can be misled by it."""

from __future__ import annotations

import re

import pandas as pd
import pytest

from survey.findings import Findings
from survey.readings.header_notes import DEVICES_UNUSED, LEVELS_UNUSED
from survey.reports.terminal import summary_text
from survey.reports.words import CAUTIONS

ESCAPES = re.compile(r"[\x00-\x09\x0b-\x1f\x7f-\x9f\u200e\u200f\u061c\u202a-\u202e\u2066-\u2069]")


def unit(tag: str, **values: object) -> dict[str, object]:
    """Return one judged trap; any value may be given."""
    row: dict[str, object] = {
        "tag": tag, "device": "trap", "equipment": "UH-1", "area": "Hall", "state": "working",
        "confidence": 0.97, "annual_cost": 0.0, "annual_cost_low": 0.0, "annual_cost_high": 0.0,
        "rank": float("nan"), "action": "Nothing to do.",
    }
    return row | values


def findings_of(
    units: list[dict[str, object]], rejects: pd.DataFrame | None = None, **summary: object
) -> Findings:
    """Return findings whose totals are those of the units given."""
    table = pd.DataFrame(units)
    rejects = pd.DataFrame(columns=["row", "column", "value", "reason"]) if rejects is None \
        else rejects
    states = {str(k): int(v) for k, v in table["state"].value_counts().items()}
    totals: dict[str, object] = {
        "rows_read": len(table) + len(rejects), "rows_judged": len(table),
        "rows_set_aside": len(rejects), "states": states, "states_by_device": {"trap": states},
        "steam_loss_lb_per_h": 525.0, "steam_loss_low_lb_per_h": 300.0,
        "steam_loss_high_lb_per_h": 750.0, "annual_cost": 3456.0, "annual_cost_low": 2000.0,
        "annual_cost_high": 5000.0, "annual_co2_t": 18.3, "currency": "USD",
        "site_name": "Nursery", "loss_basis": "Loss counted by the whole pound.",
        "assumptions": ["Money in USD."], "calibration": [], "notes": [],
    }
    return Findings(table, rejects, totals | summary)


OPEN = unit(
    "T-1", state="failed_open", confidence=0.93, annual_cost=3456.0, annual_cost_low=2000.0,
    annual_cost_high=5000.0, rank=1.0, action="Replace the trap. Then listen again.",
)
COLD = unit("T-2", state="cold", confidence=0.81, rank=2.0, action="Open the vent.")
DOUBTFUL = unit("T-3", state="undecided", confidence=0.5, rank=3.0, action="Read the outlet.")


def test_the_whole_text() -> None:
    rejects = pd.DataFrame({
        "row": ["7", "9", "12"], "column": ["inlet_temp_f", "inlet_temp_f", "tag"],
        "value": ["-900", "-901", ""], "reason": ["below absolute zero"] * 2 + ["no tag"],
    })
    findings = findings_of(
        [OPEN, COLD, DOUBTFUL, unit("T-4")], rejects, notes=["two title lines skipped"],
        calibration=[{"words": "The contact thermometer read about 3 % low."}],
    )
    assert summary_text(findings, width=80) == (
        "Nursery: 4 devices judged, 3 need something done, 1 of them one more reading.\n"
        "Live steam lost costs USD 3,460 (2,000 to 5,000) a year: 525 lb/h (300 to 750),\n"
        "18.3 t of CO2 a year. In brackets: 10 % to 90 % range.\n"
        "Loss counted by the whole pound.\n"
        "\n"
        "Devices by state\n"
        "- 4 steam traps: 1 working; 1 blown open; 1 cold, no steam reaches it; 1\n"
        "  undecided\n"
        "\n"
        "What the instruments were found to do\n"
        "- The contact thermometer read about 3 % low.\n"
        "\n"
        "What to mend\n"
        "  1. T-1  Hall, UH-1                                  USD 3,460 (2,000 to 5,000)\n"
        "     Blown open, 93 % sure. Replace the trap.\n"
        "  2. T-2  Hall, UH-1                                               no steam lost\n"
        "     Cold, no steam reaches it, 81 % sure. Open the vent.\n"
        "  3. T-3  Hall, UH-1                                               no steam lost\n"
        "     Undecided. Read the outlet.\n"
        "\n"
        "Set aside: 3 of 7 rows read\n"
        "- rows 7, 9: inlet_temp_f: below absolute zero (found '-900', '-901')\n"
        "- row 12: tag: no tag\n"
        "\n"
        "Noticed while reading\n"
        "- two title lines skipped\n"
        "\n"
        "Assumptions\n"
        "- Money in USD.\n"
        "\n"
        "Before anyone opens, shuts or adjusts anything\n"
        + "\n".join(re.findall(r"(.{1,80})(?:\s|$)", CAUTIONS))
    )


def header(name: str, column: str | None = None) -> dict[str, str | None]:
    return {"header": name, "column": column, "sample": "1"}


def test_readings_that_are_not_used_are_said_before_any_verdict() -> None:
    headers = [header("Tag", "tag"), header("dB by the door"), header("Serial"), header("Leg °F")]
    note = f"'Sort' seems to say what each device is and was not used, {DEVICES_UNUSED}"
    levels = f"'a' and 'b' both look like background_db, {LEVELS_UNUSED}"
    text = summary_text(findings_of([OPEN], headers=headers, notes=[note, levels]), width=100)
    first = text[: text.index("Live steam lost")]
    assert "Not used, though they seem readings: 'dB by the door' and 'Leg °F'." in first
    assert "'Sort' seems to say what each device is" in first
    assert "'a' and 'b' both look like background_db" in first
    assert "Serial" not in first
    settled = [header("Tag", "tag"), {**header("Leg °F"), "how": "set by map"},
               {**header("Gun °F"), "sample": "the red one"}]  # fmt: skip
    for none in (headers[:1], settled):
        assert "Not used" not in summary_text(findings_of([OPEN], headers=none), width=100)


@pytest.mark.parametrize("width", [40, 57, 80, 100])
def test_no_line_is_longer_than_the_terminal(width: int) -> None:
    long = unit("T-" + "9" * 300, area="A" * 200, equipment="é" * 90, rank=1.0, annual_cost=9e7,
                annual_cost_low=1e7, annual_cost_high=2e8, action="word " * 4000)
    text = summary_text(
        findings_of([long] * 12, assumptions=["all " * 90], site_name="N" * 400), width=width
    )
    assert max(len(line) for line in text.splitlines()) <= width


def test_nothing_is_bold_unless_asked() -> None:
    findings = findings_of([OPEN])
    assert "\x1b" not in summary_text(findings, width=80)
    assert "\x1b[1mDevices by state\x1b[0m" in summary_text(findings, width=80, colour=True)


def test_what_a_terminal_would_obey_is_dropped() -> None:
    hostile = "a\x1b[2Jb\rc\u202ed\u061ce\x9bf\u2028g\x00"
    rejects = pd.DataFrame({"row": [hostile], "column": [hostile], "value": [hostile],
                            "reason": [hostile]})
    text = summary_text(findings_of(
        [OPEN | {"tag": hostile, "area": hostile, "equipment": hostile, "action": hostile}],
        rejects, notes=[hostile + "\ud800"], assumptions=[hostile], site_name=hostile,
        currency=hostile, calibration=[{"words": hostile}],
    ), width=80)
    assert not ESCAPES.search(text)
    assert "\u2028" not in text
    text.encode()


def test_a_sound_plant_needs_nothing_and_no_cautions() -> None:
    text = summary_text(findings_of([unit("T-1"), unit("T-2")], annual_cost=0.0,
                                    annual_cost_low=0.0, annual_cost_high=0.0), width=80)
    assert text.startswith("Nursery: 2 devices judged, 0 need something done.\n")
    assert "Before anyone" not in text
    assert "What to mend" not in text


def test_no_more_than_ten_are_listed_worst_first() -> None:
    units = [OPEN | {"tag": f"T-{n}", "rank": float(n)} for n in range(30, 0, -1)]
    text = summary_text(findings_of(units), width=80)
    listed = re.findall(r"^ *(\d+)\. (T-\d+)", text, flags=re.MULTILINE)
    assert listed == [(str(n), f"T-{n}") for n in range(1, 11)]
    assert "The 10 to mend first" in text


def test_many_faults_are_told_by_kind_and_counted() -> None:
    rejects = pd.DataFrame({
        "row": [str(n) for n in range(60)], "column": "inlet_temp_f", "value": "x",
        "reason": [f"reason {n % 12}" for n in range(60)],
    })
    text = summary_text(findings_of([OPEN], rejects), width=80)
    assert "Set aside: 60 of 61 rows read" in text
    assert "- rows 0, 12, 24, 36, 48: inlet_temp_f: reason 0" in text
    assert "- and 20 rows more, for other reasons" in text


def test_missing_places_leave_no_trace() -> None:
    text = summary_text(findings_of(
        [OPEN | {"area": float("nan"), "equipment": None}]), width=80)
    assert "nan" not in text
    assert "None" not in text
