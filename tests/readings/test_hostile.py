"""Files made to cost memory or time, read in a process of their own and measured."""

from __future__ import annotations

import subprocess
import sys
import zipfile

import pytest

from survey.errors import UnreadableFile
from survey.readings import archives, read_round
from tests.readings.test_workbooks import HEAD, SHEET, TAIL, rewritten

UPLOAD = 25_000_000
LARGEST_BYTES = 2_000_000_000
LONGEST_SECONDS = 20
READ = """
import resource, sys
from survey.errors import SurveyError
from survey.readings import read_round, understand
for work in (understand, read_round):
    try:
        print(type(work(sys.argv[1])).__name__)
    except SurveyError as error:
        print(error)
used = resource.getrusage(resource.RUSAGE_SELF)
print(used.ru_maxrss * 1024, used.ru_utime + used.ru_stime)
"""


def measured(path):
    """Read a file twice in its own process; return what was said, and the most memory taken.

    Time is that of the processor, for a machine shared by many is slow now and then.
    """
    done = subprocess.run(
        [sys.executable, "-c", READ, str(path)],
        capture_output=True,
        text=True,
        timeout=LONGEST_SECONDS * 12,
        check=True,
    )
    said, used = done.stdout.strip().rsplit("\n", 1)
    peak, seconds = used.split()
    assert float(seconds) < 2 * LONGEST_SECONDS
    return said, int(peak)


HEADER = b"tag,inlet_temp_f,note\n"


@pytest.mark.thorough
@pytest.mark.parametrize(
    ("raw", "said"),
    [
        (HEADER + b"\n" * UPLOAD, "lines, more than readings could fill"),
        (b"tag" + b"," * UPLOAD, "over 10,000 columns"),
        (HEADER + b'"' * UPLOAD, "Round"),
        (HEADER + b"T-1,200," + b"x" * UPLOAD, "Round"),
        (HEADER + b"T,1,\n" * 2_500_000, "rows that cannot be used"),
    ],
    ids=["blank lines", "columns", "quotes", "one cell", "one tag"],
)
def test_text(tmp_path, raw, said):
    path = tmp_path / "round.csv"
    path.write_bytes(raw[:UPLOAD])
    words, peak = measured(path)
    assert said in words.splitlines()[-1]
    assert peak < LARGEST_BYTES


@pytest.mark.parametrize("lying", [False, True])
def test_a_workbook_that_unpacks_past_the_limit(tmp_path, monkeypatch, lying):
    monkeypatch.setattr(archives, "MAX_WORKBOOK_UNPACKED_BYTES", 2_000_000)
    path = rewritten(tmp_path, {SHEET: HEAD + b" " * 3_100_000 + TAIL})
    if lying:
        with zipfile.ZipFile(path) as archive:
            true = archive.getinfo(SHEET).file_size
        raw = path.read_bytes().replace(true.to_bytes(4, "little"), (999).to_bytes(4, "little"))
        path.write_bytes(raw)
    with pytest.raises(UnreadableFile, match="a workbook that unpacks to over 2 MB"):
        read_round(path)


def test_a_workbook_of_more_cells_than_are_read(tmp_path):
    path = rewritten(tmp_path, {SHEET: HEAD + b"<row>" + b"<c/>" * 6_000_001 + b"</row>" + TAIL})
    words, peak = measured(path)
    assert "6,000,000 cells" in words
    assert peak < LARGEST_BYTES
