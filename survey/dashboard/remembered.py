"""Header corrections, remembered for every set of headers, and how figures are written.

A file of the same headers is read the next time as it was confirmed the last time. What is
remembered is a map file, the same as ``--map`` takes, named after the headers it is for.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping
from pathlib import Path

from survey.dashboard.kept import folder
from survey.errors import SurveyError
from survey.readings import HeaderMatch, Understanding, dump_header_map, load_header_map
from survey.reports.manner import DEFAULT_LOCALE, Manner
from survey.sharing.home import home
from survey.writing import replacing

_HEADERS = "headers"
_MANNER = "figures.json"
MOST_REMEMBERED = 200


def remember(plain: Understanding, corrected: Iterable[HeaderMatch]) -> None:
    """Remember what a person made of a file's headers.

    Parameters
    ----------
    plain
        How the headers were understood with nobody's help.
    corrected
        Those that a person set or confirmed; none where all were right.

    Raises
    ------
    SurveyError, OSError
        The data folder cannot be written.
    """
    path = _place(plain)
    folder()
    path.parent.mkdir(exist_ok=True)
    with replacing(path) as temporary:
        temporary.write_text(dump_header_map(corrected), encoding="utf-8")
    for old in sorted(path.parent.glob("*.toml"), key=_age)[:-MOST_REMEMBERED]:
        old.unlink(missing_ok=True)


def recalled(plain: Understanding) -> dict[str, str] | None:
    """Return the corrections of headers like these; None where no person ever saw them."""
    path = _place(plain)
    try:
        return load_header_map(path) if path.is_file() else None
    except SurveyError:
        return None  # damaged, or of another version: as if it had never been


def forget(plain: Understanding) -> None:
    """Forget the corrections of headers like these."""
    _place(plain).unlink(missing_ok=True)


def _place(plain: Understanding) -> Path:
    """Return the file for a set of headers, in any order.

    What each was taken for is part of the name: the same header over another units row is
    another header.
    """
    told = sorted(
        [" ".join(match.header.split()).casefold(), match.column or "", match.unit, match.how]
        for match in plain.matches
    )
    digest = hashlib.sha256(json.dumps(told).encode("utf-8", "replace")).hexdigest()
    return home() / _HEADERS / f"{digest[:32]}.toml"


def _age(path: Path) -> float:
    try:
        return path.stat().st_mtime
    except OSError:
        return 0.0


def manner() -> Manner:
    """Return how figures are to be written on the screens; plain US where nothing was chosen."""
    try:
        told: Mapping[str, str] = json.loads((home() / _MANNER).read_text(encoding="utf-8"))
        return Manner(told["units"], told["locale"])
    except (OSError, ValueError, KeyError, TypeError, SurveyError):
        return Manner("us", DEFAULT_LOCALE)


def remember_manner(chosen: Manner) -> None:
    """Remember how figures are to be written; raises SurveyError, OSError."""
    with replacing(folder() / _MANNER) as temporary:
        temporary.write_text(
            json.dumps({"units": chosen.units, "locale": chosen.locale}), encoding="utf-8"
        )
