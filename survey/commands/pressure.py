"""`survey pressure`: what each unit needs, the way down, and whether a step has held."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import click

from survey.commands.places import check_own_files
from survey.commands.progress import Progress

if TYPE_CHECKING:
    from survey.findings import Findings
    from survey.site import Site


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
    from survey.reports.plan import plan_suffix, plan_text, write_plan
    from survey.reports.plan_paper import make_paper
    from survey.reports.terminal import NOTICED
    from survey.reports.words import path_told
    from survey.site import Site

    if out is not None:
        plan_suffix(out)  # told before the work, not after it
    check_own_files(
        {"--out": out},
        {"the round itself": rounds, "the round after --after": [after],
         "the file after --site": [site], "the file after --map": [header_map]},
    )  # fmt: skip
    settings = Site.from_toml(site) if site else Site()
    before = _judged(list(rounds), settings, header_map)
    later = _judged([after], settings, header_map) if after else None
    wishes = Wishes(to_psig, spare_share=spare_percent / 100.0, wait_hours=wait_hours)
    paper = make_paper(
        before if later is None else later,
        site=settings,
        wishes=wishes,
        stations=stations,
        before=None if later is None else before,
    )
    if out is not None:
        write_plan(paper, out)
    click.echo(plan_text(paper), nl=False)
    click.echo()
    _echo_notes(before)
    if later is not None:
        _echo_notes(later, heading=f"{NOTICED} the round after the step")
    click.echo(f"Plan saved to {path_told(out)}" if out else "To take it along, run it again "
               "with --out plan.html (or a name ending in .pdf, .txt or .json).")  # fmt: skip


def _echo_notes(findings: Findings, **heading: str) -> None:
    from survey.plant.units import PLAN_COLUMNS, extra_column
    from survey.reports.plan import TEXT_WIDTH
    from survey.reports.terminal import notes_text

    # `analyze` has no use for two columns that a plan reads.
    used = [extra_column(findings.table, name) for name in PLAN_COLUMNS]
    said = notes_text(findings, used=used, width=TEXT_WIDTH, **heading)
    if said:
        click.echo(f"{said}\n")


def _judged(rounds: list[str], site: Site, header_map: str | None) -> Findings:
    from survey.pipeline import analyze
    from survey.readings.mapping import load_header_map

    chosen = load_header_map(header_map) if header_map else None
    with Progress() as progress:
        return analyze(list(rounds), site=site, header_map=chosen, progress=progress)

