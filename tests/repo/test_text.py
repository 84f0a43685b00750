"""Nothing left undone and nothing that only this machine has, in any file kept."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
KEPT_SUFFIXES = {".py", ".md", ".toml", ".html", ".css", ".js", ".csv", ""}
SKIPPED_FOLDERS = {"build", "artefacts", "__pycache__"}

# Written in pieces, so that this file does not find itself.
UNDONE = re.compile("TO" + "DO|FIX" + "ME|X" + "XX")
MACHINE_PATHS = re.compile(
    r"(?<![\w.])/(?:" + "|".join(["wo" + "rk", "o" + "pt", "t" + "mp", "ro" + "ot", "ho" + "me"])
    + r")/\w"
)


def kept_files() -> list[Path]:
    """Return every text file of the project."""
    found = []
    for path in sorted(ROOT.rglob("*")):
        parts = path.relative_to(ROOT).parts
        hidden = any(
            (part.startswith(".") and part != ".ci") or part in SKIPPED_FOLDERS
            or part.endswith(".egg-info")
            for part in parts
        )
        if path.is_file() and not hidden and path.suffix in KEPT_SUFFIXES:
            found.append(path)
    return found


FILES = kept_files()


@pytest.mark.parametrize("path", FILES, ids=lambda p: str(p.relative_to(ROOT)))
def test_nothing_is_left_undone_or_tied_to_one_machine(path: Path) -> None:
    text = path.read_text(encoding="utf-8", errors="replace")
    assert not UNDONE.findall(text)
    assert not MACHINE_PATHS.findall(text)


def test_the_project_itself_was_read() -> None:
    names = {str(path.relative_to(ROOT)) for path in FILES}
    assert {"README.md", "DEVELOPERS.md", "survey/cli.py", ".ci/run", "LICENSE"} <= names
