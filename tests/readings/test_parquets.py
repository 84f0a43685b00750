from __future__ import annotations

import datetime as dt
from decimal import Decimal

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from survey.errors import UnreadableFile
from survey.readings import convert, limits, parquets, read_round, round_from_frame, understand
from tests.readings.build import checked


def write(tmp_path, columns, name="r.parquet", **options):
    path = tmp_path / name
    pq.write_table(pa.table(columns), path, **options)
    return path


@pytest.mark.parametrize(
    ("array", "values"),
    [
        (pa.array([200, None], pa.int16()), [200.0, None]),
        (pa.array([200, 201], pa.uint64()), [200.0, 201.0]),
        (pa.array(np.array([200, np.nan], np.float16)), [200.0, None]),
        (pa.array([200.5, None], pa.float32()), [200.5, None]),
        (pa.array([Decimal("200.25"), None]), [200.25, None]),
        (pa.array(["200", "n/a"]), [200.0, None]),
        (pa.array(["200", None], pa.large_string()), [200.0, None]),
        (pa.array(["200", None], pa.string_view()), [200.0, None]),
        (pa.array([b"200", None], pa.binary_view()), [200.0, None]),
        (pa.array(["200", "93.3 °C"]).dictionary_encode(), [200.0, 199.94]),
        (pa.array([b"200", b""], pa.binary()), [200.0, None]),
    ],
)
def test_numbers_of_any_sane_type(tmp_path, array, values):
    path = write(tmp_path, {"tag": ["A", "B"], "inlet_temp_f": array, "sound_db": [1.0, 2.0]})
    read = checked(read_round(path))
    found = [None if np.isnan(v) else v for v in read.table["inlet_temp_f"]]
    assert found == pytest.approx(values)
    assert read.lines.tolist() == [1, 2]


def test_what_is_no_number_is_set_aside(tmp_path):
    for array in (
        pa.array([True, False]),
        pa.array([dt.date(2025, 1, 1)] * 2),
        pa.array([np.inf, -np.inf]),
    ):
        read = checked(read_round(write(tmp_path, {"tag": ["A", "B"], "inlet_temp_f": array})))
        assert len(read.rejects) == 2


def test_other_kinds_read_as_what_they_say(tmp_path):
    moment = dt.datetime(2025, 11, 3, 14, 5, tzinfo=dt.UTC)
    path = write(
        tmp_path,
        {
            "tag": pa.array([101.0, 102.0]),
            "present": [True, False],
            "trap_type": pa.array(["IB", None]).dictionary_encode(),
            "read_at": pa.array([moment, None], pa.timestamp("ns", "UTC")),
            "extra": pa.array([1.5, None]),
        },
    )
    read = checked(read_round(path))
    assert read.table["tag"].tolist() == ["101", "102"]
    assert read.table["present"].tolist() == ["yes", "no"]
    assert read.table["trap_type"].tolist()[0] == "inverted_bucket"
    assert read.table["read_at"].tolist()[0] == "2025-11-03T14:05:00Z"
    assert read.originals["extra"].tolist()[0] == "1.5"


def test_nested_columns_are_refused(tmp_path):
    path = write(tmp_path, {"tag": ["A"], "x": [[1, 2]]})
    with pytest.raises(UnreadableFile, match="the column 'x', which holds lists or records"):
        read_round(path)


