"""Names that no file can have, in every place of a command that takes one: an answer in words."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.fuzz.test_hostile_everywhere import plain, run, write_round

pytestmark = pytest.mark.thorough
NAMES = {
    "too long": "x" * 300,
    "too long a path": "d/" * 3000,
    "bytes that are no text": "caf\udce9",
    "escapes": "\x1b[2J\x07\u202egnp.exe",
    "lines": "a\nb\rc",
    "like an option": "--help-me",
    "empty": "",
    "a dot": ".",
    "device": "/dev/null/x",
}
# {} stands for the name; ROUND and FINDINGS for good files.
COMMANDS = [
    "analyze {}.csv", "analyze ROUND --site {}", "analyze ROUND --map {}",
    "analyze ROUND --out {}.parquet", "analyze ROUND --rejects {}", "analyze ROUND --summary {}",
    "report {}.parquet --out a.html", "report FINDINGS --out {}.html",
    "report FINDINGS --out {}.xlsx", "report FINDINGS --before {}.parquet --out a.html",
    "pressure {}.csv --to 5 --out a.html", "pressure ROUND --to 5 --out {}.html",
    "share {}.parquet", "share FINDINGS --to {}", "share FINDINGS --to shelf://{}",
    "share FINDINGS --to s3://{}", "share FINDINGS --before {}.parquet", "unshare {}",
    "rounds add {}.csv", "rounds add FINDINGS --store {}/a.sqlite", "rounds export {}",
    "rounds restore {}", "route FINDINGS --out {}.html", "next --store {}/a.sqlite",
]  # fmt: skip


@pytest.fixture(scope="module")
def good(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with a round and its findings, to be copied."""
    folder = tmp_path_factory.mktemp("good")
    write_round(folder / "round.csv", "note", ["ordinary"])
    done = run("analyze", folder / "round.csv", "--out", folder / "findings.parquet")
    assert done.exit_code == 0
    return folder


@pytest.mark.parametrize("name", NAMES.values(), ids=NAMES.keys())
def test_a_name_that_no_file_can_have(
    tmp_path: Path, good: Path, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SURVEY_HOME", str(tmp_path / "home"))
    monkeypatch.setenv("AWS_EC2_METADATA_DISABLED", "true")
    monkeypatch.chdir(tmp_path)
    shutil.copytree(good, tmp_path, dirs_exist_ok=True)
    for command in COMMANDS:
        words = command.replace("ROUND", "round.csv").replace("FINDINGS", "findings.parquet")
        done = run(*(word.replace("{}", name) for word in words.split(" ")))
        plain(done)
        assert done.exit_code == 0 or len(done.stderr) < 4_000, command
        if done.exit_code:
            assert done.stderr.startswith("survey: "), command


def test_a_name_of_bytes_that_are_no_text_is_told_on_a_terminal_of_any_kind(
    tmp_path: Path,
) -> None:
    for encoding in ("utf-8", "ascii"):
        done = subprocess.run(
            [sys.executable, "-m", "survey.cli", "analyze", b"caf\xe9.csv"],
            capture_output=True, cwd=Path(__file__).parents[2], timeout=120, check=False,
            env={"PYTHONIOENCODING": encoding, "PATH": "/usr/bin:/bin", "HOME": str(tmp_path)},
        )  # fmt: skip
        assert done.returncode == 2
        assert done.stderr.startswith(b"survey: A round as CSV, XLSX or Parquet was expected.")
