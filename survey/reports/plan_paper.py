"""From findings to the paper of a pressure plan: which parts of the plant go on it."""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd

from survey.errors import UsageError
from survey.findings import Findings
from survey.plant.air import air_bound
from survey.plant.aside import Rejected
from survey.plant.checking import check_step
from survey.plant.common import common_causes
from survey.plant.stepdown import Wishes, plan_pressure
from survey.plant.units import text_of
from survey.plant.worklist import work_list
from survey.reports.plan import PlanPaper
from survey.site import Site

LAST_LEVEL_TO_MEND = 4
"""Traps too, after what is upstream: one that is stuck shut tells nothing of a step, and one that
blows raises the pressure in the return. What wants one more reading is not mended yet."""


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
    told, headers = (findings.summary.get(key, []) for key in ("calibration", "headers"))
    station_of = _stations(findings.table)
    kept = _chosen(sorted(set(station_of.values())), stations)
    checked = check_step(before.table, findings.table, site=site) if before is not None else ()
    plan = plan_pressure(
        findings.table, site=site, wishes=wishes, calibration=told,
        rejected=Rejected(findings.rejects, headers), stations=kept,
        checked={one.station: one for one in checked},
        before=before.table if before is not None else None,
    )  # fmt: skip
    common = common_causes(findings.table, calibration=told)
    lines = work_list(findings.table, site=site, common=common)

    def concerns(station: str, tags: Sequence[str]) -> bool:
        # What is for no one station, a shared return say, is for those whose units it explains.
        if station:
            return station in kept
        return not tags or any(station_of.get(tag, "") in kept for tag in tags)

    return PlanPaper(
        site_name=site.name,
        plan=plan,
        common=[
            cause
            for cause in common
            if not stations
            or concerns(cause.group if cause.group_kind == "station" else "", cause.explains)
        ],
        mend_first=[
            line
            for line in lines
            if line.level <= LAST_LEVEL_TO_MEND and concerns(line.station, line.explains)
        ],
        air=[one for one in air_bound(findings.table, site=site) if one.station in kept],
        checked=[one for one in checked if one.station in kept],
    )


def _stations(table: pd.DataFrame) -> dict[str, str]:
    """Return the station of each trap by its tag."""
    traps = table[text_of(table, "device") == "trap"]
    return dict(zip(text_of(traps, "tag"), text_of(traps, "station"), strict=True))


def _chosen(known: Sequence[str], asked: Sequence[str]) -> set[str]:
    if not known:
        raise UsageError(
            "At least one trap was expected in the round",
            found="none",
            do="give a round with traps",
        )
    by_case = {name.casefold(): name for name in known}
    asked = [name if name in known else by_case.get(name.casefold(), name) for name in asked]
    for name in asked:
        if name not in known:
            raise UsageError(
                "A station of the round was expected after --station",
                found=name[:80],
                do=f"give one of: {', '.join(n or '(none named)' for n in known)}",
            )
    return set(asked or known)
