"""Tidied tables to one round: tags given twice, rows set aside, everything accounted for."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from survey.readings import kept
from survey.readings.headers import Claim
from survey.readings.model import Fault, HeaderMatch, RawTable, Round, Tidied


@dataclass(frozen=True)
class Part:
    """One table of a round: as it stood, how it was understood, and what became of it."""

    raw: RawTable
    claims: Sequence[Claim]
    tidied: Tidied
    faults: list[Fault]


def gather(parts: Sequence[Part], notes: Sequence[str]) -> Round:
    """Put parts together into one round.

    The first usable row of a tag stays; later ones are set aside, across parts too.
    """
    faults = [list(part.faults) for part in parts]
    _add_repeated_tags(parts, faults)
    tables, originals, lines, rejects = [], [], [], []
    for part, wrong in zip(parts, faults, strict=True):
        names = kept.kept_names(part.claims)
        aside = np.zeros(len(part.raw.cells), dtype=bool)
        aside[[fault.position for fault in wrong]] = True
        tables.append(_rows(part.tidied.table, ~aside))
        stays = part.raw.cells if not aside.any() else part.raw.cells.filter(~aside)
        originals.append(kept.originals(stays, part.claims, names, list(part.tidied.unknown_words)))
        lines.append(part.raw.lines[~aside])
        rejects.append(_rejects(part, wrong, names, several=len(parts) > 1))
    table = _join(tables)
    set_aside = _join(rejects)
    return Round(
        table=table,
        originals=_join(originals),
        given=_given(parts),
        lines=np.concatenate(lines),
        rejects=set_aside,
        matches=_matches(parts),
        rows_read=len(table) + len(set_aside),
        notes=tuple(dict.fromkeys(notes)),
    )


def _rows(table: pd.DataFrame, mask: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> pd.DataFrame:
    return table if mask.all() else table.loc[mask].reset_index(drop=True)


def _join(frames: Sequence[pd.DataFrame]) -> pd.DataFrame:
    if len(frames) == 1:
        return frames[0]
    filled = [frame for frame in frames if len(frame)] or [frames[0]]
    order = list(dict.fromkeys(name for frame in frames for name in frame.columns))
    return pd.concat(filled, ignore_index=True).reindex(columns=order)


def _given(parts: Sequence[Part]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(header for part in parts for header in part.raw.headers))


def _matches(parts: Sequence[Part]) -> tuple[HeaderMatch, ...]:
    found: dict[tuple[str, str | None, str], HeaderMatch] = {}
    for part in parts:
        for claim in part.claims:
            match = claim.match
            key = (match.header, match.column, match.unit)
            if key not in found or not found[key].sample:
                found[key] = match
    return tuple(found.values())


def _add_repeated_tags(parts: Sequence[Part], faults: list[list[Fault]]) -> None:
    tags = pd.concat([part.tidied.table["tag"] for part in parts], ignore_index=True)
    if tags.is_unique:
        return
    repeated = tags.duplicated(keep=False) & tags.notna()
    positions = np.flatnonzero(repeated.to_numpy())
    starts = np.cumsum([0, *(len(part.raw.cells) for part in parts)])
    faulty = {int(starts[i]) + f.position for i, wrong in enumerate(faults) for f in wrong}
    rows_of: dict[str, list[int]] = defaultdict(list)
    for position, tag in zip(positions.tolist(), tags.iloc[positions].tolist(), strict=True):
        rows_of[tag].append(position)
    for rows in rows_of.values():
        stays = next((row for row in rows if row not in faulty), rows[0])
        for row in rows:
            if row > stays:
                _add_repeat(parts, faults, starts, row, stays)


def _add_repeat(
    parts: Sequence[Part],
    faults: list[list[Fault]],
    starts: np.ndarray[tuple[int], np.dtype[np.int64]],
    row: int,
    stays: int,
) -> None:
    own, first = (int(np.searchsorted(starts, at, side="right")) - 1 for at in (row, stays))
    position = row - int(starts[own])
    claim = next(c for c in parts[own].claims if c.match.column == "tag")
    value = str(parts[own].tidied.table["tag"].iloc[position])[:200]
    line = int(parts[first].raw.lines[stays - int(starts[first])])
    where = f"row {line}" + (f" of {parts[first].raw.name}" if own != first else "")
    faults[own].append(Fault(position, claim.match.header, value, f"the tag is already on {where}"))


def _rejects(
    part: Part, faults: Sequence[Fault], names: dict[str, str], *, several: bool
) -> pd.DataFrame:
    by_row: dict[int, list[Fault]] = defaultdict(list)
    for fault in faults:
        by_row[fault.position].append(fault)
    positions = sorted(by_row)
    lines = part.raw.lines[positions]
    row = [f"{part.raw.name}, row {n}" for n in lines] if several else lines
    head = pd.DataFrame(
        {
            "row": pd.Series(row, dtype="str" if several else "int64"),
            "column": _words([_joined(f.column for f in by_row[p]) for p in positions]),
            "value": _words([_joined(f.value for f in by_row[p]) for p in positions]),
            "reason": _words([_reason(by_row[p]) for p in positions]),
        }
    )
    given = kept.as_given(
        part.raw.cells.take(np.array(positions, dtype=np.int64)), part.claims, names
    )
    return pd.concat([head, given], axis=1)


def _words(texts: list[str]) -> pd.Series[Any]:
    return pd.Series(texts, dtype="str")


def _joined(words: Iterable[str]) -> str:
    return "; ".join(dict.fromkeys(word for word in words if word))


def _reason(faults: Sequence[Fault]) -> str:
    if len(faults) == 1:
        return faults[0].reason
    return "; ".join(f"{f.column}: {f.reason}" if f.column else f.reason for f in faults)
