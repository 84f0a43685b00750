"""No room on the disk, and folders that may not be written to: words, and the old file stays."""

from __future__ import annotations

import errno
import os
import resource
import shutil
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from survey import Site, analyze
from survey.errors import OutputError, ShareError
from survey.sharing import LinkStore
from survey.writing import replacing

ROOT = Path(__file__).resolve().parents[2]
SAMPLE = ROOT / "sample_data" / "nursery_round.csv"
ROOT_USER = os.getuid() == 0
OLD = b"the old file"


def run(
    *arguments: str | Path, home: Path, start: Callable[[], None] | None = None,
    as_others: bool = False,
) -> subprocess.CompletedProcess[str]:
    """Run a command; root is first made to keep to the permissions of files, as others must."""
    kept_to = ["setpriv", "--bounding-set", "-dac_override"] if as_others and ROOT_USER else []
    return subprocess.run(
        [*kept_to, sys.executable, "-m", "survey.cli", *map(str, arguments)],
        cwd=ROOT, env=os.environ | {"SURVEY_HOME": str(home)},
        capture_output=True, text=True, preexec_fn=start, check=False,
    )


def no_room() -> None:
    """Let no file grow past 2,000 bytes: the system then refuses the write, half-way."""
    resource.setrlimit(resource.RLIMIT_FSIZE, (2_000, 2_000))


def in_words(done: subprocess.CompletedProcess[str], expected: str) -> None:
    assert done.returncode == 2, done.stderr
    assert done.stderr.startswith(f"survey: {expected}"), done.stderr
    assert "Traceback" not in done.stderr
    assert done.stderr.count("\n") == 1


@pytest.mark.parametrize("ending", ["parquet", "csv", "xlsx"])
def test_no_room_for_the_findings(tmp_path: Path, ending: str) -> None:
    out = tmp_path / f"findings.{ending}"
    out.write_bytes(OLD)
    done = run("analyze", SAMPLE, "--out", out, home=tmp_path / "home", start=no_room)
    in_words(done, "A file that can be written was expected. Found: ")
    assert "File too large. Where: " in done.stderr
    assert out.read_bytes() == OLD
    assert [path.name for path in tmp_path.iterdir()] == [out.name]


@pytest.mark.thorough
def test_no_room_for_a_report_or_a_link(tmp_path: Path) -> None:
    findings, shown = tmp_path / "findings.parquet", tmp_path / "shown"
    analyze(SAMPLE, site=Site()).save(findings)
    shown.mkdir()
    home = tmp_path / "home"
    done = run("report", findings, "--out", tmp_path / "report.html", home=home, start=no_room)
    in_words(done, "A file that can be written was expected.")
    assert not (tmp_path / "report.html").exists()
    done = run("share", findings, home=home, start=no_room)
    in_words(done, "A store of links that can be opened and written was expected.")
    LinkStore(home / "links.sqlite").close()  # room for the store, but none for the page
    done = run("share", findings, "--to", shown, home=home, start=lambda: resource.setrlimit(
        resource.RLIMIT_FSIZE, (40_000, 40_000)))
    in_words(done, "A folder or store that pages can be written to was expected.")
    assert list(shown.iterdir()) == []
    with LinkStore(home / "links.sqlite") as store:
        assert [link.standing for link in store.links()] == ["revoked"]
        token, _ = store.create(b"page", policy="")
        assert store.lookup(token) is not None


@pytest.mark.thorough
@pytest.mark.skipif(ROOT_USER and shutil.which("setpriv") is None, reason="root, and no setpriv")
def test_folders_that_may_not_be_written_to(tmp_path: Path) -> None:
    out, findings = tmp_path / "kept" / "findings.csv", tmp_path / "findings.parquet"
    out.parent.mkdir()
    out.write_bytes(OLD)
    analyze(SAMPLE, site=Site()).save(findings)
    out.parent.chmod(0o555)
    done = run("analyze", SAMPLE, "--out", out, home=tmp_path, as_others=True)
    in_words(done, "A file that can be written was expected. Found: Permission denied.")
    done = run("share", findings, home=out.parent, as_others=True)
    in_words(done, "A store of links that can be opened and written was expected.")
    done = run("share", findings, "--to", out.parent, home=tmp_path / "home", as_others=True)
    in_words(done, "A folder or store that pages can be written to was expected.")
    assert out.read_bytes() == OLD
    assert [path.name for path in out.parent.iterdir()] == [out.name]
    out.parent.chmod(0o755)


@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EIO, errno.EDQUOT, errno.EROFS])
def test_a_disk_that_fails_late_leaves_the_old_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, number: int
) -> None:
    out = tmp_path / "findings.csv"
    out.write_bytes(OLD)

    def fails(_: int) -> None:
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(os, "fsync", fails)
    with pytest.raises(OutputError, match=os.strerror(number)), replacing(out) as temporary:
        temporary.write_bytes(b"the new file")
    assert out.read_bytes() == OLD
    assert [path.name for path in tmp_path.iterdir()] == [out.name]


def test_a_store_that_fails_half_way_keeps_its_links(tmp_path: Path) -> None:
    with LinkStore(tmp_path / "links.sqlite") as store:
        token, _ = store.create(b"page", policy="")
        store._connection.execute("PRAGMA max_page_count = 1")
        with pytest.raises(ShareError, match="full"):
            store.create(os.urandom(200_000), policy="")
        assert store.lookup(token) is not None
        assert [link.standing for link in store.links()] == ["open"]


def test_what_a_killed_run_left_is_cleared_when_it_is_old(tmp_path: Path) -> None:
    out = tmp_path / "findings [1].csv"
    old, new = tmp_path / f".{out.name}.abcd1234.part", tmp_path / f".{out.name}.efgh5678.part"
    other = tmp_path / ".other.csv.abcd1234.part"
    for path in (old, new, other):
        path.write_bytes(b"half")
    for path in (old, other):
        os.utime(path, (time.time() - 3700,) * 2)
    with replacing(out) as temporary:
        temporary.write_bytes(b"whole")
    assert not old.exists()
    assert {path.name for path in tmp_path.iterdir()} == {out.name, new.name, other.name}


@pytest.mark.parametrize("jump_s", [-10 * 365 * 86400.0, 10 * 365 * 86400.0])
def test_a_clock_that_jumps_changes_no_file_that_is_being_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, jump_s: float
) -> None:
    """Set far ahead, the clock makes another run's file look old; that run fails in words."""
    out = tmp_path / "findings.csv"
    out.write_bytes(OLD)
    real = time.time

    def first() -> None:
        with replacing(out) as temporary:
            temporary.write_bytes(b"first")
            monkeypatch.setattr(time, "time", lambda: real() + jump_s)
            with replacing(out) as second:
                second.write_bytes(b"second")

    if jump_s > 0:
        with pytest.raises(OutputError, match="A file that can be written was expected"):
            first()
        assert out.read_bytes() == b"second"
    else:
        first()
        assert out.read_bytes() == b"first"
    assert [path.name for path in tmp_path.iterdir()] == [out.name]
