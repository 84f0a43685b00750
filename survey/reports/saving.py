"""A paper on disk: what its name may end in, and the bytes in its place."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from survey.errors import UsageError
from survey.writing import replacing


def suffix_among(path: str | Path, suffixes: Iterable[str], *, what: str) -> str:
    """Return the kind of file that a name asks for.

    Parameters
    ----------
    what
        What is saved, as a sentence begins: 'A plan'.

    Raises
    ------
    UsageError
        Its suffix is none of ``suffixes``.
    """
    *others, last = suffixes
    suffix = Path(path).suffix.lower()
    if suffix not in (*others, last):
        raise UsageError(
            f"{what} ends in {', '.join(others)} or {last}", found=Path(path).name,
            do="give --out a name with one of these endings",
        )  # fmt: skip
    return suffix


def write_made(made: str | bytes, path: str | Path) -> None:
    """Write a paper, atomically; raises OutputError where the place cannot be written."""
    with replacing(Path(path)) as temporary:
        temporary.write_bytes(made.encode() if isinstance(made, str) else made)
