"""Header maps: a TOML file that says which header is which column."""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from survey.columns import INPUT_NAMES
from survey.errors import MapError
from survey.paths import plain_bytes
from survey.readings.model import HeaderMap, HeaderMatch
from survey.readings.units import CONTRACT_UNIT, VARIANTS

_LARGEST_BYTES = 1_000_000
_KNOWN = (*INPUT_NAMES, *VARIANTS)
_SHAPE = 'write a [columns] table with lines such as "Inlet Temp (°F)" = "inlet_temp_f"'


def load_header_map(path: str | Path) -> dict[str, str]:
    """Read a header map.

    Parameters
    ----------
    path
        TOML with one table, ``[columns]``: header as written to a column of a round, or its
        name in another unit (inlet_temp_c), or "" to keep the header as it is.

    Raises
    ------
    MapError
        The file cannot be read as that, or names a column that does not exist; the nearest
        known one is named.
    """
    path = Path(path)
    raw = _read_toml(path)
    extra = [key for key in raw if key != "columns"]
    columns = raw.get("columns")
    if extra or not isinstance(columns, dict):
        raise MapError(
            "A header map with one table, [columns], was expected",
            found=f"the key {extra[0][:80]!r}" if extra else "no [columns] table",
            where=str(path),
            do=_SHAPE,
        )
    return check_header_map(columns, where=str(path))


def check_header_map(
    columns: Mapping[str, Any], *, where: str = "the header map"
) -> dict[str, str]:
    """Return the map if every column it names exists; raise MapError otherwise."""
    for header, column in columns.items():
        if column == "" or column in _KNOWN:
            continue
        near = difflib.get_close_matches(str(column)[:80], _KNOWN, n=1, cutoff=0.0)[0]
        raise MapError(
            f"A column of a round was expected for the header {str(header)[:80]!r}",
            found=repr(column)[:80],
            where=where,
            do=f'the nearest known column is {near!r}; correct it, or write "" to keep the '
            "header as it is",
        )
    return {str(header): str(column) for header, column in columns.items()}


def check_map_used(header_map: HeaderMap, headers: Iterable[str]) -> None:
    """Raise MapError if the map names a header that no table read has."""
    present = [" ".join(header.split()) for header in headers]
    for header in header_map:
        if " ".join(header.split()) in present:
            continue
        near = difflib.get_close_matches(header[:80], present[:1000], n=1, cutoff=0.0)
        raise MapError(
            "Every header in the map was expected in the round",
            found=f"the map names {header[:80]!r}, which the round does not have",
            do=f"the nearest header is {near[0][:80]!r}; write it exactly as in the file"
            if near
            else "write it exactly as in the file",
        )


def dump_header_map(matches: Iterable[HeaderMatch]) -> str:
    """Return the TOML of a header map that reproduces these matches, units included.

    A unit that no column name stands for (K, MPa) is left to the header that carries it.
    """
    lines = ["[columns]"]
    for match in matches:
        lines.append(f"{_quoted(match.header)} = {_quoted(_column_name(match))}")
    return "\n".join(lines) + "\n"


def _column_name(match: HeaderMatch) -> str:
    if match.column is None:
        return ""
    own = CONTRACT_UNIT.get(match.column)
    if own is None or own.name == match.unit:
        return match.column
    for name, (column, unit) in VARIANTS.items():
        if column == match.column and unit.name == match.unit:
            return name
    return match.column


def _quoted(text: str) -> str:
    # A TOML basic string: backslash, quote and control characters escaped.
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return (
        '"'
        + "".join(c if c.isprintable() else f"\\U{ord(c):08X}" for c in escaped)
        + '"'
    )


def _read_toml(path: Path) -> dict[str, Any]:
    try:
        if path.stat().st_size > _LARGEST_BYTES:
            raise MapError(
                "A header map under 1 MB was expected",
                found=f"{path.stat().st_size:,} bytes",
                where=str(path),
                do=_SHAPE,
            )
        return tomllib.loads(plain_bytes(path).decode("utf-8-sig"))
    except OSError as error:
        raise MapError(
            "A header map was expected",
            found=error.strerror or "nothing readable",
            where=str(path),
            do="check the name after --map",
        ) from None
    except (UnicodeDecodeError, tomllib.TOMLDecodeError, RecursionError, ValueError) as error:
        raise MapError(
            "A header map in TOML (UTF-8) was expected",
            found=str(error)[:200],
            where=str(path),
            do=_SHAPE,
        ) from None
