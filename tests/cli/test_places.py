"""No command writes over what it reads, waits for a pipe, or minds a link that leads to itself."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from survey.cli import main

SAMPLE = Path(__file__).parents[2] / "sample_data"


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return a folder to work in, with a short round, its findings, settings and a map."""
    monkeypatch.chdir(tmp_path)
    lines = (SAMPLE / "nursery_round.csv").read_text(encoding="utf-8").splitlines()[:40]
    Path("round.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    shutil.copy(SAMPLE / "nursery_site.toml", "site.toml")
    Path("map.toml").write_text('[columns]\n"note" = "note"\n', encoding="utf-8")
    assert run("analyze round.csv --out found.parquet").exit_code == 0
    os.mkfifo("pipe.parquet")
    Path("loop").symlink_to("loop")
    return tmp_path


def run(words: str) -> Result:
    return CliRunner().invoke(main, words.split())


@pytest.mark.parametrize(("words", "kept"), [
    ("analyze round.csv --site site.toml --summary site.toml", "site.toml"),
    ("analyze round.csv --site site.toml --rejects ./site.toml", "site.toml"),
    ("analyze round.csv --map map.toml --summary map.toml", "map.toml"),
    ("pressure round.csv --to 5 --site site.txt --out site.txt", "site.txt"),
    ("pressure round.csv --to 5 --after later.txt --out later.txt", "later.txt"),
    ("next found.parquet --site site.txt --out site.txt", "site.txt"),
    ("route found.parquet --site site.csv --csv site.csv", "site.csv"),
    ("report found.parquet --before old.xlsx --out old.xlsx", "old.xlsx"),
    # Rows set aside go beside the findings: here over those that someone mended by hand.
    ("analyze found-rejects.csv --out found.parquet", "found-rejects.csv"),
])  # fmt: skip
def test_nothing_is_written_over_what_is_read(folder: Path, words: str, kept: str) -> None:
    if not (folder / kept).exists():
        source = "site.toml" if kept.startswith("site") else "round.csv"
        shutil.copy(folder / source, folder / kept)
    before = (folder / kept).read_bytes()
    done = run(words)
    assert done.exit_code == 2
    assert "A file of its own was expected for each thing to write" in done.stderr
    assert (folder / kept).read_bytes() == before


@pytest.mark.usefixtures("folder")
@pytest.mark.parametrize("words", [
    "analyze pipe.parquet", "analyze round.csv --site pipe.parquet",
    "analyze round.csv --map pipe.parquet", "analyze round.csv --site /dev/zero",
    "pressure pipe.parquet --to 5", "pressure round.csv --to 5 --after pipe.parquet",
    "report pipe.parquet --out r.html", "report found.parquet --before pipe.parquet --out r.html",
    "share pipe.parquet", "next pipe.parquet", "route pipe.parquet",
    "rounds add pipe.parquet --store sqlite:///kept.db",
])  # fmt: skip
def test_a_pipe_is_refused_and_not_waited_for(words: str) -> None:
    done = run(words)
    assert done.exit_code == 2
    assert "a pipe or a device, not a file" in done.stderr


@pytest.mark.usefixtures("folder")
@pytest.mark.parametrize("words", [
    "analyze loop", "analyze round.csv --out loop/found.parquet", "analyze round.csv --site loop",
    "pressure loop --to 5 --out plan.html", "report loop --out r.html",
    "report found.parquet --out loop/r.html", "next loop --out n.html", "route loop --out s.html",
    "rounds add loop --store sqlite:///kept.db",
])  # fmt: skip
def test_a_link_that_leads_to_itself_is_no_file(words: str) -> None:
    done = run(words)
    assert done.exit_code == 2
    assert "fault in survey itself" not in done.stderr
