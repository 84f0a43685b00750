"""Two rounds held against each other: what happened to each unit, and what was saved.

Only units that were read and decided in both rounds count towards a saving. What is undecided in
either, had no steam on it, was not listened to again, not read again, is new, or is noted with
another hole though nobody noted a repair, is named and kept apart.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from survey.errors import UsageError
from survey.findings import Findings
from survey.rounds.content import day_read, in_both, says_when_read, spaced, tags_of, tags_set_aside
from survey.rounds.fitting import fitting, texts
from survey.rounds.known import NOTHING_KNOWN, Known
from survey.rounds.outcomes import OUTCOMES, PAIRED, outcomes
from survey.rounds.repairs import Repair, repairs
from survey.rounds.savings import Adjustment, Saved, saved_between
from survey.rounds.sides import RoundSide, check, side
from survey.rounds.store import KeptRound, Store
from survey.rounds.telling import Key
from survey.rounds.uncertain import Figure, chance_working, numbers
from survey.rounds.units import readings_of


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
    bores_in, trap_types
        As noted in the earlier and in the later round; NaN or '' where not.
    counts
        Whether its difference may count: False where its hole is not noted alike in both rounds
        and no repair is noted (see `fitting`); then ``saved_cost`` is NaN.
    cost_after
        Cost a year of what it loses in the later round, as found.
    action
        What the later round's verdict says to do.
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
    bores_in: tuple[float, float] = (float("nan"), float("nan"))
    trap_types: tuple[str, str] = ("", "")
    counts: bool = True
    cost_after: float = float("nan")
    action: str = ""
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
    repairs_known
        Whether noted repairs were at hand at all.
    aside_in_both
        Tags of devices whose rows were set aside in both rounds.
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
    repairs_known: bool = True
    aside_in_both: tuple[str, ...] = ()

    @property
    def not_alike(self) -> tuple[UnitCompared, ...]:
        """Units read and decided in both rounds that are left out for the hole noted."""
        return tuple(one for one in self.units if not one.counts and one.outcome in PAIRED)

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
    found = [store.findings(one.number) for one in (before, after)]
    tables = [
        readings_of(store, one, its) for one, its in zip((before, after), found, strict=True)
    ]
    sides = [
        side(one.title, one.read_on, one.summary, table, dated=True)
        for one, table in zip((before, after), tables, strict=True)
    ]
    return _compared(tables, [tags_set_aside(its) for its in found], sides, at=at, done=done)


def compare_findings(
    before: Findings, after: Findings, *, at: str = "after", known: Known = NOTHING_KNOWN
) -> Comparison:
    """Compare two rounds of findings.

    A unit is told by its tag and kind of device, unless ``known``, what a store knows of the two
    rounds, says more.
    """
    first_new = max((n for its in known.units for n in its.values()), default=0) + 1
    numbers_of: dict[Key, int] = {}
    tables, sides = [], []
    for at_side, findings in enumerate((before, after)):
        table = findings.table.copy()
        kinds = texts(table, "device", "trap")
        keys = zip(tags_of(findings), kinds, strict=True)
        its = known.units[at_side]
        table["unit"] = [
            its[key] if key in its else numbers_of.setdefault(key, first_new + len(numbers_of))
            for key in keys
        ]
        tables.append(table)
        read_on = known.days[at_side] or day_read(findings)
        dated = says_when_read(findings) or read_on.isoformat() != _judged_on(findings)
        title = known.titles[at_side] or ("" if dated else known.files[at_side])
        title = title or ("before", "after")[at_side]
        sides.append(side(title, read_on, findings.summary, table, dated=dated))
    every = {*tables[0]["unit"], *tables[1]["unit"]}
    since, until = sorted(one.read_on for one in sides)
    done = [
        one for one in known.repairs or ()
        if one.unit in every and since <= one.done_on <= until
    ]  # fmt: skip
    return _compared(
        tables, [tags_set_aside(its) for its in (before, after)], sides, at=at, done=done,
        repairs_known=known.repairs is not None,
    )  # fmt: skip


def _judged_on(findings: Findings) -> str:
    return str(findings.summary.get("made_at", ""))[:10]


def _compared(
    tables: list[pd.DataFrame],
    aside: Sequence[Sequence[str]],
    sides: list[RoundSide],
    *,
    at: str,
    done: list[Repair],
    repairs_known: bool = True,
) -> Comparison:
    check(sides, at)
    before, after = tables
    every = sorted({*before["unit"], *after["unit"]})
    was, now = (table.set_index("unit").reindex(every) for table in tables)
    holes = fitting(was, now, noted=np.isin(every, [repair.unit for repair in done]))
    found = outcomes(
        was, now,
        read_before=np.isin(every, before["unit"]), read_after=np.isin(every, after["unit"]),
        aside_before=_bears(now, aside[0]), aside_after=_bears(was, aside[1]),
        other_hole=holes.unexplained,
    )  # fmt: skip
    saved, adjustments, by_unit = saved_between(was, now, outcome=found, holes=holes, at=at)
    units = _units(every, was, now, found, by_unit, holes.comparable(found), done)
    units.sort(key=lambda u: (-abs(np.nan_to_num(u.saved_cost.expected)), u.tag, u.unit))
    counts = {name: int((found == name).sum()) for name in OUTCOMES}
    tags = zip(texts(now, "tag"), holes.other, strict=True)
    return Comparison(
        sides[0], sides[1], at, tuple(units), counts, saved, adjustments, tuple(done),
        tuple(tag for tag, other in tags if other), repairs_known, in_both(*aside),
    )  # fmt: skip


def _bears(table: pd.DataFrame, tags: Sequence[str]) -> np.ndarray:
    """Return which rows of a table bear one of some tags."""
    named = set(map(spaced, tags))
    return np.array([spaced(tag) in named for tag in texts(table, "tag")], dtype=bool)


def _units(
    every: list[int],
    was: pd.DataFrame,
    now: pd.DataFrame,
    found: np.ndarray,
    by_unit: list[Figure],
    comparable: np.ndarray,
    done: list[Repair],
) -> list[UnitCompared]:
    unknown = Figure(*[float("nan")] * 3)
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
            saved_cost=by_unit[i] if found[i] in PAIRED and comparable[i] else unknown,
            bores_in=(old["bore"][i], new["bore"][i]),
            trap_types=(old["trap_type"][i], new["trap_type"][i]),
            counts=bool(comparable[i]),
            cost_after=new["cost"][i],
            action=new["action"][i],
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


def _columns(table: pd.DataFrame) -> dict[str, list[Any]]:
    names = ("tag", "device", "area", "equipment", "state", "trap_type", "action")
    ends = [numbers(table, f"steam_loss_{part}lb_per_h") for part in ("", "low_", "high_")]
    return {
        **{name: texts(table, name) for name in names},
        "bore": numbers(table, "orifice_in").tolist(),
        "cost": numbers(table, "annual_cost").tolist(),
        "working": chance_working(table).tolist(),
        "loss": [Figure(*map(float, one)) for one in zip(*ends, strict=True)],
    }
