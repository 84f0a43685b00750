"""Two rounds held against each other: what happened to each unit, and what was saved.

Only units that were read and decided in both rounds count towards a saving. What is undecided in
either, had no steam on it, was not listened to again, not read again, or is new is named and kept
apart.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np
import pandas as pd

from survey.errors import UsageError
from survey.findings import Findings
from survey.rounds.content import day_read, tags_of
from survey.rounds.outcomes import OUTCOMES, PAIRED, outcomes
from survey.rounds.repairs import Repair, repairs
from survey.rounds.savings import Adjustment, Saved, saved_between
from survey.rounds.store import KeptRound, Store
from survey.rounds.uncertain import Figure, chance_working, numbers
from survey.rounds.units import readings_of

ENDS = ("after", "before")
SAME_BORE_IN = 0.001


@dataclass(frozen=True)
class RoundSide:
    """One of the two rounds.

    Parameters
    ----------
    loss_lb_per_h, annual_cost
        Expected, of all its units, as found.
    basis
        How a pound of loss was counted, in words; '' where the findings do not say.
    """

    title: str
    read_on: date
    site_name: str
    currency: str
    devices: int
    loss_lb_per_h: float
    annual_cost: float
    basis: str = ""


@dataclass(frozen=True)
class UnitCompared:
    """One unit in both rounds; what one round has not is '' or NaN.

    Parameters
    ----------
    outcome
        One of `outcomes.OUTCOMES`.
    sure
        Chance that it failed, or worked, in both rounds as the outcome says; NaN where the outcome
        does not say.
    tag, tag_before
        What it is called in the later round (else in the earlier), and in the earlier.
    saved_cost
        Cost a year before less after, normalised; under zero where more is lost now.
    repairs
        What is noted as done to it between the two rounds.
    """

    unit: int
    tag: str
    tag_before: str
    device: str
    area: str
    equipment: str
    outcome: str
    state_before: str
    state_after: str
    sure: float
    loss_before_lb_per_h: Figure
    loss_after_lb_per_h: Figure
    saved_cost: Figure
    repairs: tuple[Repair, ...] = ()


@dataclass(frozen=True)
class Comparison:
    """Two rounds compared.

    Parameters
    ----------
    at
        'after' or 'before': the round whose hours, pressure and price both are brought to.
    units
        Every unit of either round, what it saves or costs most first.
    counts
        How many units had each outcome, all of `outcomes.OUTCOMES`.
    saved
        Saved by the units read and decided in both rounds, and what is kept apart from it.
    repairs
        Noted as done between the two rounds.
    refitted
        Tags of the units whose recorded trap type or bore is not what it was.
    """

    before: RoundSide
    after: RoundSide
    at: str
    units: tuple[UnitCompared, ...]
    counts: dict[str, int]
    saved: Saved
    adjustments: tuple[Adjustment, ...]
    repairs: tuple[Repair, ...] = ()
    refitted: tuple[str, ...] = ()

    @property
    def currency(self) -> str:
        """The money of both rounds; '' where neither says."""
        return self.after.currency or self.before.currency

    def of(self, outcome: str) -> tuple[UnitCompared, ...]:
        """Return the units with an outcome."""
        return tuple(unit for unit in self.units if unit.outcome == outcome)


def compare_rounds(
    store: Store, before: KeptRound, after: KeptRound, *, at: str = "after"
) -> Comparison:
    """Compare two rounds of a store; units are followed through changes of tag.

    Raises
    ------
    UsageError
        It is one round twice, or their moneys differ, or ``at`` is neither 'before' nor 'after'.
    """
    if before.number == after.number:
        raise UsageError("Two rounds were expected", found=f"{before.title} twice",
                         do="see the rounds with: survey rounds list")  # fmt: skip
    since, until = sorted((before.read_on, after.read_on))
    done = [one for one in repairs(store) if since <= one.done_on <= until]
    tables = [readings_of(store, one) for one in (before, after)]
    sides = [
        _side(one.title, one.read_on, one.summary, table)
        for one, table in zip((before, after), tables, strict=True)
    ]
    return _compared(tables[0], tables[1], sides, at=at, done=done)


def compare_findings(before: Findings, after: Findings, *, at: str = "after") -> Comparison:
    """Compare two rounds that are in no store: a unit is told by its tag and kind of device."""
    numbers_of: dict[tuple[str, str], int] = {}
    tables, sides = [], []
    for title, findings in (("before", before), ("after", after)):
        table = findings.table.copy()
        kinds = _texts(table, "device", "trap")
        keys = zip(tags_of(findings), kinds, strict=True)
        table["unit"] = [numbers_of.setdefault(key, len(numbers_of) + 1) for key in keys]
        tables.append(table)
        sides.append(_side(title, day_read(findings), findings.summary, table))
    return _compared(tables[0], tables[1], sides, at=at, done=[])


def _compared(
    before: pd.DataFrame,
    after: pd.DataFrame,
    sides: list[RoundSide],
    *,
    at: str,
    done: list[Repair],
) -> Comparison:
    _check(sides, at)
    every = sorted({*before["unit"], *after["unit"]})
    was, now = (table.set_index("unit").reindex(every) for table in (before, after))
    read_in = [np.isin(every, table["unit"]) for table in (before, after)]
    found = outcomes(was, now, read_before=read_in[0], read_after=read_in[1])
    mended_with_note = np.isin(every, [repair.unit for repair in done])
    saved, adjustments, by_unit = saved_between(
        was, now, outcome=found, noted=mended_with_note, at=at
    )
    units = _units(every, was, now, found, by_unit, done)
    units.sort(key=lambda u: (-abs(np.nan_to_num(u.saved_cost.expected)), u.tag, u.unit))
    counts = {name: int((found == name).sum()) for name in OUTCOMES}
    return Comparison(
        sides[0], sides[1], at, tuple(units), counts, saved, adjustments, tuple(done),
        _refitted(was, now),
    )  # fmt: skip


def _units(
    every: list[int],
    was: pd.DataFrame,
    now: pd.DataFrame,
    found: np.ndarray,
    by_unit: list[Figure],
    done: list[Repair],
) -> list[UnitCompared]:
    old, new = _columns(was), _columns(now)
    repaired: Mapping[int, tuple[Repair, ...]] = {
        unit: tuple(one for one in done if one.unit == unit) for unit in {r.unit for r in done}
    }
    return [
        UnitCompared(
            unit=unit,
            tag=new["tag"][i] or old["tag"][i],
            tag_before=old["tag"][i],
            device=new["device"][i] or old["device"][i] or "trap",
            area=new["area"][i] or old["area"][i],
            equipment=new["equipment"][i] or old["equipment"][i],
            outcome=str(found[i]),
            state_before=old["state"][i],
            state_after=new["state"][i],
            sure=_sure(str(found[i]), old["working"][i], new["working"][i]),
            loss_before_lb_per_h=old["loss"][i],
            loss_after_lb_per_h=new["loss"][i],
            saved_cost=by_unit[i] if found[i] in PAIRED else Figure(*[float("nan")] * 3),
            repairs=repaired.get(unit, ()),
        )
        for i, unit in enumerate(every)
    ]


def _sure(outcome: str, before: float, after: float) -> float:
    if outcome not in PAIRED:
        return float("nan")
    works_before = outcome in ("newly_failed", "still_working")
    works_after = outcome in ("mended", "still_working")
    return (before if works_before else 1 - before) * (after if works_after else 1 - after)


def _refitted(was: pd.DataFrame, now: pd.DataFrame) -> tuple[str, ...]:
    kinds = [_texts(table, "trap_type") for table in (was, now)]
    bores = [numbers(table, "orifice_in") for table in (was, now)]
    other_kind = [bool(old and new and old != new) for old, new in zip(*kinds, strict=True)]
    other_bore = np.abs(bores[0] - bores[1]) > SAME_BORE_IN  # False where either is not known
    tags = _texts(now, "tag")
    return tuple(tag for tag, a, b in zip(tags, other_kind, other_bore, strict=True) if a or b)


def _columns(table: pd.DataFrame) -> dict[str, list[Any]]:
    names = ("tag", "device", "area", "equipment", "state")
    ends = [numbers(table, f"steam_loss_{part}lb_per_h") for part in ("", "low_", "high_")]
    return {
        **{name: _texts(table, name) for name in names},
        "working": chance_working(table).tolist(),
        "loss": [Figure(*map(float, one)) for one in zip(*ends, strict=True)],
    }


def _texts(table: pd.DataFrame, name: str, missing: str = "") -> list[str]:
    if name not in table:
        return [missing] * len(table)
    values = table[name].astype(object)
    return [missing if pd.isna(value) else str(value) for value in values]


def _side(title: str, read_on: date, summary: dict[str, object], table: pd.DataFrame) -> RoundSide:
    return RoundSide(
        title=title,
        read_on=read_on,
        site_name=str(summary.get("site_name", "")),
        currency=str(summary.get("currency", "")),
        devices=len(table),
        loss_lb_per_h=float(np.nansum(numbers(table, "steam_loss_lb_per_h"))),
        annual_cost=float(np.nansum(numbers(table, "annual_cost"))),
        basis=str(summary.get("loss_basis", "")),
    )


def _check(sides: list[RoundSide], at: str) -> None:
    if at not in ENDS:
        raise UsageError("'before' or 'after' was expected", found=at[:40],
                         do="say whose hours, pressure and price both are brought to")  # fmt: skip
    moneys = {side.currency for side in sides} - {""}
    if len(moneys) > 1:
        raise UsageError(
            "Two rounds in one currency were expected",
            found=" and ".join(sorted(moneys)),
            do="judge one of them again with the other's currency in its site file",
        )
