"""Whether the workers of a cluster can judge a round as this process would."""

from __future__ import annotations

from collections.abc import Sequence
from importlib import metadata
from pathlib import Path
from typing import Any

from survey import __version__
from survey.errors import UsageError

SAME_EVERYWHERE = ("numpy", "pandas", "pyarrow", "scipy", "seuif97")
"""Packages that figures come from: another version may differ in a last digit."""


def check_workers(client: Any, paths: Sequence[Path]) -> None:
    """Ask every worker for its versions, and whether it sees what it will read and write.

    Raises
    ------
    UsageError
        A worker lacks survey, has other versions, or does not see a path.
    """
    mine, _ = told(paths)
    try:
        answers = client.run(told, paths)
    except ImportError as error:
        raise _unfit("one that lacks a package", str(error)) from None
    for worker, (versions, unseen) in sorted(answers.items()):
        other = [f"{name} {versions[name]}" for name in mine if versions[name] != mine[name]]
        if other:
            wanted = ", ".join(f"{name} {version}" for name, version in mine.items())
            raise _unfit(f"{worker} with {', '.join(other)}", f"here are {wanted}")
        if unseen:
            raise UsageError(
                "Every worker was expected to see the round, and the folder of the findings",
                found=f"{worker}, which has no {unseen[0]}",
                do="keep both on a disk that all machines share, under the same path",
            )


def _unfit(found: str, why: str) -> UsageError:
    return UsageError(
        "Workers with the same versions as here were expected",
        found=f"{found} ({why})",
        do="install the same survey and packages on every machine",
    )


def told(paths: Sequence[Path]) -> tuple[dict[str, str], list[str]]:
    """Return the versions that this process works with, and which paths it does not see."""
    versions = {"survey": __version__, **{n: metadata.version(n) for n in SAME_EVERYWHERE}}
    return versions, [str(path) for path in paths if not path.exists()]
