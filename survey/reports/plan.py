"""The pressure plan as paper: a step list to take along, as text, HTML or JSON."""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from survey.plant.air import AIR_NOTE, AirBound
from survey.plant.checking import StationChecked
from survey.plant.common import CommonCause
from survey.plant.going_on import OUTCOME_WORDS
from survey.plant.stepdown import PressurePlan, StationPlan
from survey.plant.worklist import WorkLine
from survey.reports import measures, numerals, plan_words
from survey.reports.blocks import (
    Block,
    Heading,
    Paragraph,
    Points,
    Table,
    as_html,
    as_text,
)
from survey.reports.measures import GAUGE
from survey.reports.plan_station import aside_words, station_blocks, station_headline, station_name
from survey.reports.saving import suffix_among, write_made
from survey.reports.spoken import spoken
from survey.reports.words import capital, counted, figure, percent, span

MOST_TO_MEND = 40
TEXT_WIDTH = 88


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


def plan_text(paper: PlanPaper, *, width: int = TEXT_WIDTH) -> str:
    """Return the paper as plain text."""
    return as_text(plan_blocks(paper), width=width)


def plan_html(paper: PlanPaper) -> str:
    """Return the paper as one self-contained page."""
    return as_html(plan_blocks(paper), title=_title(paper))


def plan_pdf(paper: PlanPaper) -> bytes:
    """Return the paper as a PDF to print: tagged, PDF/UA-1."""
    from survey.reports.pdf import blocks_pdf

    return blocks_pdf(plan_blocks(paper), title=_title(paper))


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
        The suffix is not .html, .pdf, .txt or .json.
    OutputError
        The place cannot be written.
    """
    write_made(_MAKERS[plan_suffix(path)](paper), path)


_MAKERS: dict[str, Callable[[PlanPaper], str | bytes]] = {
    ".html": plan_html, ".pdf": plan_pdf, ".txt": plan_text, ".json": plan_json,
}  # fmt: skip


def plan_suffix(path: str | Path) -> str:
    """Return the kind of file that a name asks for; raises UsageError where there is none."""
    return suffix_among(path, _MAKERS, what="A plan")


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
    names = [station.station for station in paper.plan.stations]
    blocks: list[Block] = [Heading(1, _title(paper))]
    blocks += [Paragraph(station_headline(one)) for one in _urgent_first(paper.plan.stations)]
    elsewhere = aside_words(paper.plan.set_aside, plan_words.ASIDE_ELSEWHERE)
    blocks += [Paragraph(elsewhere)] if elsewhere else []
    blocks += [Heading(2, "Before anyone touches a valve"),
               Points(plan_words.STEP_CAUTIONS, caution=True)]  # fmt: skip
    if paper.checked:
        blocks += _checked(paper.checked)
    if paper.common:
        blocks.append(Heading(2, "What many units have in common"))
        blocks.append(Points(tuple(
            spoken(f"{c.words} First: {c.check_first}", [c.group]) for c in paper.common
        )))  # fmt: skip
    if paper.mend_first:
        blocks += _mend_first(paper.mend_first)
    if paper.air:
        blocks += _air(paper.air)
    if any(station.steps for station in paper.plan.stations):
        blocks += [Heading(2, "How to go down"), Points(plan_words.STEP_ORDER),
                   Heading(3, "When to stop and go back"),
                   Points(plan_words.STOP_RULES)]  # fmt: skip
    for station in paper.plan.stations:
        blocks += station_blocks(station, paper.plan.currency)
    if paper.plan.returns:
        shared = Points(_told(paper.plan.returns, names))
        blocks += [Heading(2, "Stations that share a return"), shared]
    granted = Points(_told(paper.plan.assumptions))
    return [*blocks, Heading(2, "What this takes for granted"), granted]


def _urgent_first(stations: Sequence[StationPlan]) -> list[StationPlan]:
    """Return the stations whose last step has not held before the others."""
    order = (*plan_words.MOST_URGENT, "")
    return sorted(
        stations, key=lambda one: order.index(one.standing if one.standing in order else "")
    )


def _mend_first(lines: Sequence[WorkLine]) -> list[Block]:
    rows = tuple(_mend_row(line) for line in lines[:MOST_TO_MEND])
    heads = ("device", "where", "what", "parts", "explains", "read again afterwards")
    caption = counted(len(lines), "thing") + " to mend first, upstream before trap"
    blocks: list[Block] = [Heading(2, "Mend first"), Table(caption, heads, rows)]
    if len(lines) > MOST_TO_MEND:
        blocks.append(Paragraph(f"And {numerals.grouped(len(lines) - MOST_TO_MEND)} more."))
    return blocks


def _mend_row(line: WorkLine) -> tuple[str, ...]:
    names = (line.tag, line.where, *line.explains)
    what, parts, again = _told((line.what, line.parts, line.read_again), names)
    where = line.where if line.tag else line.area
    return line.tag or line.where, where, what, parts, ", ".join(line.explains), again


def _told(sentences: Iterable[str], names: Sequence[str] = ()) -> tuple[str, ...]:
    return tuple(spoken(sentence, names) for sentence in sentences)


def _air(units: Sequence[AirBound]) -> list[Block]:
    rows = tuple(
        (u.tag, u.where, ", ".join(u.vents) or "none in the round", percent(u.air_share),
         f"at most {percent(u.output_lost_share)}", _heat_back(u))
        for u in units[:MOST_TO_MEND]
    )  # fmt: skip
    heat = f"heat back, {measures.unit(measures.HEAT)}"
    heads = ("unit", "where", "vent", "air", "heat lost", heat)
    caption = "Vents to open first, by the heat that comes back"
    return [Heading(3, "Air-bound units"), Table(caption, heads, rows), Paragraph(AIR_NOTE)]


def _heat_back(unit: AirBound) -> str:
    back, low, high = (
        measures.value(measures.HEAT, heat)
        for heat in (unit.heat_back_btu_per_h, unit.heat_back_low_btu_per_h,
                     unit.heat_back_high_btu_per_h)
    )  # fmt: skip
    by_size = "" if unit.load_given or not math.isfinite(low) else ", load by the trap's size"
    return f"{figure(back, 2)} {span(low, low, high)}{by_size}".strip()


def _from_to(station: StationChecked) -> str:
    if math.isnan(station.before_psig) and math.isnan(station.after_psig):
        return ""
    before = figure(measures.value(GAUGE, station.before_psig))
    return f", {before} to {measures.figured(GAUGE, station.after_psig)}"


def _checked(stations: Sequence[StationChecked]) -> list[Block]:
    blocks: list[Block] = [Heading(2, "What the round after the step shows")]
    for station in stations:
        tags = [unit.tag for unit in station.units]
        said = spoken(f"{station.go_on}. {capital(station.words)}", tags)
        blocks.append(Paragraph(f"{station_name(station.station)}{_from_to(station)}: {said}"))
        counts = ", ".join(
            f"{numerals.grouped(count)} {OUTCOME_WORDS[outcome]}"
            for outcome, count in station.counts.items()
        )
        blocks.append(Paragraph(f"{capital(counts)}."))
        rows = tuple(
            (u.tag, u.where, OUTCOME_WORDS[u.outcome], spoken(u.words))
            for u in station.units
            if u.outcome != "held"
        )
        if rows:
            heads = ("unit", "where", "outcome", "why")
            blocks.append(Table("Every unit that has not simply held", heads, rows))
    return blocks
