"""Whole files, made up with their structure in mind: nothing may crash, and nothing be lost.

``SURVEY_FUZZ_EXAMPLES`` sets how many of each kind are tried.
"""

from __future__ import annotations

import datetime as dt
import math
import os
from pathlib import Path

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
import xlsxwriter
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from survey.columns import INPUT_COLUMNS, INPUT_NAMES
from survey.errors import SurveyError
from survey.readings import Round, read_round, round_from_frame, understand
from survey.readings.units import VARIANTS

EXAMPLES = int(os.environ.get("SURVEY_FUZZ_EXAMPLES", "20"))
FUZZ = settings(
    max_examples=EXAMPLES,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)

HEADERS = [
    *INPUT_NAMES,
    *VARIANTS,
    "Inlet Temp (°F)",
    "T out °C",
    "dB",
    "Trap No.",
    "Type",
    "Location",
    "Downstream",
    "Temp",
    "Supply (mbar)",
    "state",
    "rank",
    "value",
    "",
    " ",
    "tag",
    "Orifice",
    "=1+1",
    "Hrs/yr",
    "No.",
    "Bkg dB",
    "a\nb",
    '"',
    "<b>",
    "x" * 300,
]
MONTH = dt.timedelta(days=30)
CELLS = [
    "",
    "T-1",
    "T-2",
    "200",
    "-900",
    "12,5",
    "1.250",
    "1,250",
    "1/8",
    '3/16"',
    "~180",
    "inf",
    "nan",
    "—",
    "n/a",
    "F&T",
    "closed",
    "ajar",
    "=cmd()",
    "100 °C",
    "2 bar",
    "1e999",
    "2025-11-03",
    "x",
    "yes",
    "trap",
    "air vent",
    "#REF!",
    "Total",
    "two\nlines",
    "\u202e",
    "\x00",
    "1" * 70,
    " ",
    "'",
    "°F",
    "psig",
    "tag",
]
header = st.one_of(st.sampled_from(HEADERS), st.text(max_size=12))
cell = st.one_of(
    st.sampled_from(CELLS),
    st.text(max_size=10),
    st.integers(-500, 5000).map(str),
    st.floats(allow_nan=True).map(repr),
)


@st.composite
def grids(draw: st.DrawFn) -> list[list[str]]:
    headers = draw(st.lists(header, min_size=1, max_size=8))
    if draw(st.booleans()):
        headers[0] = "tag"
    top = draw(st.lists(st.lists(cell, max_size=2), max_size=2))
    width = st.integers(max(0, len(headers) - 1), len(headers) + 1)
    rows = draw(
        st.lists(width.flatmap(lambda n: st.lists(cell, min_size=n, max_size=n)), max_size=8)
    )
    if draw(st.booleans()):
        rows.insert(draw(st.integers(0, len(rows))), headers)
    return [*top, headers, *rows]


def hold(read: Round) -> None:
    """Check what must hold of every round, whatever it was read from."""
    assert read.rows_read == len(read.table) + len(read.rejects)
    assert len(read.originals) == len(read.lines) == len(read.table)
    assert tuple(read.table.columns) == INPUT_NAMES
    assert not read.table["tag"].duplicated().any()
    assert read.table["tag"].notna().all()
    assert read.table["device"].notna().all()
    assert read.rejects.columns.is_unique
    assert read.rejects["reason"].str.len().gt(0).all()
    for column in INPUT_COLUMNS:
        if column.kind == "number":
            values = read.table[column.name].to_numpy()
            assert values.dtype == np.float64
            given_ = values[~np.isnan(values)]
            assert np.isfinite(given_).all()
            assert ((given_ >= column.low) & (given_ <= column.high)).all()


def attempt(path: Path) -> Round | None:
    """Read a file; it may be refused, in words, and must otherwise hold."""
    try:
        read = read_round(path, altitude_ft=600)
    except SurveyError as error:
        refused = str(error)
    else:
        hold(read)
        understand(path)
        return read
    assert 40 < len(refused) < 1500
    return None


@FUZZ
@given(
    grid=grids(),
    delimiter=st.sampled_from(",;\t|"),
    encoding=st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"]),
    ends=st.sampled_from(["\n", "\r\n", "\r"]),
    quoting=st.booleans(),
)
def test_delimited(tmp_path, grid, delimiter, encoding, ends, quoting):
    def written(text: str) -> str:
        must = any(c in text for c in (delimiter, '"', "\n", "\r"))
        return f'"{text.replace(chr(34), chr(34) * 2)}"' if quoting or must else text

    text = "".join(delimiter.join(map(written, row)) + ends for row in grid)
    (tmp_path / "round.csv").write_bytes(text.encode(encoding, "replace"))
    attempt(tmp_path / "round.csv")


