"""The pressure plan as paper: a step list to take along, as text, HTML or JSON."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from survey.errors import UsageError
from survey.plant.air import AIR_NOTE, AirBound
from survey.plant.checking import OUTCOME_WORDS, StationChecked
from survey.plant.common import CommonCause
from survey.plant.saving import Saving
from survey.plant.stepdown import PressurePlan, StationPlan
from survey.plant.steps import Step
from survey.plant.worklist import WorkLine
from survey.reports import plan_words
from survey.reports.blocks import (
    Block,
    Drawing,
    Heading,
    Paragraph,
    Points,
    Table,
    as_html,
    as_text,
)
from survey.reports.lost_chart import chart_words, lost_chart
from survey.reports.words import TRAP_TYPES, capital, coins, counted, figure, percent, span
from survey.writing import replacing

MOST_TO_MEND = 40
PLAN_SUFFIXES = (".html", ".txt", ".json")


@dataclass(frozen=True)
class PlanPaper:
    """All that goes on the paper of one round.

    Parameters
    ----------
    mend_first
        Lines of the work list that are upstream of traps.
    checked
        What a round after the last step showed; empty where there is none.
    """

    site_name: str
    plan: PressurePlan
    common: Sequence[CommonCause] = ()
    mend_first: Sequence[WorkLine] = ()
    air: Sequence[AirBound] = ()
    checked: Sequence[StationChecked] = ()


def plan_text(paper: PlanPaper, *, width: int = 88) -> str:
    """Return the paper as plain text."""
    return as_text(plan_blocks(paper), width=width)


def plan_html(paper: PlanPaper) -> str:
    """Return the paper as one self-contained page."""
    return as_html(plan_blocks(paper), title=_title(paper))


def plan_json(paper: PlanPaper) -> str:
    """Return everything on the paper as JSON; what is not known is null."""
    given = {
        "site_name": paper.site_name,
        **asdict(paper.plan),
        "common_causes": [asdict(cause) for cause in paper.common],
        "mend_first": [asdict(line) for line in paper.mend_first],
        "air_bound": [asdict(unit) for unit in paper.air],
        "checked": [asdict(station) for station in paper.checked],
        "cautions": list(plan_words.STEP_CAUTIONS),
    }
    return json.dumps(_without_nan(given), indent=2, allow_nan=False) + "\n"


def write_plan(paper: PlanPaper, path: str | Path) -> None:
    """Write the paper, atomically, in the kind of file that the suffix names.

    Raises
    ------
    UsageError
        The suffix is not .html, .txt or .json.
    OutputError
        The place cannot be written.
    """
    path = Path(path)
    makers = {".html": plan_html, ".txt": plan_text, ".json": plan_json}
    if path.suffix.lower() not in makers:
        raise UsageError(
            "A plan ends in .html, .txt or .json",
            found=path.name,
            do="give --out a name with one of these endings",
        )
    text = makers[path.suffix.lower()](paper)
    with replacing(path) as temporary:
        temporary.write_text(text, encoding="utf-8", newline="\n")


def _without_nan(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _without_nan(part) for key, part in value.items()}
    if isinstance(value, list | tuple):
        return [_without_nan(part) for part in value]
    return None if isinstance(value, float) and not math.isfinite(value) else value


def _title(paper: PlanPaper) -> str:
    name = f"{paper.site_name}: " if paper.site_name else ""
    return capital(f"{name}bringing the steam pressure down")


def plan_blocks(paper: PlanPaper) -> list[Block]:
    """Return the paper as blocks."""
    blocks: list[Block] = [Heading(1, _title(paper))]
    blocks += [Paragraph(_headline(station)) for station in paper.plan.stations]
    blocks += [Heading(2, "Before anyone touches a valve"),
               Points(plan_words.STEP_CAUTIONS, caution=True)]  # fmt: skip
    if paper.checked:
        blocks += _checked(paper.checked)
    if paper.common:
        blocks.append(Heading(2, "What many units have in common"))
        blocks.append(Points(tuple(f"{c.words} First: {c.check_first}" for c in paper.common)))
    if paper.mend_first:
        blocks += _mend_first(paper.mend_first)
    if paper.air:
        blocks += _air(paper.air)
    if any(station.steps for station in paper.plan.stations):
        blocks += [Heading(2, "How to go down"), Points(plan_words.STEP_ORDER),
                   Heading(3, "When to stop and go back"),
                   Points(plan_words.STOP_RULES)]  # fmt: skip
    for station in paper.plan.stations:
        blocks += _station(station, paper.plan.currency)
    if paper.plan.returns:
        blocks += [Heading(2, "Stations that share a return"), Points(paper.plan.returns)]
    return [*blocks, Heading(2, "What this takes for granted"), Points(paper.plan.assumptions)]


def _name(station: str) -> str:
    return f"Station {station}" if station else "Rows that name no station"


def _headline(plan: StationPlan) -> str:
    now = f" ({figure(plan.today_psig)} psig today)" if math.isfinite(plan.today_psig) else ""
    return f"{_name(plan.station)}{now} {plan_words.STANDING_WORDS[plan.standing]}. {plan.why}"


def _mend_first(lines: Sequence[WorkLine]) -> list[Block]:
    rows = tuple(
        (line.tag or line.where, line.where if line.tag else line.area, line.what, line.parts,
         ", ".join(line.explains), line.read_again)
        for line in lines[:MOST_TO_MEND]
    )  # fmt: skip
    heads = ("device", "where", "what", "parts", "explains", "read again afterwards")
    caption = counted(len(lines), "thing") + " to mend first, upstream before trap"
    blocks: list[Block] = [Heading(2, "Mend first"), Table(caption, heads, rows)]
    if len(lines) > MOST_TO_MEND:
        blocks.append(Paragraph(f"And {len(lines) - MOST_TO_MEND:,} more."))
    return blocks


def _air(units: Sequence[AirBound]) -> list[Block]:
    rows = tuple(
        (u.tag, u.where, ", ".join(u.vents) or "none in the round", percent(u.air_share),
         f"at most {percent(u.output_lost_share)}", _heat_back(u))
        for u in units[:MOST_TO_MEND]
    )  # fmt: skip
    heads = ("unit", "where", "vent", "air", "heat lost", "heat back, Btu/h")
    caption = "Vents to open first, by the heat that comes back"
    return [Heading(3, "Air-bound units"), Table(caption, heads, rows), Paragraph(AIR_NOTE)]


def _heat_back(unit: AirBound) -> str:
    ends = (unit.heat_back_low_btu_per_h, unit.heat_back_high_btu_per_h)
    by_size = "" if unit.load_given or not math.isfinite(ends[0]) else ", load by the trap's size"
    return f"{figure(unit.heat_back_btu_per_h, 2)} {span(ends[0], *ends)}{by_size}".strip()


def _station(plan: StationPlan, currency: str) -> list[Block]:
    blocks: list[Block] = [Heading(2, _name(plan.station)), Paragraph(plan.why)]
    if abs(plan.gauge_shows_psig - plan.today_psig) > 0.5:
        blocks.append(Paragraph(
            f"Its gauge shows {figure(plan.gauge_shows_psig)} psig where the temperatures say "
            f"{figure(plan.today_psig)} psig: pressures here are true, with what the gauge shows "
            "beside each step."
        ))  # fmt: skip
    if plan.curve is not None:
        drawn = lost_chart(plan.curve, today_psig=plan.today_psig, end_psig=plan.end_psig)
        blocks += [Heading(3, "Units lost against pressure"), Drawing(drawn),
                   Paragraph(chart_words(plan.curve))]  # fmt: skip
    if plan.binding:
        blocks += _binding(plan)
    for step in plan.steps:
        blocks += _step(step, plan.units - plan.known)
    if plan.savings:
        rows = tuple(_saving_row(one, currency) for one in plan.savings)
        heads = ("what", "saved", "a year", "mind")
        blocks.append(Table(f"Saved at {figure(plan.end_psig)} psig, 10-90 % range in brackets; "
                            "not to be added up", heads, rows))  # fmt: skip
    if plan.unknowns:
        blocks += [Heading(3, "Not known"), Points(tuple(
            f"{u.what}: {counted(u.count, 'unit')} ({', '.join(u.tags)}"
            f"{', …' if u.count > len(u.tags) else ''}). To do: {u.do}."
            for u in plan.unknowns
        ))]  # fmt: skip
    return blocks


def _binding(plan: StationPlan) -> list[Block]:
    rows = tuple(
        (b.tag, b.where, f"{figure(b.limit_psig)} psig", b.why, b.freed_by,
         f"{figure(b.freed_floor_psig)} psig")
        for b in plan.binding
    )  # fmt: skip
    heads = ("unit", "where", "needs", "what binds", "what would free it", "floor once freed")
    caption = f"Units that hold it over {figure(plan.target_psig)} psig, the highest first"
    more = [Paragraph(f"And {plan.more_binding:,} more.")] if plan.more_binding else []
    return [Table(caption, heads, rows), *more]


def _step(step: Step, unknown: int) -> list[Block]:
    shown = (
        "" if abs(step.gauge_shows_psig - step.psig) < 0.25
        else f" (the gauge will show {figure(step.gauge_shows_psig)})"
    )  # fmt: skip
    bands = "; ".join(
        f"{TRAP_TYPES.get(b.trap_type, b.trap_type or 'type not known')} {b.low_f:.0f} to "
        f"{b.high_f:.0f} °F"
        for b in step.bands
    )
    binds = f" {step.binds_next} binds next." if step.binds_next else ""
    unseen = (
        f" {counted(unknown, 'unit')} whose needs are not known {'is' if unknown == 1 else 'are'} "
        "not in these figures: read every one."
        if unknown
        else ""
    )
    said = (
        f"Steam at {step.saturation_f:.0f} °F. Inlets of working traps, true temperature: {bands}. "
        f"Wait {step.wait_hours:g} hours. Units standing back: {step.lost_expected:.1f} expected "
        f"({step.lost_low:.1f} to {step.lost_high:.1f}), {step.lost_today:.1f} today."
        f"{binds}{unseen}"
    )
    rows = tuple(
        (w.tag, w.where, plan_words.NO_CHANCE if w.chance < 0.01 else percent(w.chance),
         f"{w.margin_psi:.1f} psi", f"{w.inlet_f:.0f} °F", _reads(w.reads_f), "", "")
        for w in step.watch
    )  # fmt: skip
    heads = ("unit", "where", "chance to flood", "to spare", "inlet should be",
             "thermometer should show", "read", "time")  # fmt: skip
    watch = [Table("Watch these, the likeliest to flood first", heads, rows)] if rows else []
    return [
        Heading(3, f"Step {step.number}: {figure(step.psig)} psig{shown}"), Paragraph(said), *watch
    ]  # fmt: skip


def _reads(value: float) -> str:
    return f"{value:.0f} °F" if math.isfinite(value) else "not known"


def _saving_row(one: Saving, currency: str) -> tuple[str, ...]:
    amount = f"{figure(one.expected)} {one.unit} {span(one.expected, one.low, one.high)}"
    cost = (
        f"{currency} {coins(one.cost)} {span(one.cost, one.cost_low, one.cost_high, coins)}"
        if math.isfinite(one.cost)
        else "not known"
    )
    return (one.what, amount.strip(), cost.strip(), one.note)


def _checked(stations: Sequence[StationChecked]) -> list[Block]:
    blocks: list[Block] = [Heading(2, "What the round after the step shows")]
    for station in stations:
        blocks.append(Paragraph(
            f"{_name(station.station)}, {figure(station.before_psig)} to "
            f"{figure(station.after_psig)} psig: {station.go_on}. {capital(station.words)}"
        ))  # fmt: skip
        counts = ", ".join(f"{station.counts[o]:,} {OUTCOME_WORDS[o]}" for o in station.counts)
        blocks.append(Paragraph(f"{capital(counts)}."))
        rows = tuple(
            (u.tag, u.where, OUTCOME_WORDS[u.outcome], u.words)
            for u in station.units
            if u.outcome != "held"
        )
        if rows:
            heads = ("unit", "where", "outcome", "why")
            blocks.append(Table("Every unit that has not simply held", heads, rows))
    return blocks
