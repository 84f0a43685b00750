"""Pass one: what a whole round must tell before any batch of it can be judged."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pandas as pd

from survey.diagnosis.calibration import Calibration
from survey.diagnosis.equipment import NO_NAME, PlaceNames, equipment_codes
from survey.diagnosis.gaps import find_gaps, station_names
from survey.diagnosis.sampling import SAMPLE, sampled
from survey.diagnosis.verdict import calibrate_on
from survey.readings import kept
from survey.readings.faults import faulty_rows
from survey.readings.gather import Part, rejects_of
from survey.readings.limits import MAX_SET_ASIDE
from survey.readings.repeats import repeat_faults, repeated_tags
from survey.readings.tidy import cells_at
from survey.site import Site
from survey.streaming.cuts import ends_between
from survey.streaming.source import Source

KEPT = ("device", "trap_type", "thermometer", "ambient_f", "supply_psig", "return_psig",
        "orifice_in", "inlet_temp_f", "valve_position")  # fmt: skip
"""Columns that fill the gaps of a round."""
_NAME_FIELDS = ("equipment", "area", "tag")


class NotInBatchesError(Exception):
    """The round holds something that only a look at all of it at once can deal with."""


@dataclass(frozen=True)
class Gathered:
    """What pass one leaves.

    Parameters
    ----------
    usable
        Which rows of the file can be judged, (rows,).
    equipment
        Equipment code of each row, (rows,); means nothing where it is not usable.
    ends
        Rows of the file after which it may be cut.
    rejects
        One line per row set aside.
    """

    usable: np.ndarray
    equipment: np.ndarray
    ends: np.ndarray
    calibration: Calibration
    rejects: pd.DataFrame


@dataclass(frozen=True)
class _Kept:
    """What is kept of one batch for the whole round: some seventy bytes a row."""

    readings: pd.DataFrame
    names: PlaceNames
    faulty: np.ndarray
    rejects: pd.DataFrame


def gather_round(source: Source, site: Site, tell: Callable[[], None]) -> Gathered:
    """Read a file once for what the whole of it tells.

    Parameters
    ----------
    tell
        Called after every batch.

    Raises
    ------
    NotInBatchesError
        Words are not known, too many rows are at fault, or none is left to judge.
    """
    batches: list[_Kept] = []
    sample, read = pd.DataFrame(), 0
    for table in source.tables():
        part = source.part(table)
        batches.append(_keep(part))
        fresh = part.tidied.table.assign(file_row=np.arange(read, read + len(table.cells)))
        sample = _thinned(pd.concat([sample, fresh[~batches[-1].faulty]], ignore_index=True), 2)
        read += len(table.cells)
        tell()
    names = PlaceNames(
        *(np.concatenate([getattr(b.names, f) for b in batches]) for f in _NAME_FIELDS)
    )
    usable = ~np.concatenate([b.faulty for b in batches])
    repeats, stays = repeated_tags(_as_tags(names.tag), usable)
    rejects = [b.rejects for b in batches]
    if len(repeats):
        rejects = _with_repeats(source, rejects, repeats, stays)
        usable[repeats] = False
    sample = _without(sample, repeats)
    if (~usable).sum() > MAX_SET_ASIDE or not usable.any():
        raise NotInBatchesError
    readings = pd.concat([b.readings for b in batches], ignore_index=True)
    batches.clear()
    gaps = find_gaps(readings if usable.all() else readings[usable], site)
    del readings
    equipment = np.full(len(usable), -1, dtype=np.int32)
    equipment[usable] = equipment_codes(names.of_rows(usable))
    return Gathered(
        usable=usable,
        equipment=equipment,
        ends=ends_between(equipment, source.batch_rows),
        calibration=calibrate_on(sample, site, gaps),
        rejects=pd.concat(rejects, ignore_index=True),
    )


def _keep(part: Part) -> _Kept:
    if part.tidied.unknown_words or part.tidied.doubtful_dates:
        raise NotInBatchesError
    table = part.tidied.table
    faulty = faulty_rows(part.faults, len(table))
    readings = table[list(KEPT)].assign(station=pd.Categorical(table["station"]))
    names = kept.kept_names(part.claims)
    rejects = rejects_of(part, part.faults, names, several=False)
    return _Kept(readings, PlaceNames.of(table), faulty, rejects)


def _thinned(sample: pd.DataFrame, times: int) -> pd.DataFrame:
    station, _ = pd.factorize(station_names(sample))
    key = PlaceNames.of(sample).keys()
    return sample[sampled(key=key, station=station, times=times)]


def _without(sample: pd.DataFrame, repeats: np.ndarray) -> pd.DataFrame:
    """Return the sample less the rows whose tag an earlier one has, thinned to its size."""
    again = np.isin(sample["file_row"], repeats)
    if again.sum() > SAMPLE:
        raise NotInBatchesError
    rest = _thinned(sample[~again], 1)
    return rest.drop(columns="file_row").reset_index(drop=True)


def _as_tags(hashes: np.ndarray) -> pd.Series:
    """Return hashes of tags as a column in which a missing tag is missing."""
    return pd.Series(pd.arrays.IntegerArray(hashes, hashes == NO_NAME))


def _with_repeats(
    source: Source, rejects: list[pd.DataFrame], repeats: np.ndarray, stays: np.ndarray
) -> list[pd.DataFrame]:
    """Return the rejects of each batch with the rows whose tag an earlier row has."""
    header = next(c.match.header for c in source.claims if c.match.column == "tag")
    names = kept.kept_names(source.claims)
    result, start = list(rejects), 0
    for batch, table in enumerate(source.tables()):
        mine = (repeats >= start) & (repeats < start + len(table.cells))
        if mine.any():
            part, at = source.part(table), repeats[mine] - start
            tags = cells_at(table.cells.column(header).combine_chunks(), at)
            again = repeat_faults(at, header, tags, stays[mine] + 1, None)
            result[batch] = rejects_of(part, [*part.faults, again], names, several=False)
        start += len(table.cells)
    return result
