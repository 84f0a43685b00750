"""Faults by the column: what is wrong with many cells, kept as arrays and joined row by row."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from survey.readings.limits import MAX_VALUE_SHOWN

Positions = npt.NDArray[np.int64]
Mask = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class Faults:
    """Faults of one column, at most one to a row.

    Parameters
    ----------
    positions
        Row positions in the table, counted from 0, each once.
    column
        Header as given; empty where the whole row is at fault.
    values, reasons
        Arrow string arrays, one item to a position.
    """

    positions: Positions
    column: str
    values: Any
    reasons: Any

    @classmethod
    def of(cls, positions: Any, column: str, reasons: Any, values: Any = None) -> Faults:
        """Make faults; one reason, or none of the values, may stand for all."""
        import pyarrow as pa

        at = np.asarray(positions, dtype=np.int64)
        if isinstance(reasons, str):
            reasons = pa.array([reasons], pa.string()).take(pa.array(np.zeros(len(at), np.int64)))
        if values is None:
            values = pa.nulls(len(at), pa.string())
        return cls(at, column, shortened(values), reasons)

    def where(self, keep: Mask) -> Faults:
        """Return those of the faults that a mask over them keeps."""
        import pyarrow as pa

        mask = pa.array(keep)
        kept = self.values.filter(mask), self.reasons.filter(mask)
        return Faults(self.positions[keep], self.column, *kept)

    def moved(self, positions: Positions) -> Faults:
        """Return the same faults at other positions."""
        return Faults(positions, self.column, self.values, self.reasons)


def shortened(values: Any) -> Any:
    """Cut texts to what can be shown of a faulty value."""
    import pyarrow.compute as pc

    over = pc.fill_null(pc.greater(pc.utf8_length(values), MAX_VALUE_SHOWN), False)
    if not pc.any(over).as_py():
        return values
    cut = pc.utf8_slice_codeunits(values, 0, MAX_VALUE_SHOWN - 1)
    return pc.if_else(over, pc.binary_join_element_wise(cut, "…", ""), values)


def faulty_rows(groups: Sequence[Faults], rows: int) -> Mask:
    """Mark the rows that have a fault."""
    mask = np.zeros(rows, dtype=bool)
    for group in groups:
        mask[group.positions] = True
    return mask


@dataclass(frozen=True)
class RowFaults:
    """Faults joined: one line per faulty row, by ascending position; Arrow string arrays."""

    positions: Positions
    columns: Any
    values: Any
    reasons: Any


def joined(groups: Sequence[Faults], rows: int) -> RowFaults:
    """Join the faults of each row with '; '; where there are several, each says its column."""
    import pyarrow as pa
    import pyarrow.compute as pc

    positions = np.flatnonzero(faulty_rows(groups, rows))
    counts = np.zeros(rows, dtype=np.int32)
    for group in groups:
        counts[group.positions] += 1
    several = pa.array(counts[positions] > 1)
    columns, values, reasons = [], [], []
    for group in groups:
        at = _spread(group, positions)
        named = pa.scalar(group.column or None, pa.string())
        columns.append(pc.if_else(at.is_valid(), named, None).cast(pa.string()))
        given = group.values.take(at)
        values.append(pc.if_else(pc.equal(given, ""), None, given))
        reason = group.reasons.take(at)
        if group.column:
            led = pc.binary_join_element_wise(f"{group.column}: ", reason, "")
            reason = pc.if_else(several, led, reason)
        reasons.append(reason)
    return RowFaults(
        positions, *(_semicolons(part, positions) for part in (columns, values, reasons))
    )


def _spread(group: Faults, positions: Positions) -> Any:
    """Return, for each faulty row, the index of its fault in the group, or null."""
    import pyarrow as pa

    index = np.zeros(len(positions), dtype=np.int64)
    absent = np.ones(len(positions), dtype=bool)
    at = np.searchsorted(positions, group.positions)
    index[at] = np.arange(len(at))
    absent[at] = False
    return pa.array(index, mask=absent)


def _semicolons(parts: list[Any], positions: Positions) -> Any:
    import pyarrow as pa
    import pyarrow.compute as pc

    if not parts or not len(positions):
        return pa.array([], pa.string())
    # Where every part is null, pyarrow 26 leaves the row out altogether; blank stands in for it.
    blank = pc.is_null(pc.coalesce(*parts))
    first = pc.if_else(blank, "", parts[0])
    return pc.binary_join_element_wise(first, *parts[1:], "; ", null_handling="skip")
