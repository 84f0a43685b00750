"""`survey pressure`: what each unit needs, the way down, and whether a step has held."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from survey.commands.progress import Progress
from survey.errors import UsageError

if TYPE_CHECKING:
    from survey.findings import Findings
    from survey.reports.plan import PlanPaper
    from survey.site import Site

LAST_UPSTREAM_LEVEL = 3


def run(
    rounds: Sequence[str],
    *,
    site: str | None,
    header_map: str | None,
    to_psig: float,
    stations: Sequence[str],
    spare_percent: float,
    wait_hours: float,
    out: str | None,
    after: str | None,
) -> None:
    """Judge the round, plan, write the plan where asked, and print it.

    Raises
    ------
    SurveyError
        A file cannot be read or written, nothing could be judged, or a station is not in it.
    """
    from survey.plant.stepdown import Wishes
    from survey.reports.plan import plan_text, write_plan
    from survey.site import Site

    _check_out(rounds, out=out, after=after)
    settings = Site.from_toml(site) if site else Site()
    before = _judged(list(rounds), settings, header_map)
    later = _judged([after], settings, header_map) if after else None
    wishes = Wishes(to_psig, spare_share=spare_percent / 100.0, wait_hours=wait_hours)
    paper = _paper(before, later, settings, wishes, stations)
    if out is not None:
        write_plan(paper, out)
    click.echo(plan_text(paper), nl=False)
    click.echo()
    click.echo(f"Plan saved to {out}" if out else "To take it along, run it again with --out "
               "plan.html (or a name ending in .txt or .json).")  # fmt: skip


def _check_out(rounds: Sequence[str], *, out: str | None, after: str | None) -> None:
    from survey.reports.plan import PLAN_SUFFIXES

    if out is None:
        return
    if Path(out).suffix.lower() not in PLAN_SUFFIXES:
        raise UsageError("A plan ends in .html, .txt or .json", found=Path(out).name,
                         do="give --out a name with one of these endings")  # fmt: skip
    given = [*rounds, after] if after else rounds
    if Path(out).resolve() in {Path(name).resolve() for name in given}:
        raise UsageError("A file of its own was expected for the plan", found=f"{out} after --out, "
                         "which is a round", do="give --out another name")  # fmt: skip


def _judged(rounds: list[str], site: Site, header_map: str | None) -> Findings:
    from survey.pipeline import analyze
    from survey.readings.mapping import load_header_map

    chosen = load_header_map(header_map) if header_map else None
    with Progress() as progress:
        return analyze(list(rounds), site=site, header_map=chosen, progress=progress)


def _paper(
    before: Findings, later: Findings | None, site: Site, wishes: Any, stations: Sequence[str]
) -> PlanPaper:
    from survey.plant.air import air_bound
    from survey.plant.checking import check_step
    from survey.plant.common import common_causes
    from survey.plant.stepdown import plan_pressure
    from survey.plant.worklist import work_list
    from survey.reports.plan import PlanPaper

    now = before if later is None else later  # the plan goes on from the latest round
    told = now.summary["calibration"]
    plan = plan_pressure(now.table, site=site, wishes=wishes, calibration=told)
    kept = _chosen([one.station for one in plan.stations], stations)
    plan = replace(plan, stations=tuple(p for p in plan.stations if p.station in kept))
    common = common_causes(now.table, calibration=told)
    lines = work_list(now.table, site=site, common=common)
    checked = check_step(before.table, later.table, site=site) if later is not None else ()
    return PlanPaper(
        site_name=site.name,
        plan=plan,
        common=common,
        # What is for no one station, a shared return say, is for all of them.
        mend_first=[
            line
            for line in lines
            if line.level <= LAST_UPSTREAM_LEVEL and line.station in {*kept, ""}
        ],
        air=[one for one in air_bound(now.table, site=site) if one.station in kept],
        checked=[one for one in checked if one.station in kept],
    )


def _chosen(known: Sequence[str], asked: Sequence[str]) -> set[str]:
    for name in asked:
        if name not in known:
            raise UsageError(
                "A station of the round was expected after --station",
                found=name[:80],
                do=f"give one of: {', '.join(n or '(none named)' for n in known)}",
            )
    if not known:
        raise UsageError("At least one trap was expected in the round", found="none",
                         do="give a round with traps")  # fmt: skip
    return set(asked or known)
