"""The round that was judged last, kept in this user's data folder: one file, old or new.

Its work list and the filters of its ranked list are a small file beside it, so that a tick need
not write the round again. The two are tied by a mark of the round's own: the list of another
round is none of this one.

A browser that is reloaded is a new session to Streamlit, and a phone reloads when it wakes up.
"""

from __future__ import annotations

import json
import secrets
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
_LIST = "last_round_list.json"
_ABOUT, _FINDINGS, _ROUND, _SITE = "about.json", "findings.parquet", "round", "site"


@dataclass(frozen=True)
class KeptRound:
    """A judged round, with all that is needed to judge it again."""

    findings: Findings
    upload: Upload | None = None
    site_file: Upload | None = None
    site_given: dict[str, Any] = field(default_factory=dict)
    header_map: dict[str, str] = field(default_factory=dict)
    picked: list[str] = field(default_factory=list)
    filters: dict[str, Any] = field(default_factory=dict)
    mark: str = ""


@dataclass(frozen=True)
class About:
    """What the kept round is, read without reading all of it; no two have the same mark."""

    name: str
    kept_at: datetime
    mark: str


def folder() -> Path:
    """Return this user's data folder, made if need be, for this user's eyes only."""
    place = home()
    place.mkdir(mode=0o700, parents=True, exist_ok=True)
    return place


def keep(kept: KeptRound) -> str:
    """Keep a judged round, its work list and filters in the place of the one before.

    Returns
    -------
    str
        Its mark.

    Raises
    ------
    OutputError
        The data folder cannot be written.
    OSError
        It cannot be made.
    """
    mark = secrets.token_hex(8)
    about = {
        "mark": mark,
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
    if kept.picked or kept.filters:
        keep_list(mark, kept.picked, kept.filters)
    return mark


def keep_list(mark: str, picked: list[str], filters: dict[str, Any]) -> None:
    """Keep work list and filters of the kept round; nothing where another is kept by now.

    Raises
    ------
    OutputError
        The data folder cannot be written.
    """
    its = about()
    if its is None or its.mark != mark:
        return
    with replacing(home() / _LIST, mode=0o600) as path:
        told = {"mark": mark, "picked": picked, "filters": filters}
        path.write_text(json.dumps(told), encoding="utf-8")


def _list_of(mark: str) -> tuple[list[str], dict[str, Any]]:
    """Return work list and filters of the round of this mark; empty where they are damaged."""
    try:
        told = json.loads((home() / _LIST).read_text(encoding="utf-8"))
        if told["mark"] == mark:
            return [str(tag) for tag in told["picked"]], dict(told.get("filters", {}))
    except (OSError, KeyError, ValueError, TypeError):
        pass
    return [], {}


def about() -> About | None:
    """Return what the kept round is; None where there is none, or its file is damaged."""
    try:
        with zipfile.ZipFile(home() / _FILE) as archive:
            told = json.loads(archive.read(_ABOUT))
            kept_at = datetime.fromisoformat(told["kept_at"])
            return About(str(told["name"]), kept_at, str(told.get("mark", "")))
    except (OSError, zipfile.BadZipFile, KeyError, ValueError, TypeError):
        return None


def opened() -> KeptRound | None:
    """Return the kept round; None where there is none, or its file is damaged."""
    try:
        with zipfile.ZipFile(home() / _FILE) as archive:
            told = json.loads(archive.read(_ABOUT))
            names, mark = archive.namelist(), str(told.get("mark", ""))
            return KeptRound(
                Findings.from_bytes(archive.read(_FINDINGS)),
                Upload(told["name"], archive.read(_ROUND)) if _ROUND in names else None,
                Upload(told["site_name"], archive.read(_SITE)) if _SITE in names else None,
                dict(told["site_given"]),
                dict(told["header_map"]),
                *_list_of(mark),
                mark,
            )
    except Exception:  # a damaged file can raise anything; the round can be given again
        return None


def forget() -> None:
    """Forget the kept round and its work list."""
    for name in (_FILE, _LIST):
        (home() / name).unlink(missing_ok=True)
