"""Tags given twice in a round read in batches: the rows in question are read once more."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from survey.readings import kept
from survey.readings.faults import Faults
from survey.readings.gather import Part, rejects_of
from survey.readings.repeats import repeat_faults
from survey.readings.tidy import cells_at
from survey.streaming.source import Source


def with_repeats(
    source: Source,
    rejects: Sequence[pd.DataFrame],
    lengths: Sequence[int],
    repeats: np.ndarray,
    stays: np.ndarray,
    other_kind: np.ndarray,
) -> list[pd.DataFrame]:
    """Return the rejects of each batch with the rows whose tag an earlier row has.

    Parameters
    ----------
    rejects, lengths
        Rows set aside of each batch, for other faults, and how many rows it has.
    repeats, stays, other_kind
        Rows of the source to set aside, in order, and for each the row that stays, and whether
        that is another kind of device.
    """
    result = list(rejects)
    ends = np.cumsum(lengths)
    names = kept.kept_names(source.claims)
    for batch in np.unique(np.searchsorted(ends, repeats, side="right")):
        start = int(ends[batch] - lengths[batch])
        of_batch = np.flatnonzero((repeats >= start) & (repeats < ends[batch]))
        (table,) = next(source.cut_at(ends[batch : batch + 1], start))
        part = source.part(table)
        again = _again(
            source, part, start, repeats[of_batch], stays[of_batch], other_kind[of_batch]
        )
        result[batch] = rejects_of(
            part, [*part.faults, *again], names, several=source.several
        )
    return result


def _again(
    source: Source,
    part: Part,
    start: int,
    repeats: np.ndarray,
    stays: np.ndarray,
    other_kind: np.ndarray,
) -> list[Faults]:
    header = next(c.match.header for c in source.claims if c.match.column == "tag")
    tags = part.raw.cells.column(header).combine_chunks()
    file, _ = source.place(repeats)
    first_file, lines = source.place(stays)
    result = []
    for elsewhere in (False, True):
        mine = (file != first_file) == elsewhere
        if mine.any():
            at = repeats[mine] - start
            names = [source.paths[n].name for n in first_file[mine]] if elsewhere else None
            result.append(repeat_faults(
                at, header, cells_at(tags, at), lines[mine], names,
                other_kind=other_kind[mine],
            ))
    return result
