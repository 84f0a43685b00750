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
from survey.readings.headers import Claim
from survey.readings.limits import MAX_NAME_CHARACTERS, MAX_VALUE_SHOWN
from survey.readings.model import Fault, Tidied
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
    faults: list[Fault] = []
    for column in INPUT_COLUMNS:
        claim = by_column.get(column.name)
        if claim is None:
            continue
        raw = _one(cells.column(claim.match.header))
        converted = _convert(raw, column, claim, decimal, air_psia)
        done[column.name] = converted
        faults += _cell_faults(raw, claim.match.header, converted)
        if column.name in _NAMES:
            faults += _long_names(raw, claim.match.header, converted)
    faults += _row_faults(done, by_column, len(cells))
    table = _as_frame(done, len(cells))
    unknown = {name: c.unknown for name, c in done.items() if c.unknown}
    doubtful = done["read_at"].doubtful if "read_at" in done else 0
    return Tidied(table, faults, unknown, doubtful)


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


def _cell_faults(raw: Any, header: str, converted: Converted) -> list[Fault]:
    return [
        Fault(int(position), header, value, reason)
        for positions, reason in converted.faults
        for position, value in zip(positions, shown(raw, positions), strict=True)
    ]


def shown(raw: Any, positions: Any) -> list[str]:
    """Return the cells at some positions as text, cut to what can be shown."""
    import pyarrow as pa

    texts = as_text(raw.take(pa.array(positions, pa.int64()))).to_pylist()
    return ["" if text is None else _cut(text) for text in texts]


def _cut(text: str) -> str:
    return text if len(text) <= MAX_VALUE_SHOWN else text[: MAX_VALUE_SHOWN - 1] + "…"


def _long_names(raw: Any, header: str, converted: Converted) -> list[Fault]:
    import pyarrow.compute as pc

    lengths = pc.utf8_length(converted.cells)
    if not len(lengths) or (pc.max(lengths).as_py() or 0) <= MAX_NAME_CHARACTERS:
        return []
    positions = np.flatnonzero(pc.fill_null(pc.greater(lengths, MAX_NAME_CHARACTERS), False))
    reason = f"longer than {MAX_NAME_CHARACTERS} characters"
    return [
        Fault(int(p), header, v, reason)
        for p, v in zip(positions, shown(raw, positions), strict=True)
    ]


def _row_faults(
    done: Mapping[str, Converted], claims: Mapping[str, Claim], rows: int
) -> list[Fault]:
    """Find rows with no tag, and rows with no reading in them."""
    header = claims["tag"].match.header if "tag" in claims else "tag"
    if "tag" in done:
        untagged = np.asarray(done["tag"].cells.is_null())
    else:
        untagged = np.ones(rows, dtype=bool)
    faults = [Fault(int(p), header, "", "no tag") for p in np.flatnonzero(untagged)]
    unread = np.ones(rows, dtype=bool)
    for name in READING_NAMES:
        if name not in done or not unread.any():
            continue
        unread &= _missing(done[name].cells)
        for positions, _ in done[name].faults:
            unread[positions] = False  # there was one; its own fault says what ails it
    reason = "no reading: at least one temperature, pressure, sound or observation is needed"
    return [*faults, *(Fault(int(p), "", "", reason) for p in np.flatnonzero(unread))]


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
            columns[column.name] = pd.Series(converted.cells, copy=False)
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
