"""A round of CSV put by on the disk is judged as one held in memory, and leaves nothing behind."""

from __future__ import annotations

import errno
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from survey.errors import OutputError
from survey.findings import Findings
from survey.pipeline import analyze
from survey.readings.spooling import Spill, Spool
from survey.streaming.analyzing import analyze_to_file
from survey.streaming.source import source_of
from survey.streaming.texts import Held
from tests.streaming.rounds import BATCH, SITE, messy, plain_round, same

pytestmark = pytest.mark.usefixtures("small_blocks")


class _Full:
    """A file on a disk with no more room."""

    closed = False

    def write(self, given: Any) -> int:
        raise OSError(errno.ENOSPC, "No space left on device")

    def close(self) -> None:
        self.closed = True


def test_a_full_disk_leaves_the_rows_in_memory(tmp_path: Path) -> None:
    path, full = tmp_path / "round.csv", _Full()
    plain_round().to_csv(path, index=False)
    found = source_of(
        [path], header_map=None, altitude_ft=0.0, batch_rows=BATCH, spill=lambda: full
    )
    assert found is not None
    assert [type(text) for text in found.texts] == [Held]
    assert full.closed


def test_a_folder_that_is_not_there_is_named_as_ever(tmp_path: Path) -> None:
    path = tmp_path / "round.csv"
    plain_round().to_csv(path, index=False)
    with pytest.raises(OutputError):
        analyze_to_file([path], tmp_path / "none" / "f.parquet", site=SITE, batch_rows=BATCH)


@pytest.fixture(scope="module")
def frame() -> pd.DataFrame:
    return messy(plain_round())


def parted(frame: pd.DataFrame) -> list[str]:
    """Return two texts with tags in common, lines that are no rows, and a total."""
    texts = [some.to_csv(index=False) for some in (frame.iloc[:600], frame.iloc[550:])]
    head = texts[0].splitlines()[0]
    blank = "," * head.count(",")
    lines = texts[1].splitlines()
    return [texts[0], "\n".join([*lines[:300], blank, head, *lines[300:], "Total" + blank])]


def quoted_line_break(frame: pd.DataFrame) -> list[str]:
    one, other = parted(frame)
    return [one, other.replace("green, ", "green,\n")]


@pytest.mark.parametrize(("write", "kinds"), [
    pytest.param(parted, [Spool, Spool], id="both put by"),
    pytest.param(quoted_line_break, [Spool, Held], id="one held", marks=pytest.mark.thorough),
])  # fmt: skip
def test_findings_are_the_same_and_nothing_is_left_behind(
    frame: pd.DataFrame, tmp_path: Path, spill: Spill,
    write: Callable[[pd.DataFrame], list[str]], kinds: list[type],
) -> None:  # fmt: skip
    (tmp_path / "in").mkdir()
    (tmp_path / "out").mkdir()
    paths = [tmp_path / "in" / "1.csv", tmp_path / "in" / "2.csv"]
    for path, text in zip(paths, write(frame), strict=True):
        path.write_text(text, encoding="utf-8", newline="")
    found = source_of(paths, header_map=None, altitude_ft=0.0, batch_rows=BATCH, spill=spill)
    assert found is not None
    assert [type(text) for text in found.texts] == kinds
    out = tmp_path / "out" / "f.parquet"
    assert analyze_to_file(paths, out, site=SITE, batch_rows=BATCH) is not None
    assert list(out.parent.iterdir()) == [out]
    analyze(paths, site=SITE).save(tmp_path / "whole.parquet")
    batches = Findings.load(out)
    same(Findings.load(tmp_path / "whole.parquet"), batches)
    assert batches.rejects["reason"].str.contains("1.csv").any()
    assert batches.rejects["reason"].str.contains("total").any()


@pytest.mark.thorough
def test_put_by_or_held_the_findings_are_the_same_bit_for_bit(
    frame: pd.DataFrame, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "round.csv"
    frame.to_csv(path, index=False)
    outs = [tmp_path / "put_by.parquet", tmp_path / "held.parquet"]
    assert analyze_to_file([path], outs[0], site=SITE, batch_rows=BATCH) is not None
    monkeypatch.setattr("survey.streaming.texts.spooled", lambda *_, **__: None)
    assert analyze_to_file([path], outs[1], site=SITE, batch_rows=BATCH) is not None
    put_by, held = map(Findings.load, outs)
    pd.testing.assert_frame_equal(put_by.table, held.table, check_exact=True)
    pd.testing.assert_frame_equal(put_by.rejects, held.rejects, check_exact=True)


def test_what_only_a_whole_look_settles_leaves_nothing(
    frame: pd.DataFrame, tmp_path: Path
) -> None:
    doubtful = frame.assign(read_at="03/04/2025")
    path = tmp_path / "round.csv"
    doubtful.to_csv(path, index=False)
    assert analyze_to_file([path], tmp_path / "f.parquet", site=SITE, batch_rows=BATCH) is None
    assert list(tmp_path.iterdir()) == [path]
