"""A quote left open takes the lines after it into one cell: said, never swallowed."""

from __future__ import annotations

from pathlib import Path

import pytest

from survey.errors import UnreadableFile
from survey.readings import read_round

LINES = [f"T-{n},{200 + n},20,note" for n in range(100)]


def written(folder: Path, lines: list[str]) -> Path:
    path = folder / "round.csv"
    path.write_text("tag,inlet_temp_f,sound_db,note\n" + "\n".join(lines) + "\n")
    return path


@pytest.mark.parametrize("closed_after", [None, 10], ids=["never closed", "closed ten lines on"])
def test_an_open_quote_is_named_with_its_line(tmp_path: Path, closed_after: int | None) -> None:
    lines = list(LINES)
    lines[49] = 'T-49,249,20,"1/2 bore'
    if closed_after:
        lines[49 + closed_after] += '"'
    with pytest.raises(UnreadableFile, match="Every quote in a CSV") as told:
        read_round(written(tmp_path, lines))
    assert "line 51" in str(told.value)


def test_a_note_of_several_lines_is_a_note(tmp_path: Path) -> None:
    lines = list(LINES)
    lines[49] = 'T-49,249,20,"first, then\nsecond, and\nlast"'
    found = read_round(written(tmp_path, lines))
    assert (found.rows_read, len(found.table)) == (100, 100)
