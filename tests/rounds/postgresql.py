"""A PostgreSQL server for the tests: the one that is named, else one of their own, else none."""

from __future__ import annotations

import contextlib
import os
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

NAMED_BY = "SURVEY_TEST_POSTGRESQL"
REQUIRED_BY = "SURVEY_REQUIRE_POSTGRESQL"


def programs() -> Path | None:
    """Return the folder of the server's programs, None where it is not installed."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"))
    if found:
        return found[-1].parent
    initdb = shutil.which("initdb")
    return Path(initdb).parent if initdb else None


@contextlib.contextmanager
def server() -> Iterator[str | None]:
    """Give the address of a server, None where there is none; one that was started is stopped."""
    named = os.environ.get(NAMED_BY, "")
    folder = programs()
    if named or folder is None:
        yield named or None
        return
    place = Path(tempfile.mkdtemp(prefix="pg"))  # short: a socket's path has 107 letters at most
    who = _not_root(place)
    data = place / "data"
    try:
        _run([folder / "initdb", "--no-sync", "-A", "trust", "-U", "postgres", "-D", data], **who)
        options = f"-k {place} -c listen_addresses='' -c fsync=off"
        start = [folder / "pg_ctl", "start", "-w", "-s", "-D", data, "-l", place / "log"]
        _run([*start, "-o", options], **who)
        try:
            yield f"postgresql:///postgres?host={place}&user=postgres"
        finally:
            _run([folder / "pg_ctl", "stop", "-m", "immediate", "-s", "-D", data], **who)
    finally:
        shutil.rmtree(place, ignore_errors=True)


def _not_root(place: Path) -> dict[str, Any]:
    # The server refuses to run as root; Debian's package makes a user for it.
    if os.geteuid() != 0:
        return {}
    shutil.chown(place, "postgres")
    return {"user": "postgres"}


def _run(command: list[Any], **who: Any) -> None:
    done = subprocess.run(
        [str(word) for word in command], cwd="/", check=False, text=True,
        stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, **who,
    )
    assert done.returncode == 0, done.stderr
