"""`survey next` and `survey route`: when to look again, what fails next, and the sheets to take."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from typing import TYPE_CHECKING

import click

from survey.commands.places import check_own_files
from survey.errors import UsageError

if TYPE_CHECKING:
    from survey.rounds.ahead import Ahead
    from survey.rounds.series import Series
    from survey.site import Site


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
    from survey.reports.words import path_told
    from survey.rounds.interval import Effort

    check_own_files({"--out": out}, _read(findings, site))
    ahead, before = _ahead(findings, store, site, on)
    effort = Effort(per_trap=look_cost, per_visit=visit_cost)
    paper = NextRound(
        ahead.site_name, ahead.currency, [one for one, _ in ahead.series.rounds], before,
        ahead.known, ahead.odds(before), ahead.when(effort), effort,
    )  # fmt: skip
    if out is not None:
        write_next_round(paper, out)
    click.echo(next_round_text(paper), nl=False)
    if out is not None:
        click.echo(f"\nSaved to {path_told(out)}")


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
    from survey.reports.words import path_told

    check_own_files({"--out": out, "--phone": phone, "--csv": csv}, _read(findings, site))
    ahead, day = _ahead(findings, store, site, on)
    route = ahead.route(day, odds=ahead.odds(day), areas=areas, only_reasons=only_reasons)
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
            click.echo(f"{what}: {path_told(path)}")
    if not any((out, phone, csv)):
        click.echo("To take it along, run it again with --out sheet.html, --phone phone.html or "
                   "--csv round.csv.")  # fmt: skip


def _read(findings: Sequence[str], site: str | None) -> dict[str, Sequence[str | None]]:
    return {"a round": findings, "the file after --site": [site]}


def _ahead(
    findings: Sequence[str], store: str | None, site: str | None, on: datetime | None
) -> tuple[Ahead, date]:
    """Return what the next round is planned from, and its day."""
    from survey.rounds.ahead import Ahead, how_traps_fail

    series, settings = _series(findings, store), _site(site)
    day = _day(on, series)  # a day that will not do is told before the work
    return Ahead(series, settings, how_traps_fail(series)), day


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


def _day(on: datetime | None, series: Series) -> date:
    from survey.rounds.ahead import days_to_choose

    first, usual, furthest = days_to_choose(series)
    if on is None:
        return usual
    day, (last, _) = on.date(), series.latest
    if day < first:
        raise UsageError("A day after the last round was expected after --on",
                         found=f"{day.isoformat()}, and the last round is of "
                         f"{last.isoformat()}", do="give a later day")  # fmt: skip
    if day > furthest:
        raise UsageError("A day within ten years of the last round was expected after --on",
                         found=day.isoformat(),
                         do=f"give a day up to {furthest.isoformat()}")  # fmt: skip
    return day
