"""Which rows stand on the same equipment, by hashes of names: small enough to keep for a round."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from survey.diagnosis.rowwise import rows_of

NO_NAME = np.uint64(0)


@dataclass(frozen=True)
class PlaceNames:
    """Hashes of names of n rows, `NO_NAME` where there is none.

    Parameters
    ----------
    equipment, area, tag
        uint64, (n,) each.
    """

    equipment: np.ndarray
    area: np.ndarray
    tag: np.ndarray

    @classmethod
    def of(cls, table: pd.DataFrame) -> PlaceNames:
        """Return the hashes of a tidy table's names."""
        equipment, area = (text_hashes(table[name]) for name in ("equipment", "area"))
        return cls(equipment, area, text_hashes(table["tag"], repeating=False))

    def of_rows(self, rows: np.ndarray) -> PlaceNames:
        """Return the hashes of the rows that a mask or an index picks."""
        return PlaceNames(self.equipment[rows], self.area[rows], self.tag[rows])

    def keys(self) -> np.ndarray:
        """Return one hash per row, the same for rows that name the same equipment, (n,)."""
        return np.where(self.equipment == NO_NAME, self.tag, self.equipment)


def text_hashes(column: pd.Series, *, repeating: bool = True) -> np.ndarray:
    """Return a hash of each text, the same in every run; `NO_NAME` where missing.

    Parameters
    ----------
    repeating
        Whether texts repeat: each different one is then hashed once.
    """
    if not repeating:
        each = pd.util.hash_array(column.to_numpy(dtype=object), categorize=False)
        return np.where(column.isna(), NO_NAME, each)
    code, texts = pd.factorize(column)
    hashes = pd.util.hash_array(np.asarray(texts, dtype=object), categorize=False)
    return np.append(hashes, NO_NAME)[code]


def equipment_codes(names: PlaceNames) -> np.ndarray:
    """Code the equipment of each row; one name used in several areas is as many heaters.

    A row that names its equipment and no area belongs to the only area that has such a name,
    where there is one. A row that names no equipment has a code of its own.
    """
    place = _codes(names.area)
    code = _codes(names.equipment)
    only = _only_place(code, place)
    place = np.where((place < 0) & (code >= 0), only[code], place)
    width = int(place.max(initial=0)) + 2
    combined = code.astype(np.int64) * width + place + 1
    nameless = np.flatnonzero(code < 0)
    # Codes below zero are free, as no real one is: each nameless row gets its own.
    combined[nameless] = -1 - np.arange(len(nameless))
    dense, _ = pd.factorize(combined)
    return np.asarray(dense, dtype=np.int32)


def equipment_of(table: pd.DataFrame) -> np.ndarray:
    """Code the equipment of each row of findings as their verdicts had it, -1 where none is named.

    Parameters
    ----------
    table
        Findings, all rows of them: which heater a row without an area is of hangs on the others.
        What is missing, or blank, names nothing.
    """
    none = pd.Series(None, index=table.index, dtype="object")
    equipment, area = (
        text_hashes(table[name].astype("object").replace("", None) if name in table else none)
        for name in ("equipment", "area")
    )
    code = equipment_codes(PlaceNames(equipment, area, equipment))
    return np.where(equipment == NO_NAME, -1, code)


def _codes(hashes: np.ndarray) -> np.ndarray:
    code, _ = pd.factorize(hashes)
    return np.where(hashes == NO_NAME, -1, code)


def _only_place(code: np.ndarray, place: np.ndarray) -> np.ndarray:
    """Return the place of each equipment name that is used in one place only, else -1."""
    # One more than there are names, so that a row without one, code -1, finds -1 at the end.
    first = np.full(int(code.max(initial=-1)) + 2, -1)
    known = (code >= 0) & (place >= 0)
    first[code[known]] = place[known]
    elsewhere = known & (first[code] != place)
    first[code[elsewhere]] = -1
    return first


def told_to_traps(told: np.ndarray, *, told_by: np.ndarray, traps: np.ndarray) -> np.ndarray:
    """Return what devices say of their traps, for each trap, (traps, ...).

    Of several devices of a kind on one equipment none speaks for it alone, and of several traps
    each is told a part.

    Parameters
    ----------
    told
        How much they favour each thing, by equipment, (E, ., .): 1 favours nothing. It is changed.
    told_by, traps
        Equipment of each device, (devices,), and of each trap, (traps,).
    """
    told[np.bincount(told_by, minlength=len(told)) > 1] = 1.0
    traps_of = np.bincount(traps, minlength=len(told))
    shared = traps_of > 1
    told[shared] **= (1.0 / traps_of[shared])[:, None, None]
    return rows_of(told, traps)
