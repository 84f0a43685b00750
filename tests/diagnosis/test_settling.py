"""The reading that would settle it: expected information, held against brute force."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from diagnosis.conftest import SITE, Judged
from survey.columns import OBSERVATIONS, PATTERNS, VALVE_POSITIONS
from survey.diagnosis.hypotheses import HYPOTHESES, LOOKS_OF, by_state
from survey.diagnosis.settle import READING_WORDS, expected_bits, most_telling
from survey.diagnosis.trap_logs import trap_logs
from survey.pipeline import analyze

COUNT = len(HYPOTHESES)
SAMPLES = 20_000
OUTCOMES = 5


def entropy_bits(p: np.ndarray) -> np.ndarray:
    """Entropy of each row, bits."""
    return -(p * np.log2(np.maximum(p, 1e-300))).sum(axis=-1)


def simulated_bits(
    chance: np.ndarray, likely: np.ndarray, random: np.random.Generator
) -> tuple[float, float]:
    """Estimate what a reading tells of the state by drawing causes and readings: and its error."""
    cause = random.choice(COUNT, size=SAMPLES, p=chance)
    below = np.cumsum(likely[cause], axis=1)
    outcome = (random.random((SAMPLES, 1)) > below / below[:, -1:]).sum(axis=1)
    after = chance * likely[:, outcome].T
    after /= after.sum(axis=1, keepdims=True)
    told = entropy_bits(by_state(chance[None])) - entropy_bits(by_state(after))
    return float(told.mean()), float(told.std() / np.sqrt(SAMPLES))


chances = arrays.arrays(float, (COUNT,), elements=st.floats(1e-6, 1.0)).map(lambda p: p / p.sum())
likelihoods = arrays.arrays(float, (COUNT, OUTCOMES), elements=st.floats(1e-4, 1.0)).map(
    lambda p: p / p.sum(axis=1, keepdims=True)
)


@settings(max_examples=25)
@given(chances, likelihoods)
def test_expected_information_agrees_with_simulation(
    chance: np.ndarray, likely: np.ndarray
) -> None:
    bits = float(expected_bits(chance[None], likely[None])[0])
    simulated, error = simulated_bits(chance, likely, np.random.default_rng(5))
    assert bits == pytest.approx(simulated, abs=5.0 * error + 1e-9)


@settings(max_examples=50)
@given(chances, likelihoods)
def test_expected_information_lies_between_nothing_and_all(
    chance: np.ndarray, likely: np.ndarray
) -> None:
    bits = float(expected_bits(chance[None], likely[None])[0])
    assert 0.0 <= bits <= float(entropy_bits(by_state(chance[None]))[0]) + 1e-9


@settings(max_examples=50)
@given(chances, arrays.arrays(float, (OUTCOMES,), elements=st.floats(1e-3, 1.0)))
def test_a_reading_alike_under_every_cause_tells_nothing(
    chance: np.ndarray, outcome: np.ndarray
) -> None:
    likely = np.broadcast_to(outcome / outcome.sum(), (1, COUNT, OUTCOMES))
    assert float(expected_bits(chance[None], likely)[0]) == pytest.approx(0.0, abs=1e-9)


@settings(max_examples=25)
@given(chances, likelihoods)
def test_an_uninformative_split_of_a_reading_adds_nothing(
    chance: np.ndarray, likely: np.ndarray
) -> None:
    coin = np.concatenate([0.3 * likely, 0.7 * likely], axis=1)
    alone, both = (float(expected_bits(chance[None], each[None])[0]) for each in (likely, coin))
    assert both == pytest.approx(alone, abs=1e-9)


@settings(max_examples=25)
@given(chances)
def test_a_reading_that_shows_the_state_tells_all(chance: np.ndarray) -> None:
    likely = by_state(np.eye(COUNT))[None]
    bits = float(expected_bits(chance[None], likely)[0])
    assert bits == pytest.approx(float(entropy_bits(by_state(chance[None]))[0]), abs=1e-9)


def test_nothing_is_learnt_where_all_is_known() -> None:
    sure = np.zeros((1, COUNT))
    sure[0, 0] = 1.0
    likely = np.random.default_rng(1).dirichlet(np.ones(OUTCOMES), size=(1, COUNT))
    assert float(expected_bits(sure, likely)[0]) == 0.0


READ = ("inlet_temp_f", "outlet_temp_f", "sound_db", "sound_pattern", "observed", "valve_position")
READING_OF = dict(
    zip(("inlet", "outlet", "sound", "pattern", "observed", "valve"), READ, strict=True)
)
# Traps of which one or two readings alone are known, so that something is left to be told.
KNOWN = (
    {"inlet_temp_f": 236.0},
    {"inlet_temp_f": 240.0, "sound_pattern": "continuous"},
    {"sound_db": 44.0, "background_db": 26.0},
    {"inlet_temp_f": 120.0, "outlet_temp_f": 84.0, "valve_position": "open"},
)


def barely_read(judged: Judged, known: dict[str, object]) -> pd.DataFrame:
    """Return one trap of the round, alone on its heater, with only some readings."""
    tidy = judged.tidy[judged.tidy["tag"] == "T-030"].reset_index(drop=True)
    for name in (*READ, "background_db", "lift_ft"):
        tidy[name] = known.get(name, np.nan if tidy[name].dtype.kind == "f" else None)
    for name in ("sound_pattern", "observed", "valve_position"):
        tidy[name] = tidy[name].astype(judged.tidy[name].dtype)
    other = judged.tidy[judged.tidy["tag"] == "T-001"]  # so that both stations are there
    return pd.concat([tidy, other], ignore_index=True)


def values_of(reading: str) -> list[object]:
    """Return what a reading may show, evenly spread where it is a number."""
    words = {"pattern": PATTERNS, "observed": OBSERVATIONS, "valve": VALVE_POSITIONS}
    if reading in words:
        return list(words[reading])
    if reading == "sound":
        return list(np.linspace(11.0, 86.0, 251))
    return list(np.linspace(50.0, 280.0, 231))


def told_bits(judged: Judged, tidy: pd.DataFrame, reading: str, chance: np.ndarray) -> float:
    """Work out what a reading tells, from how the judge itself weighs each value it may show."""
    found = judged.diagnosis.calibration
    values = values_of(reading)
    many = pd.concat([tidy.iloc[:1]] * len(values) + [tidy.iloc[1:]], ignore_index=True)
    many["tag"] = [f"T-{n}" for n in range(len(many))]
    many["equipment"] = [f"E-{n}" for n in range(len(many))]
    many[READING_OF[reading]] = [*values, values[0]]
    many[READING_OF[reading]] = many[READING_OF[reading]].astype(tidy[READING_OF[reading]].dtype)
    if reading == "sound":
        many["background_db"] = 26.0
    whole, _ = judged.weigh(many)
    logs = trap_logs(found.model, found.instruments, whole.rows, whole.state).factors[reading]
    likely = np.exp(logs[: len(values)]).T
    likely /= likely.sum(axis=1, keepdims=True)
    bits, _ = simulated_bits(chance, likely, np.random.default_rng(3))
    return bits


@pytest.mark.parametrize("known", KNOWN, ids=str)
def test_what_tells_most_is_what_the_judge_would_learn_most_from(
    judged: Judged, known: dict[str, object]
) -> None:
    tidy = barely_read(judged, known)
    whole, weighed = judged.weigh(tidy)
    rows, state = whole.part(weighed.traps[:1])
    chance = weighed.joint.trap[:1]
    name, bits = most_telling(
        judged.diagnosis.calibration.model, rows, state, weighed.logs.flow_lb_per_h[:1], chance
    )
    unread = [r for r, column in READING_OF.items() if column not in known]
    told = {reading: told_bits(judged, tidy, reading, chance[0]) for reading in unread}
    assert name[0] in unread
    assert told[name[0]] >= max(told.values()) - 0.03, told
    assert bits[0] == pytest.approx(told[name[0]], abs=0.06)


def test_an_undecided_trap_names_one_reading_that_was_not_taken(judged: Judged) -> None:
    frame = judged.frame.copy()
    traps = frame["device"] == "trap"
    odd = frame[traps].index[::3]
    frame.loc[odd, ["inlet_temp_f", "outlet_temp_f", "sound_db", "background_db"]] = np.nan
    frame.loc[odd, ["sound_pattern", "observed", "valve_position"]] = None
    frame.loc[odd[::2], "sound_pattern"] = "continuous"
    frame.loc[frame["device"] == "check_valve", "inlet_temp_f"] = np.nan  # a trap's outlet too
    table = analyze(frame, site=SITE).table
    undecided = table[traps.to_numpy() & (table["state"] == "undecided")]
    assert len(undecided) >= 3
    for action in undecided["action"]:
        assert action.startswith("Undecided between ")
        assert sum(words in action for words in READING_WORDS.values()) == 1
    heard = undecided["sound_pattern"].notna()
    assert not undecided.loc[heard, "action"].str.contains("note the pattern").any()


def test_a_reading_that_was_taken_is_asked_for_once_more(judged: Judged) -> None:
    rng = np.random.default_rng(4)
    asked = {True: 0, False: 0}
    for missing in (0.0, 0.1, 0.2, 0.3, 0.5):
        frame = judged.frame.copy()
        for column in READING_OF.values():
            frame.loc[rng.random(len(frame)) < missing, column] = None
        table = analyze(frame, site=SITE).table
        for _, trap in table[table["device"] == "trap"].iterrows():
            for reading, column in READING_OF.items():
                if READING_WORDS[reading] in trap["action"]:
                    before = bool(pd.notna(trap[column]))
                    assert (f"{READING_WORDS[reading]} once more" in trap["action"]) == before
                    asked[before] += 1
    assert min(asked.values()) >= 3


@pytest.fixture(scope="module")
def doubtful_vents(judged: Judged) -> pd.DataFrame:
    """Return the undecided ones of vents that show half of this and half of that."""
    one = judged.tidy[judged.tidy["tag"] == "V-001"]
    shown = pd.MultiIndex.from_product(
        [np.linspace(120.0, 250.0, 8), np.linspace(0.3, 1.0, 15), [*OBSERVATIONS, None]],
        names=["inlet_temp_f", "way", "observed"],
    ).to_frame(index=False)
    many = one.loc[one.index.repeat(len(shown))].reset_index(drop=True)
    many["tag"] = many["equipment"] = [f"V-{n}" for n in range(len(many))]
    many["inlet_temp_f"] = shown["inlet_temp_f"]
    many["outlet_temp_f"] = shown["way"] * shown["inlet_temp_f"]
    many["observed"] = shown["observed"].astype(many["observed"].dtype)
    many[["sound_db", "background_db"]] = np.nan
    many[["sound_pattern", "valve_position"]] = None
    verdicts = judged.again(many)
    verdicts["observed"] = many["observed"].to_numpy(object)
    return verdicts[verdicts["state"] == "undecided"]


def test_an_undecided_vent_names_what_to_look_at(doubtful_vents: pd.DataFrame) -> None:
    assert len(doubtful_vents) >= 1
    assert doubtful_vents["action"].str.startswith("Undecided between ").all()
    assert doubtful_vents["action"].str.endswith("would tell most.").all()


def test_an_undecided_vent_is_not_to_be_read_as_it_was_read(doubtful_vents: pd.DataFrame) -> None:
    watched = doubtful_vents[doubtful_vents["observed"].notna()]
    assert len(watched) >= 1
    assert not watched["action"].str.contains("note what comes out").any()


def test_what_will_be_believed_is_on_average_what_is_believed(judged: Judged) -> None:
    tidy = barely_read(judged, KNOWN[1])
    before = judged.weigh(tidy)[1].joint.trap[0]
    after = []
    for word in OBSERVATIONS:
        seen = tidy.copy()
        seen.loc[0, "observed"] = word
        after.append(judged.weigh(seen)[1].joint.trap[0])
    likely = judged.diagnosis.calibration.model.observed[LOOKS_OF].T  # (outcomes, causes)
    weight = likely @ before
    assert weight.sum() == pytest.approx(1.0)
    np.testing.assert_allclose(weight @ np.array(after), before, atol=1e-6)
    known_now, known_then = (entropy_bits(by_state(p)) for p in (before[None], np.array(after)))
    assert weight @ known_then < known_now[0] - 0.01
