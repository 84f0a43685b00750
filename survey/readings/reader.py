"""Files to a round: the calls, in order."""

from __future__ import annotations

import os
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from survey.errors import UsageError
from survey.readings import hints, kept, layout, strays
from survey.readings.faults import Faults, Positions
from survey.readings.folders import files_of
from survey.readings.gather import Part, gather
from survey.readings.header_notes import (
    DEVICES_UNUSED,
    assumed_gauge_notes,
    assumed_unit_notes,
    levels_passed_over,
)
from survey.readings.headers import Claim, match_headers
from survey.readings.kinds import tell_kind
from survey.readings.limits import SAMPLE_ROWS
from survey.readings.mapping import check_header_map, check_map_used
from survey.readings.model import HeaderMap, RawTable, Round, Understanding
from survey.readings.texts import as_text
from survey.readings.tidy import cells_at, tidy
from survey.readings.words import is_missing, read_choice

PathLike = str | os.PathLike[str]


def read_round(
    paths: PathLike | Iterable[PathLike],
    *,
    header_map: HeaderMap | None = None,
    altitude_ft: float = 0.0,
    stations: Collection[str] = (),
) -> Round:
    """Read a round from one or more files, and check every cell of it.

    Parameters
    ----------
    paths
        CSV, XLSX or Parquet files, told apart by content. Several make one round; so do the
        Parquet files of a folder.
    header_map
        Header as written to contract column or its name in another unit; '' keeps it.
    altitude_ft
        Height of the site over the sea, by which absolute pressures become gauge.
    stations
        Names of stations as the site's file writes them: so other spellings are taken.

    Returns
    -------
    Round
        Rows that can be judged, rows set aside with reasons, and notes. No row is lost.

    Raises
    ------
    UnreadableFile
        A file is not a round at all, damaged, or over a limit.
    MapError
        The map names a column or a header that does not exist.
    UsageError
        No file was given.
    """
    files = _as_paths(paths)
    named = check_header_map(header_map or {})
    tables, notes = [], []
    for path in files:
        found, said = _read_file(path, named, preview=False)
        tables += found
        notes += said
    check_map_used(named, (header for table in tables for header in table.headers))
    return _checked(tables, named, altitude_ft, notes, stations)


def understand(path: PathLike, *, header_map: HeaderMap | None = None) -> Understanding:
    """Say how a file's headers would be understood, from its first rows only.

    Raises
    ------
    UnreadableFile, MapError
        As `read_round` does.
    """
    named = check_header_map(header_map or {})
    tables, notes = _read_file(Path(path), named, preview=True)
    check_map_used(named, (header for table in tables for header in table.headers))
    matches = {}
    for table in tables:
        claims, said = claims_of(table, named)
        notes += [*table.notes, *said, *_spelled(table, claims)]
        matches.update({(c.match.header, c.match.column): c.match for c in claims})
    return Understanding(tuple(matches.values()), tuple(dict.fromkeys(notes)))


def _spelled(table: RawTable, claims: Sequence[Claim]) -> list[str]:
    """Say how the words and names of a table's first rows are spelled."""
    cells = table.cells.slice(0, SAMPLE_ROWS)
    top = replace(table, cells=cells, lines=table.lines[:SAMPLE_ROWS], faults=())
    notes = part_of(top, claims, 0.0).tidied.spellings.notes()
    # Counts of a part of the rows would be taken for those of all.
    only = f"in the first {SAMPLE_ROWS} rows, " if len(cells) == SAMPLE_ROWS else ""
    return [f"{only}{note}" for note in notes]


def round_from_frame(
    frame: pd.DataFrame, *, altitude_ft: float = 0.0, stations: Collection[str] = ()
) -> Round:
    """Check a table that is in memory already; headers are understood as in a file.

    Parameters
    ----------
    frame
        One row per reading. Rows are numbered from 1, whatever its index.
    altitude_ft, stations
        As for `read_round`.
    """
    import pyarrow as pa

    headers, _ = layout.unique_headers([str(name) for name in frame.columns])
    arrays = [_frame_column(frame.iloc[:, at]) for at in range(frame.shape[1])]
    cells = pa.Table.from_arrays(arrays, names=list(headers)) if arrays else pa.table({})
    lines = np.arange(1, len(frame) + 1, dtype=np.int64)
    return _checked([RawTable("the table", cells, lines)], {}, altitude_ft, [], stations)


