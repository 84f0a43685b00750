"""From findings to the paper of a pressure plan: which parts of the plant go on it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from survey.errors import UsageError
from survey.findings import Findings
from survey.plant.air import air_bound
from survey.plant.checking import check_step
from survey.plant.common import common_causes
from survey.plant.stepdown import Wishes, plan_pressure
from survey.plant.worklist import work_list
from survey.reports.plan import PlanPaper
from survey.site import Site

LAST_UPSTREAM_LEVEL = 3


def make_paper(
    findings: Findings,
    *,
    site: Site,
    wishes: Wishes,
    stations: Sequence[str] = (),
    before: Findings | None = None,
) -> PlanPaper:
    """Plan the way down from a judged round.

    Parameters
    ----------
    findings
        The latest round: the plan goes on from it.
    stations
        Plan these only; all where none is named.
    before
        The round read before the last step, to hold the latest one against.

    Raises
    ------
    UsageError
        There is no trap in the round, or no such station.
    """
    told = findings.summary.get("calibration", [])
    plan = plan_pressure(findings.table, site=site, wishes=wishes, calibration=told)
    kept = _chosen([one.station for one in plan.stations], stations)
    common = common_causes(findings.table, calibration=told)
    lines = work_list(findings.table, site=site, common=common)
    checked = check_step(before.table, findings.table, site=site) if before is not None else ()
    return PlanPaper(
        site_name=site.name,
        plan=replace(plan, stations=tuple(p for p in plan.stations if p.station in kept)),
        common=common,
        # What is for no one station, a shared return say, is for all of them.
        mend_first=[
            line
            for line in lines
            if line.level <= LAST_UPSTREAM_LEVEL and line.station in {*kept, ""}
        ],
        air=[one for one in air_bound(findings.table, site=site) if one.station in kept],
        checked=[one for one in checked if one.station in kept],
    )


def _chosen(known: Sequence[str], asked: Sequence[str]) -> set[str]:
    if not known:
        raise UsageError(
            "At least one trap was expected in the round",
            found="none",
            do="give a round with traps",
        )
    for name in asked:
        if name not in known:
            raise UsageError(
                "A station of the round was expected after --station",
                found=name[:80],
                do=f"give one of: {', '.join(n or '(none named)' for n in known)}",
            )
    return set(asked or known)
