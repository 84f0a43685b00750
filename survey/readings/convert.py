"""One column at a time: raw cells to the contract's kind and unit, with the faults found."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cache
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from survey.columns import INPUT_BY_NAME, Column
from survey.readings.cells import convert_one, read_number
from survey.readings.dates import read_time
from survey.readings.faults import Positions
from survey.readings.texts import as_text, clean_text
from survey.readings.units import FloatArray, Unit, to_contract
from survey.readings.words import MISSING_WORDS, NOTED_CHOICES, read_choice, slip_of

# Digits that can be read in one way only, by each decimal mark.
_PLAIN = {
    ".": r"^-?[0-9]{1,17}(?:\.[0-9]{1,17})?$",
    ",": r"^-?[0-9]{1,17}(?:,[0-9]{1,17})?$",
}


@dataclass
class Converted:
    """One converted column: values, and what is wrong in it: positions, reason (or one each).

    ``unknown`` and ``slips`` count words that were taken as missing, or for a known word.
    """

    cells: Any
    faults: list[tuple[Positions, Any]] = field(default_factory=list)
    unknown: dict[str, int] = field(default_factory=dict)
    slips: dict[str, int] = field(default_factory=dict)
    doubtful: int = 0


def number_column(
    raw: Any, name: str, unit: Unit, decimal: str, atmosphere_psia: float
) -> Converted:
    """Read a number column into float64 in the contract's unit; NaN where missing or faulty."""
    import pyarrow as pa

    kind = raw.type
    numeric = pa.types.is_integer(kind) or pa.types.is_floating(kind) or pa.types.is_decimal(kind)
    if numeric or pa.types.is_null(kind):
        values = _as_floats(raw)
        done = Converted(to_contract(values, unit, atmosphere_psia))
    else:
        done = _from_text(as_text(raw), name, unit, decimal, atmosphere_psia)
    done.faults += _impossible(done.cells, INPUT_BY_NAME[name], atmosphere_psia)
    for positions, _ in done.faults:
        done.cells = _without(done.cells, positions)
    return done


def _without(values: FloatArray, positions: Positions) -> FloatArray:
    values = values if values.flags.writeable else values.copy()
    values[positions] = np.nan
    return values


def _as_floats(raw: Any) -> FloatArray:
    import pyarrow as pa

    values = raw.cast(pa.float64(), safe=False).to_numpy(zero_copy_only=False)
    return np.asarray(values, dtype=np.float64)


def _from_text(
    texts: Any, name: str, unit: Unit, decimal: str, atmosphere_psia: float
) -> Converted:
    values, rest = _plain_ones(texts, decimal)
    values = to_contract(values, unit, atmosphere_psia)
    if rest is None:
        return Converted(values)
    import pyarrow as pa

    # What is not plain digits is read one by one, each different text once.
    coded = rest.dictionary_encode()
    words = coded.dictionary.to_pylist()
    read = [read_number(word, name, decimal) for word in words]
    table = np.array([convert_one(r, atmosphere_psia, unit) for r in read] + [np.nan])
    codes = coded.indices.fill_null(len(words)).to_numpy(zero_copy_only=False)
    done = Converted(np.where(codes < len(words), table[codes], values))
    bad = np.flatnonzero(np.array([bool(r.reason) for r in read] + [False])[codes])
    if len(bad):
        done.faults.append((bad, pa.array([r.reason for r in read]).take(pa.array(codes[bad]))))
    return done


def _plain_ones(texts: Any, decimal: str) -> tuple[FloatArray, Any]:
    """Read blanks and plain digits at the library's speed; give back the others, or None."""
    import pyarrow as pa
    import pyarrow.compute as pc

    given = pc.if_else(pc.equal(texts, ""), None, texts)
    plain = pc.match_substring_regex(given, _PLAIN[decimal])
    rest = None
    if not pc.all(plain).as_py():
        rest = pc.if_else(pc.fill_null(plain, True), None, given)
        given = pc.if_else(pc.fill_null(plain, False), given, None)
    if decimal == ",":
        given = pc.replace_substring(given, ",", ".")
    values = given.cast(pa.float64()).to_numpy(zero_copy_only=False)
    return np.asarray(values, dtype=np.float64), rest


def _impossible(
    values: FloatArray, column: Column, atmosphere_psia: float
) -> list[tuple[Positions, str]]:
    low = column.low if column.low is not None else -np.inf
    high = column.high if column.high is not None else np.inf
    if column.name.endswith("_psig"):
        # A perfect vacuum itself is out of reach, so the lowest legal value is the next one up.
        low = float(np.nextafter(-atmosphere_psia, 0.0))
    smallest, largest = _extremes(values)
    if smallest >= low and largest <= high:
        return []
    infinite = np.isinf(values)
    under, over = (values < low) & ~infinite, (values > high) & ~infinite
    words = ((infinite, "infinite, not a reading"), (under, _under(column)), (over, _over(column)))
    return [(np.flatnonzero(mask), reason) for mask, reason in words if mask.any()]


def _extremes(values: FloatArray) -> tuple[float, float]:
    if not len(values):
        return np.inf, -np.inf
    # fmin and fmax skip NaN without a warning where there is nothing else.
    smallest, largest = float(np.fmin.reduce(values)), float(np.fmax.reduce(values))
    return (np.inf, -np.inf) if np.isnan(smallest) else (smallest, largest)


