"""Tags given twice: the first usable row of a tag stays, later ones are set aside."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd

from survey.readings.faults import Faults, Mask, Positions

_OWN_NUMBERS = (
    ", another kind of device: give each a number of its own, and its heater's name under "
    "equipment, so that both count"
)


def repeated_tags(tags: pd.Series[Any], usable: Mask) -> tuple[Positions, Positions]:
    """Find rows whose tag an earlier row has.

    Parameters
    ----------
    tags
        Tags of the whole round, missing ones among them.
    usable
        Which rows have no other fault; the first such row of a tag stays.

    Returns
    -------
    repeats, stays
        Positions of the rows to set aside, and for each the row that stays.
    """
    if _each_once(tags):
        none = np.zeros(0, dtype=np.int64)
        return none, none
    codes, words = pd.factorize(tags)
    stays = _first_of_each(codes, np.ones(len(codes), dtype=bool), np.zeros(len(words), np.int64))
    stays = _first_of_each(codes, usable, stays)
    positions = np.arange(len(codes), dtype=np.int64)
    keeper = np.where(codes >= 0, stays[codes] if len(stays) else positions, positions)
    repeats = np.flatnonzero(positions > keeper)
    return repeats, keeper[repeats]


def _each_once(tags: pd.Series[Any]) -> bool:
    """Tell whether no known tag is there twice; sorting whole numbers is the fastest way to see."""
    if not pd.api.types.is_integer_dtype(tags.dtype):
        return bool(tags.is_unique)
    ordered = np.sort(tags.dropna().to_numpy())
    return bool((ordered[1:] != ordered[:-1]).all())


def _first_of_each(codes: Positions, among: Mask, default: Positions) -> Positions:
    result = default.copy()
    at = np.flatnonzero(among & (codes >= 0))[::-1]
    result[codes[at]] = at  # the last write stands: the first row, since they come in reverse
    return result


def of_another_kind(devices: pd.Series[Any], repeats: Positions, stays: Positions) -> Mask:
    """Say of rows whose tag an earlier row has whether that one is another kind of device.

    Parameters
    ----------
    devices
        Of the whole round; one that is not given is a trap.
    """
    own, first = (
        devices.iloc[at].astype(object).fillna("trap").to_numpy() for at in (repeats, stays)
    )
    return np.asarray(own != first, dtype=bool)


def repeat_faults(
    positions: Positions,
    header: str,
    tags: Any,
    lines: Positions,
    names: Sequence[str] | None,
    *,
    other_kind: Mask,
) -> Faults:
    """Make the faults of one table's repeated rows.

    Parameters
    ----------
    positions
        Of the repeated rows in their own table.
    header
        Of the tag.
    tags
        Arrow string array of their tags.
    lines
        Line of the row that stays, for each.
    names
        Table of the row that stays, for each; None where it is the same table.
    other_kind
        Which of them are another kind of device than the row that stays. A vent is often written
        under its trap's number, and without it that trap may seem to have failed; so what to do
        is said.
    """
    import pyarrow as pa
    import pyarrow.compute as pc

    words = ["the tag is already on row ", pa.array(lines).cast(pa.string())]
    if names is not None:
        words += [" of ", pa.array(names, pa.string())]
    words.append(pc.if_else(pa.array(other_kind), _OWN_NUMBERS, ""))
    return Faults.of(positions, header, pc.binary_join_element_wise(*words, ""), tags)
