"""What a round holds, told by its readings: its fingerprint, its tags, the day it was read."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from datetime import date

import numpy as np
import pandas as pd

from survey.columns import INPUT_BY_NAME, INPUT_NAMES
from survey.errors import RoundsError
from survey.findings import Findings
from survey.plant.units import text_of
from survey.readings.gather import rejected_cells, without_totals

UNJUDGED_COLUMNS = ("tag", "device", "equipment", "area", "station", "trap_type")
"""What is told of a device that was set aside: what it is, and where."""
_DIGITS = 9


def fingerprint(table: pd.DataFrame) -> str:
    """Return the SHA-256 of the readings of the judged rows, as 64 hexadecimal digits.

    The order of rows and columns, the file's name and kind, empty columns, and what was made of
    the readings do not change it; any reading, tag or place does. Numbers count to nine digits.
    """
    columns = {}
    for name in sorted(set(INPUT_NAMES) & set(table.columns)):
        said = _as_text(table[name], number=INPUT_BY_NAME[name].kind == "number")
        if (said != "").any():
            columns[name] = said
    rows = pd.DataFrame(columns)
    rows = rows.sort_values("tag", kind="stable") if "tag" in rows else rows
    digest = hashlib.sha256("\x1f".join(rows.columns).encode())
    for row in rows.itertuples(index=False, name=None):
        digest.update(b"\x1e" + "\x1f".join(row).encode("utf-8", "replace"))
    return digest.hexdigest()


def _as_text(values: pd.Series, *, number: bool) -> np.ndarray:
    if number:
        floats = pd.to_numeric(values, errors="coerce").to_numpy(dtype=float)
        # Adding zero makes one of the two zeros of floats.
        return np.array(["" if np.isnan(f) else f"{f + 0.0:.{_DIGITS}g}" for f in floats], object)
    plain = values.astype(object)
    # A spreadsheet's apostrophe before what would start a formula is not part of the text.
    return np.array(
        ["" if pd.isna(v) else " ".join(str(v).split()).lstrip("'") for v in plain], object
    )


def tags_of(findings: Findings) -> list[str]:
    """Return the tags of a round.

    Raises
    ------
    RoundsError
        No row, a row without a tag, or a tag on more than one row: units could not be told.
    """
    if not len(findings.table):
        raise RoundsError("At least one judged device was expected in a round", found="none")
    tags = [spaced(str(v)) if pd.notna(v) else "" for v in findings.table["tag"]]
    if "" in tags:
        raise RoundsError(
            "A tag on every row was expected",
            found=f"none on row {tags.index('') + 1} of the findings",
            do="give each device its tag",
        )
    twice = pd.Series(tags)[pd.Series(tags).duplicated()]
    if len(twice):
        raise RoundsError(
            "Each tag once was expected in a round",
            found=f"{str(twice.iloc[0])[:60]!r} more than once",
            do="judge the round with survey analyze, which sets repeats aside",
        )
    return tags


def says_when_read(findings: Findings) -> bool:
    """Return whether any row says when it was read; else the day of judging stands in."""
    return bool(len(_days(findings)))


def day_read(findings: Findings) -> date:
    """Return the day of a round: the middle one of its readings, else when it was judged.

    Raises
    ------
    RoundsError
        Neither is in the findings.
    """
    days = _days(findings)
    if len(days):
        middle: date = days.sort_values().iloc[(len(days) - 1) // 2].date()
        return middle
    try:
        return date.fromisoformat(str(findings.summary.get("made_at", ""))[:10])
    except ValueError:
        raise _undated() from None


def _days(findings: Findings) -> pd.Series:
    """Return the day of every reading that says it."""
    if "read_at" not in findings.table:
        return pd.Series([], dtype="datetime64[ns]")
    times = findings.table["read_at"].astype(object).astype(str)
    return pd.to_datetime(times.str.slice(0, 10), errors="coerce", format="%Y-%m-%d").dropna()


def _undated() -> RoundsError:
    return RoundsError(
        "A round that says when it was read was expected",
        found="no read_at in any row, and no day on which it was judged",
        do="add a read_at column to the round, give findings saved as .parquet or .xlsx, or name "
        "the day when it is kept: survey rounds add --on YYYY-MM-DD",
    )


def tags_set_aside(findings: Findings) -> tuple[str, ...]:
    """Return the tags that rows set aside bear, under whatever header was taken for the tag.

    A device that another row of the round judges is not among them.
    """
    return tuple(rows_unjudged(findings)["tag"])


def in_both(before: Sequence[str], after: Sequence[str]) -> tuple[str, ...]:
    """Return the tags of one round that stand in another, sorted."""
    now = set(map(spaced, after))
    return tuple(sorted(tag for tag in before if spaced(tag) in now))


def spaced(tag: str) -> str:
    """Return a tag with one space wherever it has any."""
    return " ".join(tag.split())


def rows_unjudged(findings: Findings) -> pd.DataFrame:
    """Return what the rows set aside say of devices that no row of the round judges.

    Returns
    -------
    pandas.DataFrame
        One row per tag, text columns `UNJUDGED_COLUMNS`; '' where nothing is said.
    """
    headers = findings.summary.get("headers", [])
    rejects = without_totals(findings.rejects)
    cells = {name: rejected_cells(rejects, headers, name) for name in UNJUDGED_COLUMNS}
    said = pd.DataFrame(cells, dtype=object)
    judged = set(text_of(findings.table, "tag"))
    known = (said["tag"] != "") & ~said["tag"].isin(judged)
    return said[known].drop_duplicates("tag").reset_index(drop=True)
