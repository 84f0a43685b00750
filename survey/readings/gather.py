"""Tidied tables to one round: tags given twice, rows set aside, everything accounted for."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from survey.columns import REJECT_NAMES
from survey.errors import UnreadableFile
from survey.readings import kept
from survey.readings.convert import text_column
from survey.readings.faults import Faults, faulty_rows, joined
from survey.readings.headers import Claim
from survey.readings.limits import MAX_SET_ASIDE
from survey.readings.model import HeaderMatch, RawTable, Round, Tidied
from survey.readings.repeats import of_another_kind, repeat_faults, repeated_tags
from survey.readings.spellings import added_up, with_names
from survey.readings.strays import TOTALS_REASON
from survey.readings.tidy import text_series


@dataclass(frozen=True)
class Part:
    """One table of a round: as it stood, how it was understood, and what became of it."""

    raw: RawTable
    claims: Sequence[Claim]
    tidied: Tidied
    faults: list[Faults]


def gather(
    parts: Sequence[Part], notes: Sequence[str], *, stations: Collection[str] = ()
) -> Round:
    """Put parts together into one round.

    The first usable row of a tag stays; later ones are set aside, across parts too. Names of
    places that differ only in how they are written are taken as one.

    Parameters
    ----------
    parts
        The tables of the round, each cell checked.
    notes
        What was said of them.
    stations
        Names of stations as the site's file writes them.
    """
    spellings = added_up(part.tidied.spellings for part in parts)
    renames = spellings.renames(stations)
    as_typed = spellings.as_typed(renames)
    faults = [list(part.faults) for part in parts]
    _add_repeated_tags(parts, faults)
    _check_few_aside(parts, faults)
    tables, originals, lines, rejects = [], [], [], []
    for part, wrong in zip(parts, faults, strict=True):
        names = kept.kept_names(part.claims)
        aside = faulty_rows(wrong, len(part.raw.cells))
        tables.append(with_names(_rows(part.tidied.table, ~aside), renames))
        stays = part.raw.cells if not aside.any() else part.raw.cells.filter(~aside)
        originals.append(kept.originals(stays, part.claims, names, as_typed))
        lines.append(part.raw.lines[~aside])
        rejects.append(rejects_of(part, wrong, names, several=len(parts) > 1))
    table = _join(tables)
    set_aside = _join(rejects)
    return Round(
        table=table,
        originals=_join(originals),
        given=_given(parts),
        lines=np.concatenate(lines),
        rejects=set_aside,
        matches=matches_of(part.claims for part in parts),
        rows_read=len(table) + len(set_aside),
        notes=tuple(dict.fromkeys([*notes, *spellings.notes(stations)])),
    )


def _check_few_aside(parts: Sequence[Part], faults: Sequence[Sequence[Faults]]) -> None:
    counts = [
        int(faulty_rows(wrong, len(part.raw.cells)).sum())
        for part, wrong in zip(parts, faults, strict=True)
    ]
    if sum(counts) <= MAX_SET_ASIDE:
        return
    worst = counts.index(max(counts))
    first = min(faults[worst], key=lambda group: group.positions[0])
    raise UnreadableFile(
        f"A round was expected, with at most {MAX_SET_ASIDE:,} rows that cannot be used",
        found=f"{sum(counts):,} of them; the first: {first.reasons[0].as_py()}",
        where=f"{parts[worst].raw.name}, row {parts[worst].raw.lines[first.positions[0]]}",
        do="check that this is the right file and that its headers are understood",
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


def matches_of(tables: Iterable[Sequence[Claim]]) -> tuple[HeaderMatch, ...]:
    """Return how the headers of several tables were understood, each kind of match once."""
    found: dict[tuple[str, str | None, str], HeaderMatch] = {}
    for claims in tables:
        for claim in claims:
            match = claim.match
            key = (match.header, match.column, match.unit)
            if key not in found or not found[key].sample:
                found[key] = match
    return tuple(found.values())


def _add_repeated_tags(parts: Sequence[Part], faults: list[list[Faults]]) -> None:
    tags = pd.concat([part.tidied.table["tag"] for part in parts], ignore_index=True)
    faulty = [
        faulty_rows(wrong, len(part.raw.cells)) for part, wrong in zip(parts, faults, strict=True)
    ]
    repeats, stays = repeated_tags(tags, ~np.concatenate(faulty))
    if not len(repeats):
        return
    devices = pd.concat([part.tidied.table["device"] for part in parts], ignore_index=True)
    other_kind = of_another_kind(devices, repeats, stays)
    starts = np.cumsum([0, *(len(part.raw.cells) for part in parts)])
    lines = np.concatenate([part.raw.lines for part in parts])
    own, first = (np.searchsorted(starts, at, side="right") - 1 for at in (repeats, stays))
    for at, part in enumerate(parts):
        header = next((c.match.header for c in part.claims if c.match.column == "tag"), "tag")
        for elsewhere in (False, True):
            of = (own == at) & ((first != at) == elsewhere)
            if of.any():
                names = [parts[n].raw.name for n in first[of]] if elsewhere else None
                words = pa_strings(tags.iloc[repeats[of]])
                positions = repeats[of] - starts[at]
                faults[at].append(repeat_faults(
                    positions, header, words, lines[stays[of]], names,
                    other_kind=other_kind[of],
                ))


def pa_strings(series: pd.Series[Any]) -> Any:
    """Return a pandas text column as one Arrow string array; half a character becomes '?'."""
    import pyarrow as pa

    try:
        return pa.array(series.to_numpy(dtype=object), pa.string(), from_pandas=True)
    except UnicodeEncodeError:  # a frame made in memory may hold what no file can
        whole = series.map(lambda t: str(t).encode("utf-8", "replace").decode(), na_action="ignore")
        return pa.array(whole.to_numpy(dtype=object), pa.string(), from_pandas=True)


def rejects_of(
    part: Part, faults: Sequence[Faults], names: dict[str, str], *, several: bool
) -> pd.DataFrame:
    """Return one line per faulty row of a part: row, column, value, reason, the row as given."""
    import pyarrow as pa

    found = joined(faults, len(part.raw.cells))
    lines = part.raw.lines[found.positions]
    row = [f"{part.raw.name}, row {n}" for n in lines] if several else lines
    head = pd.DataFrame(
        {
            "row": pd.Series(row, dtype="str" if several else "int64"),
            "column": text_series(found.columns),
            "value": text_series(found.values),
            "reason": text_series(found.reasons),
        }
    )
    rows = part.raw.cells.take(pa.array(found.positions))
    return pd.concat([head, kept.as_given(rows, part.claims, names)], axis=1)


def without_totals(rejects: pd.DataFrame) -> pd.DataFrame:
    """Return the rows set aside that are devices, lines that someone added up left out."""
    if "reason" not in rejects:
        return rejects
    return rejects[[TOTALS_REASON not in str(reason) for reason in rejects["reason"]]]


def rejected_cells(
    rejects: pd.DataFrame, headers: Sequence[Mapping[str, Any]], column: str
) -> list[str]:
    """Return what rows set aside say in a column of the contract; '' where they say nothing.

    Parameters
    ----------
    rejects
        One line per row set aside, as in ``Findings.rejects``.
    headers
        ``summary["headers"]``: what each header was taken for. Where none was taken for the column,
        its own name is looked for.
    """
    given = [name for name in rejects.columns if name not in REJECT_NAMES]
    taken = [str(one.get("header")) for one in headers if one.get("column") == column]
    found = [""] * len(rejects)
    for header in taken or [column]:
        # A header that the findings use for something else was kept under another name.
        for name in (header, f"input_{header}"):
            if name in given:
                read = text_column(pa_strings(rejects[name]), column).cells.to_pylist()
                found = [before or after or "" for before, after in zip(found, read, strict=True)]
    return found
