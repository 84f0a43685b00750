"""Whether a file or a folder is there.

Unlike pathlib's own, these answer no, and raise no error, for a name that nothing can have: one
that is too long, or has a byte in it that no name may have.
"""

from __future__ import annotations

import os


def is_file(path: str | os.PathLike[str]) -> bool:
    """Return whether there is a file of this name."""
    return os.path.isfile(path)  # noqa: PTH113  see above


def is_folder(path: str | os.PathLike[str]) -> bool:
    """Return whether there is a folder of this name."""
    return os.path.isdir(path)  # noqa: PTH112  see above
