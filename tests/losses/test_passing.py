"""What blows steam and how much, with a bore or a pressure or without."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from survey.diagnosis.sound_levels import OPENINGS
from survey.diagnosis.verdict import diagnose
from survey.findings import Findings
from survey.losses.passing import OPENING_CHANCE, passing_and_flow
from survey.physics.orifice import steam_flow_lb_per_h
from survey.pipeline import analyze
from survey.readings import round_from_frame
from survey.site import Site

WHOLE = float(steam_flow_lb_per_h(
    bore_in=0.125, upstream_psia=64.7, downstream_psia=14.7, discharge_coefficient=0.65
))
BLOWN = {"air_vent": "failed_open", "vacuum_breaker": "leaking"}


def blowing(device: str, bore_in: float = 0.125, **cells: object) -> Findings:
    """Return that round judged."""
    return analyze(round_of(device, bore_in, **cells))


def round_of(device: str, bore_in: float = 0.125, **cells: object) -> pd.DataFrame:
    """Return a round of two devices that were seen and heard to blow steam, and a trap."""
    rows = [
        {
            "tag": f"D-{n}",
            "device": device,
            "equipment": f"UH-{n}",
            "supply_psig": 50.0,
            "return_psig": 2.0,
            "inlet_temp_f": 297.0,
            "outlet_temp_f": 280.0,
            "sound_db": 55.0,
            "background_db": 25.0,
            "sound_pattern": "continuous",
            "observed": "steam",
            "orifice_in": bore_in,
            **cells,
        }
        for n in (1, 2)
    ]
    cold = {"tag": "A-trap", "device": "trap", "supply_psig": 50.0, "valve_position": "closed",
            "inlet_temp_f": 70.0, "outlet_temp_f": 70.0, "sound_pattern": "quiet"}  # fmt: skip
    return pd.DataFrame([*rows, cold])


@pytest.mark.parametrize("device", BLOWN)
def test_a_known_bore_gives_a_loss_within_what_it_passes(device: str) -> None:
    table = blowing(device).table.set_index("tag").loc[["D-1", "D-2"]]
    assert (table["state"] == BLOWN[device]).all()
    assert (table["steam_loss_lb_per_h"] > 0.1 * WHOLE).all()
    assert (table["steam_loss_lb_per_h"] < WHOLE).all()
    assert (table["annual_cost"] > 0.0).all()
    assert table["rank"].tolist() == [1.0, 2.0]
    # The opening is not known, so the range is wide.
    ratio = table["steam_loss_high_lb_per_h"] / table["steam_loss_low_lb_per_h"].clip(lower=1e-9)
    assert (ratio > 1.8).all()


@pytest.mark.parametrize("device", BLOWN)
def test_it_passes_steam_by_the_chance_that_it_is_believed_to(device: str) -> None:
    findings = blowing(device)
    judged = diagnose(round_from_frame(round_of(device)).table, site=Site())
    passing, flow = passing_and_flow(judged, Site())
    confidence = findings.table.set_index("tag").loc[["D-1", "D-2"], "confidence"]
    np.testing.assert_allclose(passing[:2].sum(axis=1), confidence, rtol=1e-12)
    np.testing.assert_allclose(flow[:2], WHOLE, rtol=1e-3)


def test_a_breaker_is_open_by_little_as_often_as_by_much_and_a_vent_by_much() -> None:
    little = {device: float(openings[OPENINGS < 0.39].sum())
              for (device, _), openings in OPENING_CHANCE.items()}
    assert little == {"air_vent": 0.0, "vacuum_breaker": pytest.approx(0.5)}
    for openings in OPENING_CHANCE.values():
        assert openings.sum() == pytest.approx(1.0)


@pytest.mark.parametrize("device", BLOWN)
def test_no_bore_is_a_wide_estimate_that_says_so(device: str) -> None:
    findings, known = blowing(device, bore_in=np.nan), blowing(device)
    table = findings.table.set_index("tag")
    assert table["rank"].to_dict() == {"D-1": 1.0, "D-2": 2.0, "A-trap": 3.0}
    width = "steam_loss_high_lb_per_h"
    assert (table.loc["D-1", width] > 1.2 * known.table.set_index("tag").loc["D-1", width]).all()
    told = [line for line in findings.summary["assumptions"] if "0.125 in" in line]
    assert len(told) == 1
    assert "2 vents or breakers" in told[0]
    assert not any("0.125 in" in line for line in known.summary["assumptions"])


def test_they_blow_into_the_air_whatever_the_return() -> None:
    low = blowing("air_vent").table["steam_loss_lb_per_h"][0]
    high = blowing("air_vent", return_psig=49.0).table["steam_loss_lb_per_h"][0]
    assert high == pytest.approx(low, rel=0.02)


def test_no_pressure_at_all_is_taken_as_low_pressure_and_said() -> None:
    unread = {"supply_psig": np.nan, "inlet_temp_f": np.nan, "outlet_temp_f": np.nan}
    frame = pd.DataFrame(
        [{"tag": f"T-{n}", "sound_db": 60.0, "background_db": 25.0, "orifice_in": 0.125,
          "sound_pattern": "continuous", "observed": "steam", **unread} for n in range(2)]
    )  # fmt: skip
    findings = analyze(frame)
    lost = findings.table["steam_loss_lb_per_h"]
    most = steam_flow_lb_per_h(
        bore_in=0.125, upstream_psia=29.7, downstream_psia=14.7, discharge_coefficient=0.65
    )
    assert lost.between(0.02 * float(most), float(most)).all()
    assert any("2 devices taken at 15 psig" in line for line in findings.summary["assumptions"])
