"""Large rounds of text are judged in batches as they are judged whole."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pandas as pd
import pytest

from survey.findings import Findings
from survey.pipeline import analyze
from survey.streaming.analyzing import analyze_to_file
from survey.streaming.source import source_of
from tests.streaming.rounds import BATCH, SITE, messy, plain_round, same

MAP = {"Plant number": "tag"}


@pytest.fixture(scope="module")
def frame() -> pd.DataFrame:
    return messy(plain_round())


def plain_text(frame: pd.DataFrame) -> str:
    return frame.to_csv(index=False)


def with_commas_in_numbers(frame: pd.DataFrame) -> str:
    return frame.to_csv(index=False, sep=";", decimal=",")


def with_lines_between(frame: pd.DataFrame) -> str:
    lines = plain_text(frame).splitlines()
    blank = "," * lines[0].count(",")
    # A page's worth of blank lines, the header again, and a total: lines are counted past them.
    return "\n".join([*lines[:300], blank, "", lines[0], *lines[300:], "Total" + blank, ""])


def with_a_mark_and_quotes(frame: pd.DataFrame) -> str:
    return "\ufeff" + frame.assign(note='said "hot", twice').to_csv(index=False, quoting=1)


def with_another_header(frame: pd.DataFrame) -> str:
    return plain_text(frame.rename(columns={"tag": "Plant number"}))


@pytest.mark.parametrize("write", [
    pytest.param(plain_text, marks=pytest.mark.thorough), with_commas_in_numbers,
    with_lines_between, pytest.param(with_a_mark_and_quotes, marks=pytest.mark.thorough),
    pytest.param(with_another_header, marks=pytest.mark.thorough),
])  # fmt: skip
def test_text_in_batches_is_judged_as_it_is_whole(
    frame: pd.DataFrame, tmp_path: Path, write: Callable[[pd.DataFrame], str]
) -> None:
    given, out, whole = (tmp_path / name for name in ("round.csv", "batches.parquet", "w.parquet"))
    given.write_text(write(frame), encoding="utf-8")
    named = MAP if write is with_another_header else None
    told = analyze_to_file([given], out, site=SITE, header_map=named, batch_rows=BATCH)
    assert told is not None
    analyze(given, site=SITE, header_map=named).save(whole)
    same(Findings.load(whole), Findings.load(out))


def test_a_tag_of_another_file_is_told_by_its_line_there(
    frame: pd.DataFrame, tmp_path: Path
) -> None:
    parts = [tmp_path / "1.csv", tmp_path / "2.csv"]
    for path, some in zip(parts, (frame.iloc[:600], frame.iloc[550:]), strict=True):
        path.write_text(with_lines_between(some), encoding="utf-8")
    out, whole = tmp_path / "batches.parquet", tmp_path / "whole.parquet"
    assert analyze_to_file(parts, out, site=SITE, batch_rows=BATCH) is not None
    analyze(parts, site=SITE).save(whole)
    same(Findings.load(whole), Findings.load(out))
    assert Findings.load(out).rejects["reason"].str.contains("1.csv").any()


def one_cell_too_many(frame: pd.DataFrame) -> str:
    lines = plain_text(frame).splitlines()
    return "\n".join([*lines[:500], lines[500] + ",more", *lines[501:]])


def a_unit_left_out(frame: pd.DataFrame) -> str:
    return plain_text(frame.rename(columns={"inlet_temp_f": "Inlet temperature"}))


@pytest.mark.parametrize("write", [one_cell_too_many, a_unit_left_out])
def test_text_that_needs_a_whole_look_is_left_alone(
    frame: pd.DataFrame, tmp_path: Path, write: Callable[[pd.DataFrame], str]
) -> None:
    given, out = tmp_path / "round.csv", tmp_path / "out.parquet"
    given.write_text(write(frame), encoding="utf-8")
    assert analyze_to_file([given], out, site=SITE, batch_rows=BATCH) is None
    assert list(tmp_path.iterdir()) == [given]


def test_a_cluster_reads_parquet_only(frame: pd.DataFrame, tmp_path: Path) -> None:
    given = tmp_path / "round.csv"
    given.write_text(plain_text(frame), encoding="utf-8")
    known = {"header_map": None, "altitude_ft": 0.0, "batch_rows": BATCH}
    assert source_of([given], **known) is not None
    assert source_of([given], **known, texts=False) is None
