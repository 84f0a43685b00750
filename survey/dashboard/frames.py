"""Picking and naming rows for the screen; every figure is one the findings already hold."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, partial
from typing import Any

import numpy as np
import pandas as pd

from survey.columns import DEVICES, UNDECIDED
from survey.dashboard.wording import screen_words
from survey.diagnosis.equipment import equipment_of
from survey.findings import Findings
from survey.readings.gather import rejected_cells
from survey.reports import manner, measures, tables, words
from survey.reports.manner import Manner

FILTERS = {
    name: screen_words.HEADS[name]
    for name in ("area", "station", "device", "state", "cause", "trap_type")
}
AT_FIRST: dict[str, Any] = {
    "only_to_do": True,
    "tag_part": "",
    **{f"filter_{name}": [] for name in FILTERS},
}
"""Every filter of the list as it stands before anyone touches it."""
NOT_GIVEN = screen_words.NOT_GIVEN
_LISTED = (
    "tag",
    "rank",
    "annual_cost",
    "annual_cost_low",
    "annual_cost_high",
    "state",
    "area",
    "confidence",
    "action",
    "cause",
    "steam_loss_lb_per_h",
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


@dataclass(frozen=True)
class Listed:
    """Findings in the order of the list, with what filters and tables need; made once.

    Rows are only fetched where they are drawn: a place is a row's number in the list, from 0.

    Parameters
    ----------
    of
        The findings they are.
    order
        Row of the findings at each place, worst first, (n,).
    manner
        How its figures are written.
    """

    of: Findings
    order: np.ndarray
    manner: Manner

    def rows(self, places: np.ndarray) -> pd.DataFrame:
        """Return the rows at some places, each numbered with its place."""
        found: pd.DataFrame = self.of.table.iloc[self.order[places]]
        return found.set_axis(pd.Index(places), axis=0)

    def column(self, name: str, places: np.ndarray) -> pd.Series[Any]:
        """Return one column at some places."""
        values: pd.Series[Any] = self.of.table[name].iloc[self.order[places]]
        return values

    @cached_property
    def tags(self) -> list[str]:
        """The tags, in order."""
        return self.of.table["tag"].astype("str").iloc[self.order].tolist()

    @cached_property
    def states(self) -> pd.DataFrame:
        """Units by kind of device and state, in words."""
        return states_counted(self.of)

    @cached_property
    def picks(self) -> pd.DataFrame:
        """What filters look at: each column of `FILTERS`, its blanks named."""
        columns = {name: _categories(self.of.table, name) for name in FILTERS}
        return pd.DataFrame(columns).iloc[self.order].reset_index(drop=True)

    @cached_property
    def _to_do(self) -> np.ndarray:
        ranked: np.ndarray = self.of.table["rank"].notna().to_numpy()[self.order]
        return ranked

    @cached_property
    def _tags_to_search(self) -> pd.Series[str]:
        return tables.texts(self.of.table, "tag").iloc[self.order]

    def choices(self, name: str) -> list[str]:
        """Return what a filter on this column offers, in order of name."""
        return [str(value) for value in self.picks[name].cat.categories]

    def places(
        self,
        picks: Mapping[str, Sequence[str]],
        *,
        tag_part: str = "",
        only_to_do: bool = False,
    ) -> np.ndarray:
        """Return the places of the rows that pass every filter, in order.

        Parameters
        ----------
        picks
            Column name to the values wanted; an empty list lets everything through.
        tag_part
            What the tag has in it, capitals or not; empty lets everything through.
        only_to_do
            Leave out what needs nothing done.
        """
        wanted = self._to_do.copy() if only_to_do else np.ones(len(self.order), dtype=bool)
        for name, values in picks.items():
            if values:
                wanted &= self.picks[name].isin(values).to_numpy()
        if tag_part:
            tags = self._tags_to_search
            wanted &= tags.str.contains(tag_part, case=False, regex=False).to_numpy()
        return np.flatnonzero(wanted)


def listed(findings: Findings) -> Listed:
    """Put findings in the order of the list: ranked, then undecided, then the rest, by tag."""
    table = findings.table
    rank = table["rank"].fillna(np.inf).to_numpy(dtype="float64")
    settled = (table["state"] != UNDECIDED).to_numpy(dtype=bool)
    tags = pd.factorize(table["tag"].astype("str"), sort=True)[0]
    return Listed(findings, np.lexsort((tags, settled, rank)), manner.current())


def choices(table: pd.DataFrame, name: str) -> list[str]:
    """Return the values of a column in order of name, blanks named."""
    return sorted(_texts(table, name).unique())


def _categories(table: pd.DataFrame, name: str) -> pd.Series[Any]:
    """Return a column as categories in order of name, blanks named."""
    if name not in table.columns:
        return pd.Series([NOT_GIVEN] * len(table), index=table.index, dtype="category")
    codes, different = pd.factorize(table[name].astype("str").replace("", None))
    names = [*map(str, different), NOT_GIVEN]
    order = sorted(range(len(names)), key=names.__getitem__)
    if not (codes < 0).any():
        order.remove(len(names) - 1)
    place = np.full(len(names), -1)
    place[order] = range(len(order))
    ordered = pd.Index([names[at] for at in order])
    return pd.Series(pd.Categorical.from_codes(place[codes], ordered), index=table.index)


def listing(table: pd.DataFrame) -> pd.DataFrame:
    """Return the columns of the ranked list: codes in words, figures in the units shown."""
    shown = table[[name for name in _LISTED if name in table.columns]].copy()
    shown["state"] = states_in_words(table)
    for name in _IN_WORDS:
        if name in shown.columns:
            shown[name] = _each_once(tables.texts(table, name), partial(in_words, name))
    if "flags" in shown.columns:
        shown["flags"] = _each_once(tables.texts(table, "flags"), flags_in_words)
    for name, places in _DIGITS.items():
        if name in shown.columns:
            shown[name] = pd.Series(measures.value(name, shown[name])).round(places)
    unsure = table["confidence"].to_numpy() < 1
    shown["confidence"] = shown["confidence"].where(~unsure, shown["confidence"].clip(upper=0.99))
    return shown.reset_index(drop=True)


def with_range(shown: pd.DataFrame) -> pd.DataFrame:
    """Put both ends of the range of a cost into one column beside it."""
    ends = [shown.pop(f"annual_cost_{end}") for end in ("low", "high")]
    costs = (shown["annual_cost"] > 0).to_numpy()
    said = np.full(len(shown), "", dtype=object)
    said[costs] = [
        screen_words.RANGE.format(low=words.whole(low), high=words.whole(high))
        for low, high in zip(ends[0][costs], ends[1][costs], strict=True)
    ]
    shown.insert(list(shown.columns).index("annual_cost") + 1, "range", said.astype("str"))
    return shown


def states_in_words(table: pd.DataFrame) -> list[str]:
    """Return each row's state as it is said of its kind of device."""
    return tables.of_states(table, words.state_words).tolist()


def _each_once(values: pd.Series[str], said: Callable[[str], str]) -> pd.Series[str]:
    """Put every different value into words once."""
    return values.map({value: said(value) for value in values.unique()}).astype("str")


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


def set_aside(findings: Findings) -> pd.DataFrame:
    """Return the rows set aside as they are told: row, tag, column, value and reason, as text.

    The tag is blank where the row has none.
    """
    rejects = findings.rejects
    columns = {name: tables.texts(rejects, name) for name in ("row", "column", "value", "reason")}
    shown = pd.DataFrame(columns, index=rejects.index)
    shown.insert(1, "tag", rejected_cells(rejects, findings.summary.get("headers", []), "tag"))
    return shown


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
    named = table[table["equipment"] == row["equipment"]]  # in whatever area
    heater, mine = equipment_of(named), (named["tag"] == row["tag"]).to_numpy()
    found: pd.DataFrame = named[np.isin(heater, heater[mine]) & ~mine]
    return found


def _texts(table: pd.DataFrame, name: str) -> pd.Series[str]:
    return tables.texts(table, name).replace("", NOT_GIVEN)
