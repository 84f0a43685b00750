"""A file of findings that is written before the ranks are known."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from survey.findings import Findings
from survey.losses.ranking import add_rank
from survey.streaming import findings_file
from survey.streaming.findings_file import SHOWN, FindingsFile

BATCHES = (60_000, 1, 25_000, 300)  # a page of a Parquet file holds 20,000 rows


def made(rows: int, *, share_due: float, dearest: float) -> pd.DataFrame:
    random = np.random.default_rng(7)
    return pd.DataFrame({
        "tag": [f"T-{number}" for number in random.permutation(rows)],
        "device": "trap",
        "state": np.where(random.random(rows) < share_due, "leaking", "working"),
        "annual_cost": np.minimum(random.gamma(0.3, 900.0, rows), dearest),
        "rank": np.nan,
        "evidence": "hisses without a pause",
    })  # fmt: skip


def in_batches(table: pd.DataFrame, path: Path) -> Findings:
    """Write findings batch by batch and rank them; return what the file gave back."""
    ends = np.cumsum(BATCHES)
    with FindingsFile(path) as file:
        for start, end in zip([0, *ends], ends, strict=False):
            file.add(pa.Table.from_pandas(table[start:end], preserve_index=False))
        rank = add_rank(table)["rank"].to_numpy()
        dear = file.finish(rank, {"rows_read": len(table)}, pd.DataFrame({"row": ["3"]}))
    return Findings(dear, pd.DataFrame(), {})


@pytest.mark.parametrize(("share_due", "dearest"), [
    (0.3, np.inf), (1.0, np.inf), (0.0, np.inf), (1e-3, np.inf), (0.5, 200.0),
])  # fmt: skip
def test_ranks_come_to_stand_where_they_belong(
    tmp_path: Path, share_due: float, dearest: float
) -> None:
    table = made(sum(BATCHES), share_due=share_due, dearest=dearest)
    told = in_batches(table, tmp_path / "batches.parquet")
    ranked = add_rank(table)
    pd.testing.assert_frame_equal(pd.read_parquet(tmp_path / "batches.parquet"), ranked)
    expected = ranked[ranked["rank"] <= SHOWN].reset_index(drop=True)
    pd.testing.assert_frame_equal(told.table, expected)


def test_file_says_of_itself_what_a_saved_one_says(tmp_path: Path) -> None:
    table = made(sum(BATCHES), share_due=0.3, dearest=np.inf)
    in_batches(table, tmp_path / "batches.parquet")
    whole = Findings(add_rank(table), pd.DataFrame({"row": ["3"]}), {"rows_read": len(table)})
    whole.save(tmp_path / "whole.parquet")
    batches, saved = (pq.ParquetFile(tmp_path / f"{name}.parquet") for name in ("batches", "whole"))
    assert batches.schema_arrow.equals(saved.schema_arrow, check_metadata=True)
    # No least and greatest of numbers that stood there for a while.
    at = batches.schema_arrow.get_field_index("rank")
    assert not batches.metadata.row_group(0).column(at).is_stats_set


def test_ranks_that_are_packed_are_no_place_to_write(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    packed = {"compression": "gzip"}
    monkeypatch.setattr(findings_file, "written_as", lambda _: packed)
    with pytest.raises(ValueError, match="not written as they are"):
        in_batches(made(sum(BATCHES), share_due=0.3, dearest=np.inf), tmp_path / "out.parquet")
