"""A CSV put by on the disk has the rows, lines and notes of one read whole, or is left to that."""

from __future__ import annotations

from pathlib import Path
from typing import IO

import numpy as np
import pyarrow as pa
import pytest

from survey.readings import spooling, strays
from survey.readings.delimited import read_delimited
from survey.readings.limits import MAX_COLUMNS
from survey.readings.spooling import Spill, spooled

ROWS = "".join(f"T{n},{200 + n}.5,\n" for n in range(400))
HEAD = "tag,inlet_temp_f,note\n"
PLAIN = HEAD + ROWS
WIDER = PLAIN.replace("\n", ",\n")
STRAYS = "\n,,\n" + HEAD + ",,\n"

pytestmark = pytest.mark.usefixtures("small_blocks")


@pytest.mark.parametrize("text", [
    pytest.param(PLAIN, id="plain"),
    pytest.param(PLAIN.rstrip("\n"), id="last line open"),
    pytest.param("\ufeff" + PLAIN, id="mark"),
    pytest.param(PLAIN.replace("\n", "\r\n"), id="CR and LF"),
    pytest.param(PLAIN.replace(",\n", ',"said ""hot"", twice"\n'), id="quotes"),
    pytest.param(PLAIN.replace(".5,", ".5,\u00fcber \u2013 \u6c7d"), id="letters"),
    pytest.param(PLAIN.replace(",", ";").replace(".", ","), id="decimal comma"),
    pytest.param(PLAIN.replace(",", "\t"), id="tabs"),
    pytest.param("Round of May,,\n" + PLAIN, id="title"),
    pytest.param('"two\nlines",,\n' + PLAIN, id="title of two lines"),
    pytest.param(HEAD + ",\u00b0F,\n" + ROWS + ",\u00b0F,\n" + ROWS, id="units, and again"),
    pytest.param(HEAD + (ROWS + STRAYS.lstrip("\n")) * 3, id="lines that are no rows"),
    pytest.param(PLAIN.replace("T390,", "\nT390,"), id="a line of nothing"),
    pytest.param(HEAD + STRAYS.lstrip("\n") + ROWS, id="none first"),
    pytest.param(WIDER, id="a column of nothing"),
    pytest.param(WIDER + "T,1,,late\n", id="one of next to nothing"),
    pytest.param(HEAD + "".join(f"T{n},{n},\n" for n in range(6000)), id="long"),
])  # fmt: skip
def test_what_is_put_by_is_what_is_read(tmp_path: Path, spill: Spill, text: str) -> None:
    path = tmp_path / "round.csv"
    path.write_bytes(text.encode())
    whole = read_delimited(path, header_map={})
    found = spooled(path, header_map={}, spill=spill)
    assert found is not None
    assert len(found.starts) > 3, "it was not read in blocks"
    rows = len(whole.cells)
    assert found.rows == rows
    assert found.lines(np.arange(rows)).tolist() == whole.lines.tolist()
    for skip in (0, 1, rows // 2, rows - 1):
        tables = list(found.tables(skip))
        assert pa.concat_tables([one.cells for one in tables]).equals(whole.cells.slice(skip))
        assert np.concatenate([one.lines for one in tables]).tolist() == whole.lines[skip:].tolist()
    top = found.top
    assert top.cells.equals(whole.cells.slice(0, len(top.cells)))
    for name in ("name", "units", "decimal", "notes", "is_text", "faults"):
        assert getattr(top, name) == getattr(whole, name)


@pytest.mark.parametrize("text", [
    pytest.param(PLAIN.replace("T390,", 'T390,"5\n5"').encode(), id="a row of two lines"),
    pytest.param(PLAIN.replace("T390,", "T390,1,").encode(), id="a cell too many"),
    pytest.param(PLAIN.replace("T390,", "T390").encode(), id="a cell too few"),
    pytest.param(PLAIN.replace("T390,", 'T390,"').encode(), id="an open quote"),
    pytest.param(PLAIN.replace("T390,", "T\u00fc,").encode("cp1252"), id="Windows-1252"),
    pytest.param(("\u00fc,,\n" + PLAIN).encode("cp1252"), id="Windows-1252 above the header"),
    pytest.param(PLAIN.encode("utf-16"), id="UTF-16"),
    pytest.param(PLAIN.encode() + b"T,1,\xc3", id="a letter cut off"),
    pytest.param(PLAIN.replace("T390,", "T\0,").encode(), id="NUL"),
    pytest.param(PLAIN.replace(",\nT390", ",\rT390").encode(), id="CR alone"),
    pytest.param(PLAIN.encode() + b"\r", id="CR at the end"),
    pytest.param(PLAIN.replace("T390,", "T" * 2000 + ",").encode(), id="a row over a block"),
    pytest.param(PLAIN.replace("590.5,", '"""",').encode(), id="a ditto mark"),
    pytest.param(PLAIN.replace(".5,\nT390", ".5,Ditto\nT390").encode(), id="a ditto in a word"),
    pytest.param(HEAD.encode(), id="no rows"),
    pytest.param(HEAD.encode() + b",,\n" * 400, id="blank rows alone"),
    pytest.param(b"1,2,3\n" * 3 + b"\n" * 400, id="no header"),
])  # fmt: skip
def test_what_is_in_doubt_is_left_and_its_place_given_back(
    tmp_path: Path, spill: Spill, text: bytes
) -> None:
    path = tmp_path / "round.csv"
    path.write_bytes(text)
    opened: list[IO[bytes]] = []

    def kept() -> IO[bytes]:
        opened.append(spill())
        return opened[-1]

    assert spooled(path, header_map={}, spill=kept) is None
    assert all(file.closed for file in opened)


def test_limits_hold(tmp_path: Path, spill: Spill, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "round.csv"
    path.write_text(PLAIN)
    assert spooled(path, header_map={}, spill=spill) is not None
    with monkeypatch.context() as patch:
        patch.setattr(strays, "MAX_CELL_CHARACTERS", 4)
        assert spooled(path, header_map={}, spill=spill) is None
    with monkeypatch.context() as patch:
        patch.setattr(spooling, "most_rows", lambda size: 400 if size == len(PLAIN) else 401)
        assert spooled(path, header_map={}, spill=spill) is None
        path.write_text(PLAIN.replace("T399", "T3999"))
        assert spooled(path, header_map={}, spill=spill) is not None


@pytest.mark.parametrize(("columns", "put_by"), [(MAX_COLUMNS, True), (MAX_COLUMNS + 1, False)])
def test_more_columns_than_a_round_may_have_are_left(
    tmp_path: Path, spill: Spill, monkeypatch: pytest.MonkeyPatch, columns: int, put_by: bool
) -> None:
    monkeypatch.setattr(spooling, "_BLOCK_BYTES", 1 << 20)
    path = tmp_path / "round.csv"
    path.write_text("tag" + ",c" * (columns - 1) + "\nT1" + ",1" * (columns - 1) + "\n")
    assert (spooled(path, header_map={}, spill=spill) is not None) == put_by
