"""Where the rounds are kept: a file in the user's data folder, or a server named by its address."""

from __future__ import annotations

import os
import re
from pathlib import Path

from platformdirs import user_data_path

from survey.errors import RoundsError

ADDRESS_SETTING = "SURVEY_STORE"
FILE_NAME = "rounds.sqlite"
_SERVER_STARTS = ("postgresql://", "postgres://", "postgresql+psycopg://")
_SCHEME = re.compile(r"[A-Za-z][A-Za-z0-9+.-]+:(//)?|[^/\\]*://")
"""What starts an address of some kind; one letter and a colon is a drive."""


def store_address(given: str | Path | None = None) -> str:
    """Return where the rounds are: a file's path, or a postgresql:// address.

    Parameters
    ----------
    given
        A path or an address; None takes ``SURVEY_STORE``, and without that a file in the folder
        that ``SURVEY_HOME`` names, else in the user's own data folder.

    Raises
    ------
    RoundsError
        It is an address of another kind of server, or no name that a file can have.
    """
    chosen = str(given or os.environ.get(ADDRESS_SETTING, "")).strip()
    if not chosen:
        return str(home() / FILE_NAME)
    if not chosen.isprintable():
        raise RoundsError(
            "A name that can be printed was expected for the store", found=ascii(chosen)[:60],
            do="name the file in letters and digits",
        )  # fmt: skip
    chosen = chosen.removeprefix("sqlite:///")
    if chosen.startswith(_SERVER_STARTS):
        return f"postgresql+psycopg://{chosen.partition('://')[2]}"
    if kind := _SCHEME.match(chosen):
        raise RoundsError(
            "A file or an address that starts with postgresql:// was expected for the store",
            found=kind.group()[:40],
            do="give a path, or postgresql://USER@HOST/DATABASE; before a file's name with a "
            "colon in it, put ./",
        )
    # Path's own way to open a ~ fails where there is no such user.
    return str(Path(os.path.expanduser(chosen)))  # noqa: PTH111


def is_there(address: str) -> bool:
    """Tell whether a store can be at an address: its file is there, or it is a server's."""
    # Path's own question fails where a name is too long for the disk.
    return on_a_server(address) or os.path.exists(address)  # noqa: PTH110


def on_a_server(address: str) -> bool:
    """Tell whether an address that `store_address` gave is a server's."""
    return address.startswith("postgresql+psycopg://")


def shown(address: str) -> str:
    """Return an address as it may be printed: without its password."""
    if not on_a_server(address):
        return address
    rest = address.partition("://")[2]
    # Both places where a password can stand: before the host, and among the settings after "?".
    place = rest.partition("?")[0]
    return f"postgresql://{place.rpartition('@')[2] or place}"


def home() -> Path:
    """Return the folder for what the tool keeps: SURVEY_HOME if set, else the user's data."""
    given = os.environ.get("SURVEY_HOME", "").strip()
    return Path(given).expanduser() if given else user_data_path("survey", appauthor=False)