def _frame_column(series: pd.Series[Any]) -> Any:
    import pyarrow as pa

    from survey.readings.workbooks import cell_text

    try:
        array = pa.array(series, from_pandas=True)
    except (pa.ArrowException, OverflowError, TypeError, ValueError):
        array = None
    if array is None or pa.types.is_nested(array.type):
        texts = [
            None if item is None or item is pd.NA else cell_text(item)
            for item in series.astype(object).tolist()
        ]
        array = pa.array(texts, pa.string())
    return array.combine_chunks() if isinstance(array, pa.ChunkedArray) else array


def _as_paths(paths: PathLike | Iterable[PathLike]) -> list[Path]:
    files = files_of([paths] if isinstance(paths, str | os.PathLike) else paths)
    if not files:
        raise UsageError(
            "At least one file with a round was expected",
            found="none",
            do="name a .csv, .xlsx or .parquet file",
        )
    return files


def _read_file(path: Path, named: HeaderMap, *, preview: bool) -> tuple[list[RawTable], list[str]]:
    kind = tell_kind(path)
    if kind == "parquet":
        from survey.readings.parquets import read_parquet

        return [read_parquet(path, preview=preview)], []
    if kind == "workbook":
        from survey.readings.workbooks import read_workbook

        return read_workbook(path, header_map=named, preview=preview)
    from survey.readings.delimited import read_delimited

    return [read_delimited(path, header_map=named, preview=preview)], []


def claims_of(table: RawTable, named: HeaderMap) -> tuple[list[Claim], list[str]]:
    """Understand a table's headers, by its first rows; return notes about them too."""
    top = table.cells.slice(0, SAMPLE_ROWS)
    samples = {
        header: [text or "" for text in as_text(top.column(header)).to_pylist()]
        for header in table.headers
    }
    claims, notes = match_headers(table.headers, samples, units=table.units, header_map=named)
    notes += assumed_unit_notes(claims)
    notes += assumed_gauge_notes(claims)
    notes += kept.name_notes(kept.kept_names(claims))
    notes += _devices_passed_over(claims, samples)
    notes += levels_passed_over(claims)
    if not any(claim.match.column == "tag" for claim in claims):
        notes.append(
            f"{table.name}: no header was understood as the tag, without which no row "
            "can be judged; say which it is with a header map"
        )
    return claims, notes


def _devices_passed_over(claims: Sequence[Claim], samples: Mapping[str, list[str]]) -> list[str]:
    """Warn of a column that seems to say what each device is and was not understood."""
    if any(claim.match.column == "device" for claim in claims):
        return []
    notes = []
    for claim in claims:
        if claim.match.column is not None:
            continue
        given = [text for text in samples[claim.match.header] if not is_missing(text)]
        known = [found for text in given if (found := read_choice(text, "device")[0])]
        if len(set(known)) > 1 and 2 * len(known) > len(given):
            notes.append(
                f"{claim.match.header!r} seems to say what each device is and was not used, "
                f"{DEVICES_UNUSED}: set it to 'device' with a header map"
            )
    return notes


def _checked(
    tables: Sequence[RawTable],
    named: HeaderMap,
    altitude_ft: float,
    notes: list[str],
    stations: Collection[str],
) -> Round:
    parts = []
    for table in tables:
        claims, said = claims_of(table, named)
        part = part_of(table, claims, altitude_ft)
        notes += [*table.notes, *said, *hints.from_part(part)]
        parts.append(part)
    return gather(parts, notes, stations=stations)


def part_of(table: RawTable, claims: Sequence[Claim], altitude_ft: float) -> Part:
    """Check every cell of a table, or of a batch of one."""
    tidied = tidy(table.cells, claims, decimal=table.decimal, altitude_ft=altitude_ft)
    header = next((c.match.header for c in claims if c.match.column == "tag"), None)
    faults = [*table.faults, *tidied.faults]
    totals = _totals(table, header)
    if len(totals):
        # What else a line of totals lacks is beside the point.
        faults = [group.where(~np.isin(group.positions, totals)) for group in faults]
        words = cells_at(table.cells.column(header or 0).combine_chunks(), totals)
        faults.append(Faults.of(totals, header or "", strays.TOTALS_REASON, words))
    return Part(table, claims, tidied, [group for group in faults if len(group.positions)])


def _totals(table: RawTable, tag_header: str | None) -> Positions:
    if not table.is_text or not table.headers:
        return np.zeros(0, dtype=np.int64)
    return np.flatnonzero(strays.totals_rows(table.cells, tag_header))
