"""Findings of some areas only, with nothing left that tells of the others."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np
import pandas as pd

from survey.diagnosis.equipment import equipment_of
from survey.errors import UsageError
from survey.findings import Findings
from survey.reports.tables import sums_of, texts
from survey.reports.words import tidy
from survey.summary import STATIONS_UNUSED

_SITE_WIDE = ("currency", "site_name", "loss_basis", "made_at", "version")


def narrowed(findings: Findings, areas: Sequence[str] | None) -> Findings:
    """Return the findings of some areas only, with nothing left that tells of the others.

    Counts and sums are those of the rows kept. A device that names no area is kept with the only
    heater of its equipment's name, as it was judged. Rows set aside are kept where they name one of
    the areas. Notes on reading the file are dropped, and so is every assumption or finding
    about the instruments that names a place or a device which is not shown.

    Raises
    ------
    UsageError
        An area is not in the findings, or none is given.
    """
    if areas is None:
        return findings
    table, rejects = findings.table, findings.rejects
    chosen = _known_areas(areas, texts(table, "area"))
    kept = table[_in_areas(table, chosen)]
    aside = rejects[texts(rejects, "area").isin(chosen)]
    summary = {name: findings.summary[name] for name in _SITE_WIDE if name in findings.summary}
    told = {name: findings.summary.get(name, []) for name in ("assumptions", "calibration")}
    words = "\n".join(_said(entry) for entries in told.values() for entry in entries)
    names_hidden = _naming(_perhaps_in(words, _names_only_in(table, kept)))
    for name, entries in told.items():
        summary[name] = [
            entry for entry in entries
            if not names_hidden.search(_said(entry))
            and not _said(entry).startswith(STATIONS_UNUSED)
        ]
    summary |= {
        **sums_of(kept),
        "areas_shown": chosen,
        "rows_read": len(kept) + len(aside),
        "rows_judged": len(kept),
        "rows_set_aside": len(aside),
    }
    return Findings(kept, aside, summary)


def _in_areas(table: pd.DataFrame, chosen: Sequence[str]) -> np.ndarray:
    area, heater = texts(table, "area"), equipment_of(table)
    named = area.isin(chosen).to_numpy()
    with_it = np.isin(heater, heater[named & (heater >= 0)])
    return np.asarray(named | (with_it & (area == "").to_numpy()))


def _names_only_in(table: pd.DataFrame, kept: pd.DataFrame) -> set[str]:
    """Return the names of places and devices that are in one table and not in the other."""
    return {
        name for column in ("area", "station", "equipment", "tag")
        for name in set(texts(table, column)) - set(texts(kept, column))
        # A bare number as a device's tag is no name: it would be found in every figure.
        if name and not (column == "tag" and name.isdecimal())
    }


def _perhaps_in(text: str, names: Iterable[str]) -> set[str]:
    """Return the names that a text may hold: a pattern of a large round's every name is slow."""
    text = _folded(text)
    return {name for name in names if _folded(name) in text}


def _folded(text: str) -> str:
    # Patterns that ignore case take these two for an i, which folding by itself does not.
    return text.replace("\u0130", "i").replace("\u0131", "i").casefold()


def _naming(names: set[str]) -> re.Pattern[str]:
    if not names:
        return re.compile(r"(?!)")
    either = "|".join(re.escape(name) for name in sorted(names))
    return re.compile(rf"(?<!\w)(?:{either})(?!\w)", re.IGNORECASE)


def _said(entry: Any) -> str:
    if isinstance(entry, dict):
        return f"{entry.get('group', '')}\n{entry.get('words', '')}"
    return str(entry)


def _known_areas(areas: Iterable[str], present: pd.Series[str]) -> list[str]:
    chosen, known = list(areas), sorted(set(present) - {""})
    unknown = [area for area in chosen if area not in known]
    if unknown or not chosen:
        names = ", ".join(tidy(area, 40) for area in known[:20]) or "the findings name no area"
        raise UsageError(
            "Areas that are in the findings were expected",
            found=", ".join(tidy(area, 40) for area in unknown[:5]) or "none",
            do=f"choose from: {names}",
        )
    return chosen
