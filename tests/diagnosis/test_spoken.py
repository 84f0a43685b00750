"""Evidence and actions in words: the row's own numbers, and no blame on a victim."""

from __future__ import annotations

import re

import pandas as pd
import pytest

from diagnosis.conftest import SITE, Judged
from survey.diagnosis.speech import odds_words
from survey.pipeline import analyze

NUMBERS_IN_WORDS = (
    (r"inlet reads (-?\d+) °F", "inlet_temp_f"),
    (r"outlet reads (-?\d+) °F", "outlet_temp_f"),
    (r"sounds (-?\d+) dB", "sound_db"),
    (r"to saturation \((-?\d+) °F\)", "saturation_f"),
    (r"return's saturation is (-?\d+) °F", "return_saturation_f"),
    (r"dB, ([+-]\d+) dB on its background", "sound_over_background_db"),
)
HEARD = {
    "continuous": "hisses without a pause",
    "intermittent": "comes and goes",
    "quiet": "it is quiet",
    "modulating": "rises and falls",
}
VICTIM_CAUSES = ("air_vent", "check_valve", "lift", "valved_off")


@pytest.fixture(scope="module")
def told(judged: Judged) -> pd.DataFrame:
    """Return the findings of the round with two more kinds of victim in it."""
    frame = judged.frame.copy()
    tag = frame["tag"]
    # A lift that 15 psig cannot make, and a heater cold behind a shut vent.
    frame.loc[tag == "T-025", ["lift_ft", "inlet_temp_f", "outlet_temp_f"]] = [60.0, 185.0, 150.0]
    frame.loc[tag == "T-025", ["sound_pattern", "sound_db"]] = ["quiet", 27.0]
    frame.loc[tag == "T-029", ["inlet_temp_f", "outlet_temp_f"]] = [112.0, 105.0]
    frame.loc[tag == "T-029", ["sound_pattern", "sound_db"]] = ["quiet", 27.0]
    frame.loc[tag == "V-029", ["valve_position", "inlet_temp_f"]] = ["closed", 95.0]
    return analyze(frame, site=SITE).table


@pytest.mark.parametrize(("pattern", "column"), NUMBERS_IN_WORDS)
def test_every_number_in_the_evidence_is_the_rows_own(
    told: pd.DataFrame, pattern: str, column: str
) -> None:
    said = told["evidence"].str.extract(pattern)[0]
    assert said.notna().sum() >= 3
    rows = told[said.notna()]
    wrong = (said[said.notna()].astype(float) - rows[column]).abs() > 0.5001
    assert not wrong.any(), rows.loc[wrong, ["tag", column, "evidence"]]


def test_the_pattern_told_is_the_pattern_heard(told: pd.DataFrame) -> None:
    for pattern, words in HEARD.items():
        said = told["evidence"].str.contains(words, regex=False, case=False)
        assert (told.loc[said, "sound_pattern"] == pattern).all()


def test_every_decided_failure_gives_its_odds_and_a_reading(told: pd.DataFrame) -> None:
    failed = told[(told["device"] == "trap") & ~told["state"].isin(["working", "undecided"])]
    assert len(failed) >= 8
    assert failed["evidence"].str.contains(r"\d to 1 for |about even for ").all()
    reading = r"reads \d|sounds \d|hisses|is quiet|came out"
    upstream = r"lift wants|vent is|check valve is"
    assert failed["evidence"].str.contains(f"{reading}|{upstream}|valve reads").all()


def test_a_blown_open_trap_is_told_as_such(told: pd.DataFrame) -> None:
    blown = told[told["state"] == "failed_open"]
    traps = blown[blown["device"] == "trap"]
    assert len(traps)
    assert traps["evidence"].str.contains("for blown open over").all()
    assert traps["action"].str.contains("Replace the trap").all()


@pytest.mark.parametrize("cause", VICTIM_CAUSES)
def test_a_victim_is_not_to_be_replaced(told: pd.DataFrame, cause: str) -> None:
    victims = told[(told["device"] == "trap") & (told["cause"] == cause)]
    assert len(victims) >= 1
    assert not victims["action"].str.contains(r"[Rr]eplace the trap|[Rr]epair", regex=True).any()
    assert victims["action"].str.contains("read the trap again").all()
    words = {"air_vent": "vent", "check_valve": "check valve", "lift": "lift",
             "valved_off": "Valved off"}[cause]  # fmt: skip
    assert victims["action"].str.contains(words).all()


def test_a_working_device_asks_for_nothing(told: pd.DataFrame) -> None:
    sure = (told["state"] == "working") & (told["confidence"] >= 0.8)
    assert (told.loc[sure, "action"] == "Nothing to do.").all()


def test_only_an_unsure_verdict_asks_to_be_confirmed(told: pd.DataFrame) -> None:
    traps = told[told["device"] == "trap"]
    asked = traps["action"].str.startswith("Confirm first (")
    assert (traps.loc[asked, "confidence"] < 0.8).all()


def test_what_speaks_against_is_told() -> None:
    # Hot as a blown-open trap and hissing, but only water was seen to come.
    frame = pd.DataFrame(
        {
            "tag": [f"T-{n}" for n in range(6)],
            "trap_type": "inverted_bucket",
            "orifice_in": 0.1875,
            "supply_psig": 60.0,
            "return_psig": 3.0,
            "inlet_temp_f": [296.0, 296.0, 296.0, 296.0, 296.0, 298.0],
            "outlet_temp_f": [205.0, 206.0, 205.0, 204.0, 205.0, 245.0],
            "sound_db": [34.0, 35.0, 33.0, 34.0, 34.0, 64.0],
            "background_db": 26.0,
            "sound_pattern": ["intermittent"] * 5 + ["continuous"],
            "observed": [None] * 5 + ["water"],
        }
    )
    evidence = analyze(frame, site=SITE).table["evidence"].iloc[5]
    assert "Against: water came out" in evidence
    assert re.search(r"\(\d[\d.,]* to 1 the other way\)", evidence)


def test_odds_are_said_plainly() -> None:
    assert odds_words(0.05) == "about even"
    assert odds_words(1.3863) == "4 to 1"
    assert odds_words(-1.3863) == "4 to 1"
    assert odds_words(3.6889) == "40 to 1"
    assert odds_words(6.0) == "400 to 1"
    assert odds_words(50.0) == "over 1,000 to 1"
