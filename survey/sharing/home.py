"""Where this user's links are kept."""

from __future__ import annotations

from pathlib import Path

from survey.rounds.home import home

__all__ = ["home", "store_path"]


def store_path() -> Path:
    """Return the file that holds the links."""
    return home() / "links.sqlite"