def test_a_contract_file_passes_with_no_cell_touched_one_by_one(tmp_path, monkeypatch):
    def never(*_, **__):
        raise AssertionError("a cell was read by itself")

    monkeypatch.setattr(convert, "read_number", never)
    count = 5000
    path = write(
        tmp_path,
        {
            "tag": [f"T-{i}" for i in range(count)],
            "inlet_temp_f": np.linspace(100, 300, count),
            "area": pa.array(["Glasshouse A", "Laundry"] * (count // 2)),
        },
    )
    read = checked(read_round(path))
    assert len(read.table) == count
    assert read.originals.shape == (count, 0)


def test_a_parquet_named_csv_and_a_preview(tmp_path):
    path = write(tmp_path, {"tag": ["A"] * 500, "T in °C": [100.0] * 500}, name="r.csv")
    assert len(read_round(path).rejects) == 499
    assert understand(path).matches == read_round(path).matches


def test_repeated_names_and_no_rows(tmp_path):
    table = pa.Table.from_arrays(
        [pa.array(["A"]), pa.array([1.0]), pa.array([2.0])], names=["tag", "dB", "dB"]
    )
    pq.write_table(table, tmp_path / "r.parquet")
    assert checked(read_round(tmp_path / "r.parquet")).given == ("tag", "dB", "dB (2)")
    empty = checked(read_round(write(tmp_path, {"tag": pa.array([], pa.string())})))
    assert empty.rows_read == 0


TOO_FAR = "unpacks to far more than its size allows"


def test_one_long_word_on_every_row_is_refused(tmp_path):
    # Two terabytes of text in two megabytes of file.
    rows = pa.array(np.zeros(2_000_000, np.int32))
    word = pa.DictionaryArray.from_arrays(rows, pa.array(["x" * 10**6]))
    path = write(tmp_path, {"tag": word, "inlet_temp_f": pa.nulls(2_000_000)})
    assert path.stat().st_size < 2_000_000
    with pytest.raises(UnreadableFile, match=TOO_FAR):
        read_round(path)


@pytest.mark.parametrize("coded", [True, False])
def test_pages_that_unpack_too_far_are_refused_by_their_headers(tmp_path, monkeypatch, coded):
    monkeypatch.setattr(parquets, "most_unpacked", lambda _: 1_000_000)
    note = {"tag": ["A"], "note": ["a" * 1_100_000]}
    path = write(tmp_path, note, compression="zstd", use_dictionary=coded)
    assert path.stat().st_size < 5_000
    with pytest.raises(UnreadableFile, match=TOO_FAR):
        read_round(path)


def test_more_cells_than_the_file_can_mean_are_refused(tmp_path, monkeypatch):
    monkeypatch.setattr(parquets, "most_unpacked", lambda _: 1_000_000)
    columns = {f"c{i}": pa.nulls(50_000, pa.float64()) for i in range(3)}
    with pytest.raises(UnreadableFile, match=TOO_FAR):
        read_round(write(tmp_path, columns))


def test_a_long_note_among_many_rows_is_no_bomb(tmp_path):
    count = 200_000
    path = write(
        tmp_path,
        {
            "tag": [f"T-{i}" for i in range(count)],
            "inlet_temp_f": np.full(count, 200.0),
            "note": ["x" * 200_000] + ["ok"] * (count - 1),
        },
    )
    assert len(read_round(path).table) == count


def test_cut_files(tmp_path):
    raw = write(tmp_path, {"tag": ["A"], "inlet_temp_f": [200.0]}).read_bytes()
    for part in (raw[:-1], raw[: len(raw) // 2], raw[:4], b"PAR1" + b"\xff" * 50 + b"PAR1"):
        (tmp_path / "r.parquet").write_bytes(part)
        with pytest.raises(UnreadableFile, match="a Parquet file that is damaged or cut short"):
            read_round(tmp_path / "r.parquet")


def test_a_frame_is_checked_like_a_file():
    frame = pd.DataFrame(
        {
            "tag": ["A", "B", "C", 7],
            "inlet_temp_f": [200, "~180", None, 1e9],
            "supply_bar": [1.0, 1.0, np.nan, 1.0],
        },
        index=[9, 9, 9, 9],
    )
    read = checked(round_from_frame(frame))
    assert read.table["supply_psig"].tolist() == pytest.approx([14.5037738])
    assert read.rejects[["row", "value"]].to_numpy().tolist() == [
        [2, "~180"],
        [3, ""],
        [4, "1000000000"],
    ]
    assert checked(round_from_frame(frame.iloc[:0])).rows_read == 0
    assert checked(round_from_frame(pd.DataFrame())).rows_read == 0


def test_text_that_is_no_utf8_is_refused(tmp_path):
    raw = pa.array([b"T-\xb5", b"T-2"], pa.binary())
    broken = pa.StringArray.from_buffers(2, *raw.buffers()[1:])
    path = write(tmp_path, {"tag": broken, "inlet_temp_f": [200.0, 200.0]})
    with pytest.raises(UnreadableFile, match="damaged or cut short"):
        read_round(path)


def test_rows_of_nothing_are_refused_before_they_are_taken_apart(tmp_path):
    # A hundred kilobytes of file, and six gigabytes of memory once taken apart.
    columns = {"tag": pa.nulls(19_000_000, pa.string()), "inlet_temp_f": pa.nulls(19_000_000)}
    path = write(tmp_path, columns)
    assert path.stat().st_size < 200_000
    with pytest.raises(UnreadableFile, match="19,000,000 rows in so small a file"):
        read_round(path)
    assert not understand(path).notes


def test_a_row_may_take_as_little_as_eight_bytes_and_few_rows_nothing():
    assert limits.most_packed_rows(0) == 3_000_000
    assert limits.most_packed_rows(80_000_000) == 10_000_000
    assert limits.most_packed_rows(10**12) == limits.MAX_ROWS


def test_rows_whose_text_is_kept_as_views_are_set_aside_as_others_are(tmp_path):
    tags = pa.array(["A", "A", "B"], pa.string_view())
    path = write(tmp_path, {"tag": tags, "inlet_temp_f": [200.0, 201.0, 202.0], "own": tags})
    read = checked(read_round(path))
    assert read.table["tag"].tolist() == ["A", "B"]
    assert read.originals["own"].tolist() == ["A", "B"]
