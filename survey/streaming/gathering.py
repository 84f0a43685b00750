"""Pass one: what a whole round must tell before any batch of it can be judged."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd

from survey.diagnosis.calibration import Calibration
from survey.diagnosis.cuts import ends_between
from survey.diagnosis.equipment import NO_NAME, PlaceNames, equipment_codes, text_hashes
from survey.diagnosis.gaps import find_gaps
from survey.diagnosis.sampling import sampled
from survey.diagnosis.verdict import calibrate_on
from survey.readings import kept
from survey.readings.faults import faulty_rows
from survey.readings.gather import Part, rejects_of
from survey.readings.limits import MAX_SET_ASIDE
from survey.readings.repeats import of_another_kind, repeated_tags
from survey.readings.spellings import Renames, Spellings, added_up, with_names
from survey.site import Site
from survey.streaming.repeating import with_repeats
from survey.streaming.sample_rows import TIMES, SampleRows, too_many, without
from survey.streaming.source import Source
from survey.streaming.whole import WholeColumns

_GAP_FIELDS = ("device", "trap_type", "thermometer", "ambient_f", "supply_psig", "return_psig",
               "orifice_in", "inlet_temp_f", "valve_position", "lift_ft", "station")  # fmt: skip
"""Columns that fill the gaps of a round."""
_NAME_FIELDS = ("equipment", "area", "tag")
_FAULTY = "faulty"


class NotInBatchesError(Exception):
    """The round holds something, named here, that only a look at all of it can deal with."""


@dataclass(frozen=True)
class Gathered:
    """What pass one leaves for pass two.

    Parameters
    ----------
    usable
        Which rows of the source can be judged, (rows,).
    equipment
        Equipment code of each row, (rows,); means nothing where it is not usable.
    ends
        Rows of the source after which each batch ends.
    rejects
        One line per row set aside.
    renames
        By column, names of places that another spelling stands for.
    as_typed
        Columns to keep as typed too.
    notes
        What was said of words and names.
    """

    usable: np.ndarray
    equipment: np.ndarray
    ends: np.ndarray
    calibration: Calibration
    rejects: pd.DataFrame
    renames: Renames
    as_typed: Sequence[str]
    notes: Sequence[str]

    def of_rows(self, start: int, end: int) -> Gathered:
        """Return what some rows need to be judged, as if no row came before them."""
        return replace(
            self,
            usable=self.usable[start:end],
            equipment=self.equipment[start:end],
            ends=self.ends[(self.ends > start) & (self.ends <= end)] - start,
            rejects=self.rejects.iloc[:0],
        )


@dataclass(frozen=True)
class Seen:
    """What some rows of a round leave of themselves in pass one.

    Parameters
    ----------
    kept
        Of each table of them, in order, some seventy bytes a row.
    sample
        Those of them that the round may be calibrated on.
    """

    kept: list[_Kept]
    sample: pd.DataFrame


@dataclass(frozen=True)
class _Kept:
    columns: dict[str, Any]
    rejects: pd.DataFrame
    spellings: Spellings


def look_at(
    source: Source, ends: np.ndarray, start: int = 0, tell: Callable[[], None] = lambda: None
) -> Seen:
    """Read some rows once, for what the whole round must tell.

    Parameters
    ----------
    ends
        Rows of the source after which their batches end.
    start
        Rows of the source before them.
    tell
        Called after every batch.

    Raises
    ------
    NotInBatchesError
        Dates can be read in two ways.
    """
    kept, sample = [], SampleRows()
    for tables in source.cut_at(ends, start):
        for table in tables:
            one = seen_of(source, source.part(table), start)
            kept += one.kept
            sample.add(one.sample)
            start += len(table.cells)
        tell()
    return Seen(kept, sample.picked())


def seen_of(source: Source, part: Part, start: int) -> Seen:
    """Return what one table leaves of itself; ``start`` rows of the source come before it."""
    names = PlaceNames.of(part.tidied.table)
    kept = _keep(part, names, several=source.several, first=start == 0)
    usable = np.flatnonzero(~kept.columns[_FAULTY])
    key, station = names.keys()[usable], kept.columns["station"].codes[usable]
    chosen = sampled(key=key, station=station + 1, times=TIMES)
    some = part.tidied.table.iloc[usable[chosen]]
    return Seen([kept], some.assign(file_row=start + usable[chosen], key=key[chosen]))


def gather_round(source: Source, seen: Iterable[Seen], site: Site) -> Gathered:
    """Put together what a whole round tells.

    Parameters
    ----------
    seen
        Of all rows of the source, in order. It is used up.

    Raises
    ------
    NotInBatchesError
        Too many rows are at fault, or none is left to judge.
    """
    whole, sampled_rows = WholeColumns(source.rows), SampleRows()
    spellings = Spellings({}, {}, {})
    rejects: list[pd.DataFrame] = []
    lengths: list[int] = []
    for some in seen:
        for one in some.kept:
            whole.add(one.columns)
            spellings = added_up([spellings, one.spellings])
            rejects.append(one.rejects)
            lengths.append(len(one.columns[_FAULTY]))
        sampled_rows.add(some.sample)
    renames = spellings.renames(site.stations)
    sample = with_names(sampled_rows.picked(), renames)
    names = PlaceNames(*(whole.pop(name) for name in _NAME_FIELDS))
    names = replace(names, area=_other_hashes(names.area, renames.get("area", {})))
    usable = ~whole.pop(_FAULTY)
    repeats, stays = repeated_tags(_as_tags(names.tag), usable)
    if len(repeats):
        other_kind = of_another_kind(pd.Series(whole["device"]), repeats, stays)
        rejects = with_repeats(source, rejects, lengths, repeats, stays, other_kind)
        usable[repeats] = False
    if too_many(sample, repeats):
        raise NotInBatchesError("too many tags given twice")
    sample = without(sample, repeats)
    if (~usable).sum() > MAX_SET_ASIDE or not usable.any():
        raise NotInBatchesError("too many rows that cannot be used")
    # Not beside the cut: both take the most memory of all that is done between the passes.
    gaps = find_gaps(_readings(whole, usable, renames.get("station", {})), site)
    with ThreadPoolExecutor(1) as beside:
        cut = beside.submit(_cut, names, usable, source.batch_rows)
        calibration = calibrate_on(sample, site, gaps)
        equipment, ends = cut.result()
    return Gathered(
        usable=usable,
        equipment=equipment,
        ends=ends,
        calibration=calibration,
        rejects=pd.concat([some for some in rejects if some.shape[1]], ignore_index=True),
        renames=renames,
        as_typed=spellings.as_typed(renames),
        notes=spellings.notes(site.stations),
    )


def _other_hashes(hashes: np.ndarray, renamed: Mapping[str, str]) -> np.ndarray:
    """Return hashes of names with those of other spellings replaced."""
    if not renamed:
        return hashes
    before, after = (text_hashes(pd.Series(list(s))) for s in (renamed, renamed.values()))
    order = np.argsort(before)
    before, after = before[order], after[order]
    at = np.minimum(np.searchsorted(before, hashes), len(before) - 1)
    return np.where(before[at] == hashes, after[at], hashes)


def _other_categories(names: pd.Series, renamed: Mapping[str, str]) -> pd.Categorical:
    """Return categories of names with other spellings made one."""
    words = pd.Index([renamed.get(str(word), str(word)) for word in names.cat.categories])
    place, each = pd.factorize(words)
    codes = np.append(place, -1)[names.cat.codes]
    return pd.Categorical.from_codes(codes, categories=each)


def _readings(
    whole: WholeColumns, usable: np.ndarray, stations: Mapping[str, str]
) -> pd.DataFrame:
    """Take the columns that fill gaps out of the whole, of the rows that can be judged."""
    rows: Any = slice(None) if usable.all() else usable
    found = pd.DataFrame({name: whole.pop(name)[rows] for name in _GAP_FIELDS}, copy=False)
    if stations:
        found["station"] = _other_categories(found["station"], stations)
    return found


def _cut(names: PlaceNames, usable: np.ndarray, rows: int) -> tuple[np.ndarray, np.ndarray]:
    """Return the equipment code of each row, and the rows after which each batch ends."""
    equipment = np.full(len(usable), -1, dtype=np.int32)
    equipment[usable] = equipment_codes(names.of_rows(usable))
    return equipment, ends_between(equipment, rows)


def _keep(part: Part, names: PlaceNames, *, several: bool, first: bool) -> _Kept:
    if part.tidied.doubtful_dates:
        raise NotInBatchesError("dates that can be read in two ways")
    table = part.tidied.table
    columns: dict[str, Any] = {name: table[name] for name in _GAP_FIELDS}
    columns["station"] = pd.Categorical(table["station"])
    columns |= {name: getattr(names, name) for name in _NAME_FIELDS}
    columns[_FAULTY] = faulty_rows(part.faults, len(table))
    # One table of them is made though it is empty: it says what columns there are.
    some = first or bool(part.faults)
    headers = kept.kept_names(part.claims)
    rejects = rejects_of(part, part.faults, headers, several=several) if some else pd.DataFrame()
    return _Kept(columns, rejects, part.tidied.spellings)


def _as_tags(hashes: np.ndarray) -> pd.Series:
    """Return hashes of tags as a column in which a missing tag is missing."""
    return pd.Series(pd.arrays.IntegerArray(hashes, hashes == NO_NAME))
