"""Several Parquet files, or a folder of them, judged in batches as one round."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from click.testing import CliRunner

from survey.cli import main
from survey.diagnosis.cuts import even_ends, runs_of
from survey.errors import MapError, UnreadableFile, UsageError
from survey.findings import Findings
from survey.pipeline import analyze
from survey.readings.folders import files_of
from survey.readings.parquets import parquet_batches
from survey.streaming.analyzing import analyze_to_file
from survey.streaming.source import Source, source_of
from tests.streaming.rounds import BATCH, SITE, messy, plain_round, same

pytestmark = pytest.mark.thorough


@pytest.fixture(scope="module")
def parts() -> list[pd.DataFrame]:
    """Return a messy round in unequal parts: tags and heaters stand in more than one of them."""
    frame = messy(plain_round())
    cuts = [0, 310, 311, 790, len(frame)]
    return [frame.iloc[a:b].reset_index(drop=True) for a, b in pairwise(cuts)]


def folder_of(parts: list[pd.DataFrame], folder: Path) -> Path:
    folder.mkdir()
    for number, part in enumerate(parts):
        part.to_parquet(folder / f"area-{number}.parquet", row_group_size=70 + number)
    return folder


def test_a_folder_has_the_findings_of_its_files_read_whole(
    parts: list[pd.DataFrame], tmp_path: Path
) -> None:
    folder = folder_of(parts, tmp_path / "round")
    analyze(folder, site=SITE).save(tmp_path / "whole.parquet")
    told = analyze_to_file([folder], tmp_path / "batches.parquet", site=SITE, batch_rows=BATCH)
    whole, batches = (Findings.load(tmp_path / f"{n}.parquet") for n in ("whole", "batches"))
    same(whole, batches)
    assert told is not None
    assert set(batches.rejects["row"]) == {
        "area-0.parquet, row 4", "area-0.parquet, row 21",
        "area-3.parquet, row 111", "area-3.parquet, row 112",
    }  # fmt: skip
    assert batches.rejects["reason"].str.contains("row 121 of area-0.parquet").sum() == 2


def test_the_same_rows_in_one_file_have_the_same_findings(
    parts: list[pd.DataFrame], tmp_path: Path
) -> None:
    folder = folder_of(parts, tmp_path / "round")
    pd.concat(parts, ignore_index=True).to_parquet(tmp_path / "one.parquet")
    for name in (folder, tmp_path / "one.parquet"):
        out = tmp_path / f"{name.stem}-out.parquet"
        assert analyze_to_file([name], out, site=SITE, batch_rows=BATCH) is not None
    several, one = (Findings.load(tmp_path / f"{n}-out.parquet").table for n in ("round", "one"))
    pd.testing.assert_frame_equal(several, one, check_exact=True)


def test_parts_whose_columns_have_other_types_are_one_round(
    parts: list[pd.DataFrame], tmp_path: Path
) -> None:
    unlike = [part.copy() for part in parts]
    unlike[0]["painted"] = None
    unlike[2]["supply_psig"] = unlike[2]["supply_psig"].map(str, na_action="ignore")
    unlike[3]["station"] = unlike[3]["station"].astype("category")
    unlike.insert(2, parts[0].head(0))
    folder = folder_of(unlike, tmp_path / "round")
    analyze(folder, site=SITE).save(tmp_path / "whole.parquet")
    assert analyze_to_file([folder], tmp_path / "batches.parquet", site=SITE, batch_rows=BATCH)
    whole, batches = (Findings.load(tmp_path / f"{n}.parquet") for n in ("whole", "batches"))
    same(whole, batches)
    assert any("area-2.parquet: no rows" in note for note in batches.summary["notes"])


def test_files_whose_headers_differ_are_left_to_the_whole_look(
    parts: list[pd.DataFrame], tmp_path: Path
) -> None:
    folder = folder_of([parts[0], parts[2].drop(columns="painted")], tmp_path / "round")
    out = tmp_path / "out.parquet"
    assert analyze_to_file([folder], out, site=SITE, batch_rows=BATCH) is None
    with pytest.raises(UsageError, match="headers that are not the columns' own or that differ"):
        analyze_to_file([folder], out, site=SITE, batch_rows=BATCH, cluster="local")
    assert not out.exists()


def source(tmp_path: Path, lengths: list[int], batch_rows: int) -> Source:
    start = 0
    for number, length in enumerate(lengths):
        table = pa.table({"tag": [f"T{n}" for n in range(start, start + length)]})
        pq.write_table(table, tmp_path / f"{number}.parquet", row_group_size=3)
        start += length
    found = source_of([tmp_path], header_map=None, altitude_ft=0.0, batch_rows=batch_rows)
    assert found is not None
    return found


@pytest.mark.parametrize("start", [0, 1, 3, 6, 7, 8, 15])
def test_batches_may_start_and_end_anywhere(tmp_path: Path, start: int) -> None:
    of = source(tmp_path, [7, 0, 1, 9], 4)
    ends = np.array([end for end in (2, 5, 8, 9, 17) if end > start])
    tags, before = [], start
    for end, tables in zip(ends, of.cut_at(ends, start), strict=True):
        batch = [tag for table in tables for tag in table.cells.column("tag").to_pylist()]
        assert len(batch) == end - before
        for table in tables:
            rows = np.array([int(tag[1:]) for tag in table.cells.column("tag").to_pylist()])
            file, lines = of.place(rows)
            assert lines.tolist() == table.lines.tolist()
            assert {of.paths[n].name for n in file} == {table.name}
        tags += batch
        before = int(end)
    assert tags == [f"T{n}" for n in range(start, 17)]


@pytest.mark.parametrize("skip", range(12))
def test_rows_left_out_at_the_start_are_not_given(tmp_path: Path, skip: int) -> None:
    pq.write_table(pa.table({"n": range(11)}), tmp_path / "it.parquet", row_group_size=4)
    tables = list(parquet_batches(tmp_path / "it.parquet", 3, skip=skip))
    rows = [n for table in tables for n in table.cells.column("n").to_pylist()]
    assert rows == list(range(skip, 11))
    assert [n for table in tables for n in table.lines] == [n + 1 for n in rows]


def test_runs_of_batches_leave_none_out() -> None:
    runs = runs_of(even_ends(1003, 100), 4)
    assert [start for start, _ in runs] == [0, 400, 800]
    assert np.concatenate([ends for _, ends in runs]).tolist() == [*range(100, 1001, 100), 1003]


def test_a_folder_is_its_parquet_files_by_name(tmp_path: Path) -> None:
    for name in ("b.parquet", "a.PARQUET", "_notes.parquet", ".c.parquet", "other.csv"):
        (tmp_path / name).write_bytes(b"")
    assert [path.name for path in files_of([tmp_path])] == ["a.PARQUET", "b.parquet"]
    (tmp_path / "empty").mkdir()
    with pytest.raises(UnreadableFile, match=r"no \.parquet file"):
        files_of([tmp_path / "empty"])


def test_the_command_judges_a_folder(parts: list[pd.DataFrame], tmp_path: Path) -> None:
    folder = folder_of(parts, tmp_path / "round")
    out = tmp_path / "out.parquet"
    done = CliRunner().invoke(main, ["analyze", str(folder), "--out", str(out)])
    assert done.exit_code == 0, done.output
    assert len(Findings.load(out).table) + 4 == sum(map(len, parts))


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--out", "round/findings.parquet"], "in a folder that is read as a round"),
        (["--cluster", "local"], "no --out"),
        (["--cluster", "local", "--out", "out.csv"], "out.csv"),
        (["--cluster", "local", "--out", "out.parquet"], "fewer than"),
    ],
)
def test_what_cannot_be_meant_is_said(
    parts: list[pd.DataFrame], tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
    options: list[str], words: str,
) -> None:
    folder_of(parts[:1], tmp_path / "round")
    monkeypatch.chdir(tmp_path)
    done = CliRunner().invoke(main, ["analyze", "round", *options])
    assert done.exit_code == 2
    assert words in " ".join(done.output.split())
    assert [path.name for path in tmp_path.iterdir()] == ["round"]


def test_a_map_that_names_a_header_of_none_is_refused(
    parts: list[pd.DataFrame], tmp_path: Path
) -> None:
    folder = folder_of(parts, tmp_path / "round")
    with pytest.raises(MapError, match="nothing"):
        source_of([folder], header_map={"nothing": "tag"}, altitude_ft=0.0, batch_rows=BATCH)