@FUZZ
@given(
    grid=grids(),
    odd=st.lists(st.one_of(st.booleans(), st.floats(-1e9, 1e9), st.none()), min_size=1, max_size=5),
)
def test_workbooks(tmp_path, grid, odd):
    book = xlsxwriter.Workbook(
        str(tmp_path / "r.xlsx"), {"strings_to_formulas": False, "strings_to_urls": False}
    )
    sheet = book.add_worksheet()
    for line, row in enumerate([*grid, odd]):
        for position, value in enumerate(row):
            if isinstance(value, str):
                sheet.write_string(line, position, value)
            elif value is not None:
                sheet.write(line, position, value)
    book.close()
    attempt(tmp_path / "r.xlsx")


COLUMN = st.one_of(
    st.lists(st.floats(width=32), min_size=4, max_size=4).map(lambda v: pa.array(v, pa.float32())),
    st.lists(st.integers(-(2**63), 2**63 - 1), min_size=4, max_size=4).map(pa.array),
    st.lists(st.one_of(st.none(), cell), min_size=4, max_size=4).map(
        lambda v: pa.array(v, pa.string())
    ),
    st.lists(cell, min_size=4, max_size=4).map(lambda v: pa.array(v).dictionary_encode()),
    st.lists(st.booleans(), min_size=4, max_size=4).map(pa.array),
    st.lists(st.binary(max_size=6), min_size=4, max_size=4).map(pa.array),
    st.lists(st.datetimes(), min_size=4, max_size=4).map(lambda v: pa.array(v, pa.timestamp("us"))),
    st.lists(st.dates(), min_size=4, max_size=4).map(pa.array),
    st.lists(st.times(), min_size=4, max_size=4).map(pa.array),
    st.lists(st.timedeltas(-MONTH, MONTH), min_size=4, max_size=4).map(
        lambda v: pa.array(v, pa.duration("us"))
    ),
    st.lists(st.decimals(-999, 999, places=2), min_size=4, max_size=4).map(pa.array),
    st.just(pa.nulls(4)),
)


@FUZZ
@given(columns=st.lists(st.tuples(header, COLUMN), min_size=1, max_size=7), coded=st.booleans())
def test_parquet(tmp_path, columns, coded):
    names = ["tag", *(name for name, _ in columns[1:])]
    table = pa.Table.from_arrays([column for _, column in columns], names=names)
    pq.write_table(table, tmp_path / "r.parquet", use_dictionary=coded)
    attempt(tmp_path / "r.parquet")


VALUE = st.one_of(
    st.none(),
    cell,
    st.floats(),
    st.integers(),
    st.booleans(),
    st.just(pd.NA),
    st.just([1]),
    st.datetimes(),
)


@FUZZ
@given(
    rows=st.lists(st.lists(VALUE, min_size=4, max_size=4), max_size=5),
    names=st.lists(header, min_size=4, max_size=4),
)
def test_frames(rows, names):
    frame = pd.DataFrame(rows, columns=names, dtype=object)
    hold(round_from_frame(frame))


@pytest.mark.parametrize("unit", ["inlet_temp_c", "inlet_temp_f"])
def test_units_change_no_reading(tmp_path, unit):
    values = [30.0, 99.5, 150.25]
    typed = values if unit.endswith("_c") else [v * 1.8 + 32 for v in values]
    frame = pd.DataFrame({"tag": ["A", "B", "C"], unit: typed})
    read = round_from_frame(frame)
    for found, value in zip(read.table["inlet_temp_f"], values, strict=True):
        assert math.isclose(found, value * 1.8 + 32, rel_tol=1e-12)


@FUZZ
@given(order=st.permutations(range(6)))
def test_the_order_of_rows_changes_no_row(order):
    frame = pd.DataFrame(
        {
            "tag": list("ABCDEF"),
            "inlet_temp_f": ["200", "~2", "93 °C", "", "1,250", "-900"],
            "sound_db": ["1"] * 6,
        }
    )
    whole = round_from_frame(frame).table.set_index("tag")
    mixed = round_from_frame(frame.iloc[list(order)]).table.set_index("tag")
    pd.testing.assert_frame_equal(mixed.sort_index(), whole.sort_index())
