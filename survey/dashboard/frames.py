"""Picking and naming rows for the screen; every figure is one the findings already hold."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import pandas as pd

from survey.columns import DEVICES
from survey.findings import Findings
from survey.reports import tables, words

FILTERS = {
    "area": "Area",
    "station": "Station",
    "device": "Device",
    "state": "State",
    "cause": "Cause",
    "trap_type": "Type",
}
NOT_GIVEN = "(not given)"
_LISTED = (
    "tag",
    "rank",
    "annual_cost",
    "state",
    "confidence",
    "annual_cost_low",
    "annual_cost_high",
    "steam_loss_lb_per_h",
    "cause",
    "action",
    "area",
    "station",
    "equipment",
    "device",
    "trap_type",
    "flags",
)
_DIGITS = {
    "confidence": 2,
    "annual_cost": 0,
    "annual_cost_low": 0,
    "annual_cost_high": 0,
    "steam_loss_lb_per_h": 1,
}
_IN_WORDS = {"cause": words.CAUSES, "device": words.DEVICES, "trap_type": words.TRAP_TYPES}


def in_words(column: str, value: str) -> str:
    """Return a cell of a column of codes in plain words."""
    return _IN_WORDS.get(column, {}).get(value) or words.word(value)


def choices(table: pd.DataFrame, name: str) -> list[str]:
    """Return what a filter on this column offers, in order of name."""
    return sorted(_texts(table, name).unique())


def chosen(
    table: pd.DataFrame,
    picks: Mapping[str, Sequence[str]],
    *,
    tag_part: str = "",
    only_to_do: bool = False,
) -> pd.DataFrame:
    """Return the rows that pass every filter, worst first.

    Parameters
    ----------
    table
        Findings, one row per device.
    picks
        Column name to the values wanted; an empty list lets everything through.
    tag_part
        What the tag has in it, capitals or not; empty lets everything through.
    only_to_do
        Leave out what needs nothing done.
    """
    wanted = pd.Series(True, index=table.index)
    for name, values in picks.items():
        if values:
            wanted &= _texts(table, name).isin(values)
    if tag_part:
        wanted &= _texts(table, "tag").str.contains(tag_part, case=False, regex=False)
    if only_to_do:
        wanted &= table["rank"].notna()
    return tables.worst_first(table[wanted])


def listing(table: pd.DataFrame) -> pd.DataFrame:
    """Return the columns of the ranked list, codes replaced by plain words."""
    shown = table[[name for name in _LISTED if name in table.columns]].copy()
    shown["state"] = states_in_words(table)
    for name in _IN_WORDS:
        if name in shown.columns:
            shown[name] = [in_words(name, value) for value in tables.texts(table, name)]
    if "flags" in shown.columns:
        shown["flags"] = shown["flags"].map(flags_in_words, na_action="ignore").astype("str")
    digits = {name: places for name, places in _DIGITS.items() if name in shown.columns}
    return shown.round(digits).reset_index(drop=True)


def states_in_words(table: pd.DataFrame) -> list[str]:
    """Return each row's state as it is said of its kind of device."""
    return [
        words.state_words(state, device)
        for state, device in zip(table["state"], _texts(table, "device"), strict=True)
    ]


def flags_in_words(flags: object) -> str:
    """Return semicolon-separated flags as words."""
    return "; ".join(words.word(flag.strip()) for flag in str(flags).split(";") if flag.strip())


def states_counted(findings: Findings) -> pd.DataFrame:
    """Return units by kind of device and state, in words."""
    counts = tables.state_counts(findings)
    order = counts["device"].map({name: place for place, name in enumerate(DEVICES)})
    counts = counts.iloc[order.argsort(kind="stable")].reset_index(drop=True)
    counts["state"] = states_in_words(counts)
    counts["device"] = [in_words("device", name) for name in counts["device"]]
    counts["group"] = counts["group"].map(words.GROUPS)
    return counts[["count", "device", "state", "group"]]


def unit(table: pd.DataFrame, tag: str) -> pd.Series[Any]:
    """Return the row of one device; raises KeyError where no device has the tag."""
    rows = table[table["tag"] == tag]
    if rows.empty:
        raise KeyError(tag)
    row: pd.Series[Any] = rows.iloc[0]
    return row


def same_equipment(table: pd.DataFrame, row: pd.Series[Any]) -> pd.DataFrame:
    """Return the other devices of the same equipment; none where the equipment is not named."""
    if "equipment" not in table.columns or pd.isna(row.get("equipment")):
        return table.iloc[:0]
    others = (table["equipment"] == row["equipment"]) & (table["tag"] != row["tag"])
    found: pd.DataFrame = table[others]
    return found


def _texts(table: pd.DataFrame, name: str) -> pd.Series[str]:
    return tables.texts(table, name).replace("", NOT_GIVEN)
