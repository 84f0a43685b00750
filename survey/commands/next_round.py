"""`survey next` and `survey route`: when to look again, what fails next, and the sheets to take."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from survey.errors import UsageError

if TYPE_CHECKING:
    from survey.rounds.series import Series
    from survey.site import Site

AHEAD = timedelta(days=182)
"""How far ahead is looked where no day is given: half a year after the last round."""

FURTHEST_AHEAD = timedelta(days=3653)
"""Ten years: past that, hardly a trap is still the one that was read."""


def run_next(
    findings: Sequence[str], *, store: str | None, site: str | None, on: datetime | None,
    look_cost: float, visit_cost: float, out: str | None,
) -> None:  # fmt: skip
    """Say when to survey again and what fails next.

    Raises
    ------
    SurveyError
        A file cannot be read or written, or there is no round.
    """
    from survey.reports.next_round import NextRound, next_round_text, write_next_round
    from survey.rounds.interval import Effort, intervals
    from survey.rounds.reliability import fails_next, reliability

    _own_files(findings, [out])
    series, settings = _series(findings, store), _site(site)
    day, table = series.latest
    before = _day(on, day)
    result = reliability(series.rounds, repairs=series.repairs)
    effort = Effort(per_trap=look_cost, per_visit=visit_cost)
    paper = NextRound(
        _site_name(settings, series), _currency(settings, series),
        [one for one, _ in series.rounds], before, result, fails_next(result, before=before),
        intervals(table, result, hours_per_year=settings.hours_per_year, effort=effort), effort,
    )  # fmt: skip
    if out is not None:
        write_next_round(paper, out)
    click.echo(next_round_text(paper), nl=False)
    if out is not None:
        click.echo(f"\nSaved to {out}")


def run_route(
    findings: Sequence[str], *, store: str | None, site: str | None, on: datetime | None,
    out: str | None, phone: str | None, csv: str | None, areas: Sequence[str], only_reasons: bool,
) -> None:  # fmt: skip
    """Plan the next round and write its sheets.

    Raises
    ------
    SurveyError
        A file cannot be read or written, there is no round, or no device is left.
    """
    from survey.reports import route_sheet
    from survey.rounds.reliability import fails_next, reliability
    from survey.rounds.route import plan_route

    _own_files(findings, [out, phone, csv])
    series, settings = _series(findings, store), _site(site)
    day, _ = series.latest
    before = _day(on, day)
    odds = fails_next(reliability(series.rounds, repairs=series.repairs), before=before)
    route = plan_route(
        series.rounds, site=settings.model_copy(update={"name": _site_name(settings, series)}),
        on=before, odds=odds, set_aside=series.set_aside, areas=areas, only_reasons=only_reasons,
    )  # fmt: skip
    if not route.stops:
        raise UsageError("At least one device was expected on the route", found="none",
                         do="leave out --areas or --only-reasons")  # fmt: skip
    written = [
        (out, route_sheet.write_sheet, "Sheet to print"),
        (phone, route_sheet.write_phone_page, "Page for the phone"),
        (csv, route_sheet.write_route_csv, "Round to fill in"),
    ]
    for path, write, _ in written:
        if path is not None:
            write(route, path)
    click.echo(route_sheet.route_text(route), nl=False)
    for path, _, what in written:
        if path is not None:
            click.echo(f"{what}: {path}")
    if not any((out, phone, csv)):
        click.echo("To take it along, run it again with --out sheet.html, --phone phone.html or "
                   "--csv round.csv.")  # fmt: skip


def _series(findings: Sequence[str], store: str | None) -> Series:
    from survey.findings import Findings
    from survey.rounds.series import series_in_store, series_of

    if not findings:
        return series_in_store(store)
    if store:
        raise UsageError("Either findings files or a store was expected", found="both",
                         do="leave out one of the two")  # fmt: skip
    return series_of([Findings.load(one) for one in findings])


def _site(path: str | None) -> Site:
    from survey.site import Site

    return Site.from_toml(path) if path else Site()


def _site_name(site: Site, series: Series) -> str:
    return site.name or str(series.summary.get("site_name") or "")


def _currency(site: Site, series: Series) -> str:
    # Costs are in the currency that they were judged in, whatever the settings say now.
    found: Any = series.summary.get("currency")
    return str(found or site.currency)


def _day(on: datetime | None, last: date) -> date:
    if on is None:
        return last + AHEAD
    if on.date() <= last:
        raise UsageError("A day after the last round was expected after --on",
                         found=f"{on.date().isoformat()}, and the last round is of "
                         f"{last.isoformat()}", do="give a later day")  # fmt: skip
    furthest = last + FURTHEST_AHEAD
    if on.date() > furthest:
        raise UsageError("A day within ten years of the last round was expected after --on",
                         found=on.date().isoformat(),
                         do=f"give a day up to {furthest.isoformat()}")  # fmt: skip
    return on.date()


def _own_files(findings: Sequence[str], written: Sequence[str | None]) -> None:
    """Refuse to write over a round, or two sheets to one file; raises UsageError."""
    taken = {Path(one).resolve() for one in findings}
    for path in written:
        if path is None:
            continue
        if Path(path).resolve() in taken:
            raise UsageError("A file of its own was expected for each paper", found=path,
                             do="give it another name")  # fmt: skip
        taken.add(Path(path).resolve())
