"""A Parquet file read in parts: what the whole file gives, from any row on."""

from __future__ import annotations

from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from survey.errors import UnreadableFile
from survey.readings.folders import files_of
from survey.readings.parquets import parquet_batches, parquet_top, read_parquet

ROWS = 53


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Write a round in row groups of 10 rows, the last of 3."""
    found = tmp_path / "r.parquet"
    tags = [f"T-{n}" for n in range(ROWS)]
    table = pa.table({"tag": tags, "inlet_temp_f": [200.0 + n for n in range(ROWS)]})
    pq.write_table(table, found, row_group_size=10, compression="none")
    return found


@pytest.mark.parametrize("skip", [0, 1, 9, 10, 15, 29, 30, 52, 53, 90])
@pytest.mark.parametrize("rows", [1, 7, 10, 25, 100])
def test_from_any_row_on_batches_give_the_whole(path: Path, rows: int, skip: int) -> None:
    whole = read_parquet(path)
    batches = list(parquet_batches(path, rows, skip=skip))
    assert all(0 < len(batch.cells) <= rows for batch in batches)
    lines = [line for batch in batches for line in batch.lines.tolist()]
    assert lines == whole.lines.tolist()[skip:] == list(range(skip + 1, ROWS + 1))
    if batches:
        joined = pa.concat_tables([batch.cells for batch in batches])
        assert joined.equals(whole.cells.slice(skip))


def test_row_groups_before_the_first_row_are_not_read(path: Path) -> None:
    # Twenty rows in, the first group's words are damaged: what comes after is read all the same.
    raw = path.read_bytes()
    chunk = pq.read_metadata(path).row_group(0).column(1)
    at = raw.index(b"T-3", 0, chunk.data_page_offset)
    path.write_bytes(raw[:at] + b"\xff\xfe\xfd" + raw[at + 3 :])
    after = next(parquet_batches(path, 100, skip=20))
    assert after.cells.column("tag").to_pylist()[0] == "T-20"
    with pytest.raises(UnreadableFile, match="damaged or cut short"):
        list(parquet_batches(path, 100, skip=2))
    with pytest.raises(UnreadableFile, match="damaged or cut short"):
        read_parquet(path)


def test_the_top_is_the_start_and_says_how_many_there_are(path: Path, tmp_path: Path) -> None:
    top, rows = parquet_top(path)
    assert rows == ROWS
    assert top.cells.equals(read_parquet(path).cells)
    long = tmp_path / "long.parquet"
    pq.write_table(pa.table({"tag": [str(n) for n in range(5_000)]}), long)
    top, rows = parquet_top(long)
    assert (rows, len(top.cells), top.lines[0]) == (5_000, 200, 1)


def test_a_folder_stands_for_its_parquet_files_by_name(path: Path, tmp_path: Path) -> None:
    folder = tmp_path / "round"
    folder.mkdir()
    for name in ("b.parquet", "A.PARQUET", "c.csv", "_metadata.parquet", ".c.parquet", "parquet"):
        (folder / name).write_bytes(path.read_bytes())
    assert [one.name for one in files_of([folder, path])] == ["A.PARQUET", "b.parquet", "r.parquet"]


def test_a_folder_that_holds_none_or_may_not_be_opened_is_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with pytest.raises(UnreadableFile, match=r"a folder with no \.parquet file in it"):
        files_of([tmp_path])

    def closed(_: Path) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "iterdir", closed)
    with pytest.raises(UnreadableFile, match=r"cannot be looked into \(Permission denied\)"):
        files_of([tmp_path])


def test_a_file_without_columns_or_with_too_many_is_refused(tmp_path: Path) -> None:
    many = pa.table({f"c{n}": pa.nulls(1) for n in range(1_001)})
    for table, said in ((pa.table({}), "no columns"), (many, "1,001 columns, over the limit of")):
        pq.write_table(table, tmp_path / "odd.parquet")
        with pytest.raises(UnreadableFile, match=said):
            read_parquet(tmp_path / "odd.parquet")
    pq.write_table(many.select(range(1_000)), tmp_path / "odd.parquet")
    assert len(read_parquet(tmp_path / "odd.parquet").cells.column_names) == 1_000
