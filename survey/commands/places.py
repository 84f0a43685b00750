"""What a command writes goes over nothing that it reads, and over nothing else that it writes."""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping

from survey.errors import UsageError


def check_own_files(
    written: Mapping[str, str | None], read: Mapping[str, Iterable[str | None]]
) -> None:
    """Refuse, before any work, to write over what is read or two things to one file.

    Parameters
    ----------
    written
        By what is said of it, as '--out': the file to write.
    read
        By what it is, as 'the round itself': the files to read.

    Raises
    ------
    UsageError
        Two of them are one file.
    """
    taken = {place(name): what for what, names in read.items() for name in names if name}
    for option, name in written.items():
        if not name:
            continue
        if place(name) in taken:
            raise UsageError(
                "A file of its own was expected for each thing to write",
                found=f"{name} after {option}, which is {taken[place(name)]}",
                do=f"give {option} another name",
            )
        taken[place(name)] = f"the file after {option}"


def place(name: str | os.PathLike[str]) -> str:
    """Return where a file is, links followed; a link that leads back to itself is no error here."""
    return os.path.realpath(name)
