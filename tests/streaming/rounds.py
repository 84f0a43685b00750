"""Rounds to judge both ways, and what it means that the findings are the same."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from survey.findings import Findings
from survey.site import Site

SAMPLE = Path(__file__).parents[2] / "sample_data" / "nursery_round.parquet"
SITE = Site(altitude_ft=600.0)
BATCH = 150
OF_THE_RUN = {"seconds", "made_at"}


def plain_round() -> pd.DataFrame:
    """Return four nurseries of different instruments, one after another."""
    sample = pd.read_parquet(SAMPLE)
    rng = np.random.default_rng(5)
    parts = []
    for plant in range(4):
        part = sample.copy()
        for name in ("tag", "equipment", "station"):
            part[name] = part[name].astype("str") + f"-{plant}"
        part["sound_db"] += rng.normal(0.0, 2.0, len(part))
        part["inlet_temp_f"] += rng.normal(-2.0 * plant, 2.0, len(part))
        parts.append(part)
    return pd.concat(parts, ignore_index=True)


def messy(plain: pd.DataFrame) -> pd.DataFrame:
    """Return the round with tags given twice, faults, gaps, and a heater far from its vent."""
    frame = plain.copy()
    frame.loc[700, "tag"] = frame.loc[3, "tag"]
    frame.loc[3, "inlet_temp_f"] = 9e9  # the first of a tag is at fault, so the second stays
    frame.loc[900, "tag"] = frame.loc[120, "tag"]
    frame.loc[901, "tag"] = frame.loc[120, "tag"]
    frame.loc[901, "device"] = "air_vent"
    frame.loc[20, "tag"] = None
    frame.loc[30:34, "equipment"] = None
    frame.loc[40:44, "area"] = None
    frame.loc[50:60, "supply_psig"] = np.nan
    frame.loc[610, "equipment"] = frame.loc[100, "equipment"]
    frame.loc[610, "area"] = frame.loc[100, "area"]
    frame["painted"] = "green, \u00fcber"
    return frame


def misspelt(frame: pd.DataFrame) -> pd.DataFrame:
    """Return the round with words and names of places written in several ways, here and there."""
    frame = frame.copy()
    for name in ("station", "area", "sound_pattern", "trap_type", "observed"):
        frame[name] = frame[name].astype(object)
    station, area = frame["station"].copy(), frame["area"].copy()
    second = np.arange(len(frame)) % 7 == 2
    frame.loc[second, "station"] = station[second].str.upper()
    frame.loc[second & (station == "South-2"), "station"] = "South 2"
    frame.loc[~second & (station == "South-2"), "station"] = "SOUTH-2"
    frame.loc[second, "area"] = area[second].str.replace(" ", "").str.lower()
    frame.loc[5, "station"] = "Nroth-0"
    frame.loc[[1, 400, 1000], "sound_pattern"] = ["intermitent", "hum", "intermitent"]
    frame.loc[[2, 900], "trap_type"] = ["whatsit", "whatsit"]
    frame.loc[[3, 800], "observed"] = ["steem", "mist"]
    return frame


def same(whole: Findings, batches: Findings) -> None:
    """Hold that findings are equal but for the last digit of a number."""
    pd.testing.assert_frame_equal(whole.table, batches.table, rtol=1e-12, atol=1e-12)
    pd.testing.assert_frame_equal(whole.rejects, batches.rejects)
    assert whole.summary.keys() == batches.summary.keys()
    for name in whole.summary.keys() - OF_THE_RUN:
        assert batches.summary[name] == (
            pytest.approx(whole.summary[name], rel=1e-12)
            if isinstance(whole.summary[name], float)
            else whole.summary[name]
        ), name
