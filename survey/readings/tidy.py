"""A raw table and its claims to a tidy table and its faults: a pure function of one batch.

Nothing here looks past the rows it is given, so a round may be tidied whole or in pieces;
what needs the whole round (a tag given twice) is in `gather`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd

from survey.columns import INPUT_COLUMNS, READING_NAMES, Column
from survey.readings import convert
from survey.readings.convert import Converted
from survey.readings.faults import Faults
from survey.readings.headers import Claim
from survey.readings.limits import MAX_NAME_CHARACTERS
from survey.readings.model import Tidied
from survey.readings.spellings import NAMED, spellings_of
from survey.readings.texts import as_text
from survey.readings.units import CONTRACT_UNIT

_NAMES = ("tag", "equipment", "area", "station")
_DEVICE_DEFAULT = "trap"


def tidy(
    cells: Any, claims: Sequence[Claim], *, decimal: str = ".", altitude_ft: float = 0.0
) -> Tidied:
    """Convert one batch of raw rows to contract columns and units, and find every fault.

    Parameters
    ----------
    cells
        pyarrow Table, columns named by header.
    claims
        Which header fills which column, and in which unit (`headers.match_headers`).
    decimal
        '.' or ',': the decimal mark of text cells.
    altitude_ft
        Height of the site: absolute pressures become gauge by its atmosphere.

    Returns
    -------
    Tidied
        As many rows as `cells`, faulty ones still among them, and their faults.
    """
    from survey.physics.units import atmosphere_psia

    air_psia = float(atmosphere_psia(altitude_ft=altitude_ft))
    by_column = {claim.match.column: claim for claim in claims if claim.match.column}
    done: dict[str, Converted] = {}
    faults: list[Faults] = []
    for column in INPUT_COLUMNS:
        claim = by_column.get(column.name)
        if claim is None:
            continue
        raw = _one(cells.column(claim.match.header))
        converted = _convert(raw, column, claim, decimal, air_psia)
        if column.name == "device" and "trap_type" not in by_column and converted.faults:
            done["trap_type"] = _take_types(converted, raw)
        done[column.name] = converted
        faults += _cell_faults(raw, claim.match.header, converted)
        if column.name in _NAMES:
            faults += _long_names(raw, claim.match.header, converted)
    if "device" not in by_column and "trap_type" in by_column and done["trap_type"].unknown:
        _take_devices(done, _one(cells.column(by_column["trap_type"].match.header)))
    faults += _row_faults(done, by_column, cells)
    table = _as_frame(done, len(cells))
    spellings = spellings_of(
        {name: done[name].cells for name in NAMED if name in done},
        {name: c.unknown for name, c in done.items() if c.unknown},
        {name: c.slips for name, c in done.items() if c.slips},
    )
    doubtful = done["read_at"].doubtful if "read_at" in done else 0
    return Tidied(table, faults, spellings, doubtful)


def _take_types(devices: Converted, raw: Any) -> Converted:
    """Return the trap types that a column of devices names; such a row's device is a trap."""
    types = convert.choice_column(raw, "trap_type", slips=False)
    types.unknown = {}
    known = types.cells.codes >= 0
    kept = [(positions[~known[positions]], reasons) for positions, reasons in devices.faults]
    devices.faults[:] = [(positions, reasons) for positions, reasons in kept if len(positions)]
    return types


def _take_devices(done: dict[str, Converted], types: Any) -> None:
    """Take vents, breakers and check valves out of a column that lists them among trap types."""
    devices, named = convert.devices_in_types(types)
    if named:
        done["device"] = devices
        unknown = done["trap_type"].unknown
        done["trap_type"].unknown = {w: n for w, n in unknown.items() if w not in named}


def _one(column: Any) -> Any:
    return column.combine_chunks() if hasattr(column, "combine_chunks") else column


def _convert(raw: Any, column: Column, claim: Claim, decimal: str, air_psia: float) -> Converted:
    if column.kind == "number":
        unit = claim.unit or CONTRACT_UNIT[column.name]
        return convert.number_column(raw, column.name, unit, decimal, air_psia)
    if column.kind == "choice":
        return convert.choice_column(raw, column.name)
    if column.kind == "time":
        return convert.time_column(raw)
    return convert.text_column(raw, column.name)


def _cell_faults(raw: Any, header: str, converted: Converted) -> list[Faults]:
    return [
        Faults.of(positions, header, reasons, cells_at(raw, positions))
        for positions, reasons in converted.faults
    ]


def cells_at(raw: Any, positions: Any) -> Any:
    """Return the cells at some positions as an Arrow string array."""
    import pyarrow as pa

    return as_text(raw.take(pa.array(positions, pa.int64())))


def _long_names(raw: Any, header: str, converted: Converted) -> list[Faults]:
    import pyarrow.compute as pc

    lengths = pc.utf8_length(converted.cells)
    positions = np.flatnonzero(pc.fill_null(pc.greater(lengths, MAX_NAME_CHARACTERS), False))
    if not len(positions):
        return []
    reason = f"longer than {MAX_NAME_CHARACTERS} characters"
    return [Faults.of(positions, header, reason, cells_at(raw, positions))]


def _row_faults(
    done: Mapping[str, Converted], claims: Mapping[str, Claim], cells: Any
) -> list[Faults]:
    """Find rows with no tag, and rows with no reading in them."""
    rows = len(cells)
    header = claims["tag"].match.header if "tag" in claims else "tag"
    untagged = np.asarray(done["tag"].cells.is_null()) if "tag" in done else np.ones(rows, bool)
    unread = np.ones(rows, dtype=bool)
    for name in READING_NAMES:
        if name not in done or not unread.any():
            continue
        unread &= _missing(done[name].cells)
        for positions, _ in done[name].faults:
            unread[positions] = False  # there was one; its own fault says what ails it
    reason = "no reading: at least one temperature, pressure, sound or observation is needed"
    found = (
        Faults.of(np.flatnonzero(untagged), header, "no tag"),
        Faults.of(np.flatnonzero(unread), "", reason),
    )
    return [faults for faults in found if len(faults.positions)]


def _missing(cells: Any) -> Any:
    return cells.codes < 0 if isinstance(cells, pd.Categorical) else np.isnan(cells)


def _as_frame(done: dict[str, Converted], rows: int) -> pd.DataFrame:
    columns = {}
    for column in INPUT_COLUMNS:
        converted = done.get(column.name)
        if converted is None:
            columns[column.name] = _absent(column, rows)
        elif column.kind in ("text", "time"):
            columns[column.name] = text_series(converted.cells)
        elif column.name == "device":
            columns[column.name] = pd.Series(converted.cells).fillna(_DEVICE_DEFAULT)
        else:
            columns[column.name] = converted.cells
    return pd.DataFrame(columns, index=pd.RangeIndex(rows), copy=False)


def text_series(array: Any) -> pd.Series[Any]:
    """Return an Arrow string array as a pandas Series of the str dtype."""
    return pd.Series(array.to_pandas(), dtype="str")


def _absent(column: Column, rows: int) -> pd.Series[Any]:
    if column.kind == "number":
        return pd.Series(np.full(rows, np.nan))
    if column.kind == "choice":
        code = column.choices.index(_DEVICE_DEFAULT) if column.name == "device" else -1
        codes = np.full(rows, code, dtype=np.int8)
        return pd.Series(convert.categories(codes, column.choices))
    import pyarrow as pa

    return text_series(pa.nulls(rows, pa.string()))
