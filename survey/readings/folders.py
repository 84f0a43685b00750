"""A folder named as a round: its Parquet files, in the order of their names."""

from __future__ import annotations

import os
from collections.abc import Iterable
from pathlib import Path

from survey.paths import is_folder
from survey.readings.kinds import unreadable


def files_of(paths: Iterable[str | os.PathLike[str]]) -> list[Path]:
    """Return files as they are, and in the place of a folder the Parquet files in it.

    Files whose name starts with a dot or an underscore are left out: programs that write
    folders of Parquet files keep their own notes in such.

    Raises
    ------
    UnreadableFile
        A folder holds no Parquet file, or may not be looked into.
    """
    found = []
    for path in map(Path, paths):
        found += _parquet_files(path) if is_folder(path) else [path]
    return found


def _parquet_files(folder: Path) -> list[Path]:
    try:
        names = sorted(entry.name for entry in folder.iterdir())
    except OSError as error:
        raise unreadable(
            folder, f"a folder that cannot be looked into ({error.strerror})",
            do="check that you may read it",
        ) from None
    files = [
        folder / name for name in names
        if name.lower().endswith(".parquet") and name[0] not in "._"
    ]  # fmt: skip
    if not files:
        raise unreadable(folder, "a folder with no .parquet file in it", do="check the name")
    return files
