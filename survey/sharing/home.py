"""Where this user's links are kept."""

from __future__ import annotations

import os
from pathlib import Path

from platformdirs import user_data_path


def home() -> Path:
    """Return the folder for what the tool keeps: SURVEY_HOME if set, else the user's data."""
    given = os.environ.get("SURVEY_HOME", "").strip()
    return Path(given).expanduser() if given else user_data_path("survey", appauthor=False)


def store_path() -> Path:
    """Return the file that holds the links."""
    return home() / "links.sqlite"
