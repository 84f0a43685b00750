"""Cuts between batches and the sample of a round: true whatever the order of its rows."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from survey.diagnosis import sampling
from survey.diagnosis.cuts import ends_between
from survey.streaming import sample_rows
from survey.streaming.sample_rows import SampleRows, too_many, without

CODES = st.lists(st.integers(-1, 12), min_size=1, max_size=60).map(np.array)


@given(CODES, st.integers(1, 20))
def test_no_equipment_is_parted(codes: np.ndarray, rows: int) -> None:
    ends = ends_between(codes, rows)
    batch = np.searchsorted(ends, np.arange(len(codes)), side="right")
    for code in range(13):
        assert len(set(batch[codes == code])) <= 1
    assert ends[-1] == len(codes)
    sizes = np.diff(ends, prepend=0)
    assert (sizes > 0).all()
    assert (sizes[:-1] >= rows).all()


def test_equipment_that_stands_together_is_cut_near_the_size_asked_for() -> None:
    codes = np.repeat(np.arange(1000), 4)
    ends = ends_between(codes, 101)
    assert (np.diff(ends[:-1], prepend=0) <= 104).all()


@pytest.fixture
def small_sample(monkeypatch: pytest.MonkeyPatch) -> None:
    for module in (sampling, sample_rows):
        monkeypatch.setattr(module, "SAMPLE", 50)
        monkeypatch.setattr(module, "LEAST_PER_STATION", 5)


@pytest.mark.usefixtures("small_sample")
@pytest.mark.parametrize("seed", range(5))
def test_a_round_thinned_as_it_is_read_leaves_the_same_sample(seed: int) -> None:
    rng = np.random.default_rng(seed)
    key = rng.integers(0, 200, 600).astype(np.uint64) << np.uint64(40)
    station = rng.choice(8, 600, p=[0.9, 0.04, *[0.01] * 6])
    whole = set(np.flatnonzero(sampling.sampled(key=key, station=station)))
    left = np.zeros(0, dtype=np.int64)
    for batch in np.array_split(rng.permutation(600), 7):
        left = np.concatenate([left, batch])
        left = left[sampling.sampled(key=key[left], station=station[left], times=2)]
    left = left[sampling.sampled(key=key[left], station=station[left])]
    assert set(left) == whole


def read_in_parts(rng: np.random.Generator, again: float) -> tuple[pd.DataFrame, np.ndarray]:
    """Return 600 rows, few of most stations, and those whose tag is given again.

    Parameters
    ----------
    again
        Chance of it in one small station; in the others it is one in twenty.
    """
    share = [0.9, 0.04, *[0.01] * 6]
    rows = pd.DataFrame(
        {"file_row": np.arange(600), "station": rng.choice(list("abcdefgh"), 600, p=share),
         "key": rng.integers(0, 2**62, 600, dtype=np.uint64)}
    )  # fmt: skip
    return rows, np.flatnonzero(rng.random(600) < np.where(rows["station"] == "b", again, 0.05))


def picked_in_parts(rows: pd.DataFrame) -> pd.DataFrame:
    read = SampleRows()
    for start in range(0, len(rows), 90):
        read.add(rows.iloc[start : start + 90])
    return read.picked()


@pytest.mark.usefixtures("small_sample")
@pytest.mark.parametrize("seed", range(40))
def test_rows_given_again_leave_the_sample_of_the_others(seed: int) -> None:
    rows, repeats = read_in_parts(np.random.default_rng(seed), 0.2)
    sample = picked_in_parts(rows)
    assert not too_many(sample, repeats)
    rest = rows.drop(index=repeats)
    codes = pd.factorize(rest["station"], sort=True)[0]
    wanted = rest[sampling.sampled(key=rest["key"].to_numpy(), station=codes)]
    kept = without(sample.assign(row=sample["file_row"]), repeats)
    assert sorted(kept["row"]) == sorted(wanted["file_row"])


@pytest.mark.usefixtures("small_sample")
@pytest.mark.parametrize("seed", range(40))
def test_a_station_of_which_most_rows_are_given_again_is_too_many(seed: int) -> None:
    rows, repeats = read_in_parts(np.random.default_rng(seed), 0.9)
    assert too_many(picked_in_parts(rows), repeats)


@pytest.mark.usefixtures("small_sample")
def test_a_sample_has_whole_equipment_and_every_station() -> None:
    rng = np.random.default_rng(2)
    key = np.repeat(rng.integers(0, 2**63, 300, dtype=np.uint64), 4)
    station = np.repeat(np.where(np.arange(300) < 295, 0, 1), 4)
    picked = sampling.sampled(key=key, station=station)
    assert 50 <= picked.sum() <= 70
    for name in np.unique(key):
        assert len(set(picked[key == name])) == 1
    assert picked[station == 1].sum() >= 5
