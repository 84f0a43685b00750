"""Whether a file or a folder is there.

Unlike pathlib's own, these answer no, and raise no error, for a name that nothing can have: one
that is too long, or has a byte in it that no name may have.
"""

from __future__ import annotations

import errno
import os
import stat
from pathlib import Path

NOT_PLAIN = "a pipe or a device, not a file"


def is_file(path: str | os.PathLike[str]) -> bool:
    """Return whether there is a file of this name."""
    return os.path.isfile(path)  # noqa: PTH113  see above


def is_folder(path: str | os.PathLike[str]) -> bool:
    """Return whether there is a folder of this name."""
    return os.path.isdir(path)  # noqa: PTH112  see above


def plain_bytes(path: str | os.PathLike[str]) -> bytes:
    """Return what is in a file.

    Raises
    ------
    OSError
        It cannot be read; or it is a pipe or a device, which may never end, or never begin.
    """
    check_plain(path)
    return Path(path).read_bytes()


def check_plain(path: str | os.PathLike[str]) -> None:
    """Raise OSError where there is nothing of this name, or a pipe or a device."""
    mode = os.stat(path).st_mode  # noqa: PTH116  a Path of this name may be one too many
    if not (stat.S_ISREG(mode) or stat.S_ISDIR(mode)):
        raise OSError(errno.EINVAL, NOT_PLAIN)