def _under(column: Column) -> str:
    if column.name in ("inlet_temp_f", "outlet_temp_f"):
        return "impossible: below absolute zero"
    if column.name.endswith("_psig"):
        return "impossible: at or below a perfect vacuum at this altitude"
    if column.name == "orifice_in":
        return "impossible: a bore is more than 0 and at most 2 in"
    return f"impossible: under {column.low:g} {column.unit}"


def _over(column: Column) -> str:
    if column.name == "orifice_in":
        return "impossible: a bore is more than 0 and at most 2 in"
    return f"impossible: over {column.high:g} {column.unit}"


def choice_column(raw: Any, name: str, *, slips: bool = True) -> Converted:
    """Read a choice column into a categorical of the column's own words, in their order.

    ``slips`` has a word with a typing slip taken for the known word, where that may be (`slip_of`).
    """
    import pyarrow as pa

    array = raw if pa.types.is_dictionary(raw.type) else as_text(raw).dictionary_encode()
    words = as_text(array.dictionary).to_pylist()
    choices = INPUT_BY_NAME[name].choices
    read = [read_choice(word, name) if word is not None else (None, "") for word in words]
    meant = [slip_of(w, name) if slips and reason else None
             for w, (_, reason) in zip(words, read, strict=True)]  # fmt: skip
    read = [read_choice(m, name) if m else r for m, r in zip(meant, read, strict=True)]
    codes = array.indices.fill_null(len(words)).to_numpy(zero_copy_only=False).astype(np.int64)
    table = np.array([choices.index(c) if c else -1 for c, _ in read] + [-1], dtype=np.int8)
    done = Converted(categories(table[codes], choices))
    slipped = np.array([bool(word) for word in meant] + [False])
    if slipped.any():
        done.slips = _counts(codes[slipped[codes]], words)
    wrong = np.array([bool(reason) for _, reason in read] + [False])
    if wrong.any():
        _note_unknown(done, name, wrong[codes], codes, words, next(r for _, r in read if r))
    return done


def _counts(codes: Positions, words: list[str]) -> dict[str, int]:
    kinds, counts = np.unique(codes, return_counts=True)
    found: dict[str, int] = {}
    for kind, count in zip(kinds, counts, strict=True):  # a Parquet file may say a word twice
        found[words[kind]] = found.get(words[kind], 0) + int(count)
    return found


def devices_in_types(raw: Any) -> tuple[Converted, set[str]]:
    """Read the devices that a column of trap types names ('air vent', 'check valve').

    Returns
    -------
    Converted
        The device of each row; missing where the cell names a trap's type or nothing known.
    set of str
        The words that were taken for devices.
    """
    import pyarrow as pa

    array = raw if pa.types.is_dictionary(raw.type) else as_text(raw).dictionary_encode()
    words = as_text(array.dictionary).to_pylist()
    choices = INPUT_BY_NAME["device"].choices
    read = [
        read_choice(word, "device")[0]
        if word is not None and read_choice(word, "trap_type")[1]
        else None
        for word in words
    ]
    codes = array.indices.fill_null(len(words)).to_numpy(zero_copy_only=False).astype(np.int64)
    table = np.array([choices.index(c) if c else -1 for c in read] + [-1], dtype=np.int8)
    named = {word for word, device in zip(words, read, strict=True) if device}
    return Converted(categories(table[codes], choices)), named


def categories(codes: npt.NDArray[np.int8], choices: tuple[str, ...]) -> Any:
    """Return a categorical with exactly these choices, in order; code -1 is missing."""
    return pd.Categorical.from_codes(codes, dtype=_kind(choices))


@cache
def _kind(choices: tuple[str, ...]) -> pd.CategoricalDtype:
    return pd.CategoricalDtype(list(choices))


def _note_unknown(
    done: Converted,
    name: str,
    bad: npt.NDArray[np.bool_],
    codes: Positions,
    words: list[str],
    reason: str,
) -> None:
    positions = np.flatnonzero(bad)
    if name not in NOTED_CHOICES:
        done.faults.append((positions, reason))
        return
    done.unknown = _counts(codes[positions], words)


def text_column(raw: Any, name: str) -> Converted:
    """Read a text column: trimmed, printable, blank or 'n/a' missing; of the str dtype."""
    import pyarrow as pa
    import pyarrow.compute as pc

    coded = pa.types.is_dictionary(raw.type)
    array = as_text(raw.dictionary) if coded else as_text(raw)
    array = clean_text(array, one_line=name != "note")
    missing = pc.is_in(pc.ascii_lower(array), value_set=pa.array(sorted(MISSING_WORDS)))
    if pc.any(missing).as_py():
        array = pc.if_else(missing, None, array)
    return Converted(array.take(raw.indices) if coded else array)


def time_column(raw: Any) -> Converted:
    """Read times into ISO 8601 text where they are sure, else as typed."""
    import pyarrow as pa

    done = text_column(raw, "read_at")
    coded = done.cells.dictionary_encode()
    read = [read_time(word) for word in coded.dictionary.to_pylist()]
    done.cells = pa.array([text for text, _ in read], pa.string()).take(coded.indices)
    doubtful = np.array([doubt for _, doubt in read] + [False])
    codes = coded.indices.fill_null(len(read)).to_numpy(zero_copy_only=False)
    done.doubtful = int(doubtful[codes].sum())
    return done
