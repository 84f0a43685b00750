"""The round that was judged last, kept in this user's data folder: one file, old or new.

A browser that is reloaded is a new session to Streamlit, and a phone reloads when it wakes up.
"""

from __future__ import annotations

import json
import zipfile
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from survey.dashboard.judging import Upload
from survey.findings import Findings
from survey.sharing.home import home
from survey.writing import replacing

_FILE = "last_round.zip"
_ABOUT, _FINDINGS, _ROUND, _SITE = "about.json", "findings.parquet", "round", "site"


@dataclass(frozen=True)
class KeptRound:
    """A judged round, with all that is needed to judge it again."""

    findings: Findings
    upload: Upload | None = None
    site_file: Upload | None = None
    site_given: dict[str, Any] = field(default_factory=dict)
    header_map: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class About:
    """What the kept round is, read without reading all of it."""

    name: str
    kept_at: datetime


def folder() -> Path:
    """Return this user's data folder, made if need be, for this user's eyes only."""
    place = home()
    place.mkdir(mode=0o700, parents=True, exist_ok=True)
    return place


def keep(kept: KeptRound) -> None:
    """Keep a judged round in the place of the one before.

    Raises
    ------
    OutputError
        The data folder cannot be written.
    OSError
        It cannot be made.
    """
    about = {
        "name": kept.upload.name if kept.upload else "",
        "kept_at": datetime.now(UTC).isoformat(timespec="seconds"),
        "site_name": kept.site_file.name if kept.site_file else "",
        "site_given": kept.site_given,
        "header_map": kept.header_map,
    }
    # For this user alone: the folder may be one that others can look into.
    private = replacing(folder() / _FILE, mode=0o600)
    with private as path, zipfile.ZipFile(path, "w") as archive:
        archive.writestr(_ABOUT, json.dumps(about))
        archive.writestr(_FINDINGS, kept.findings.to_bytes())
        for name, upload in ((_ROUND, kept.upload), (_SITE, kept.site_file)):
            if upload is not None:
                archive.writestr(name, upload.content)


def about() -> About | None:
    """Return what the kept round is; None where there is none, or its file is damaged."""
    try:
        with zipfile.ZipFile(home() / _FILE) as archive:
            told = json.loads(archive.read(_ABOUT))
            return About(str(told["name"]), datetime.fromisoformat(told["kept_at"]))
    except (OSError, zipfile.BadZipFile, KeyError, ValueError, TypeError):
        return None


def opened() -> KeptRound | None:
    """Return the kept round; None where there is none, or its file is damaged."""
    try:
        with zipfile.ZipFile(home() / _FILE) as archive:
            told = json.loads(archive.read(_ABOUT))
            names = archive.namelist()
            return KeptRound(
                Findings.from_bytes(archive.read(_FINDINGS)),
                Upload(told["name"], archive.read(_ROUND)) if _ROUND in names else None,
                Upload(told["site_name"], archive.read(_SITE)) if _SITE in names else None,
                dict(told["site_given"]),
                dict(told["header_map"]),
            )
    except Exception:  # a damaged file can raise anything; the round can be given again
        return None


def forget() -> None:
    """Forget the kept round."""
    (home() / _FILE).unlink(missing_ok=True)
