"""The command line of `survey next` and `survey route`: parse, and call `next_round`."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from survey.commands.options import in_manner
from survey.commands.ranges import FiniteRange
from survey.commands.rounds_commands import STORE

if TYPE_CHECKING:
    from datetime import datetime

SITE = click.option("--site", metavar="SITE.toml", help="The site's settings.")
ROUNDS = click.argument("findings", metavar="[FINDINGS]...", nargs=-1)
ON = click.option(
    "--on",
    type=click.DateTime(formats=["%Y-%m-%d"]),
    metavar="DAY",
    help="The day of the next round, as 2026-05-31. Default: half a year after the last one.",
)


@click.command("next")
@ROUNDS
@STORE
@SITE
@ON
@click.option(
    "--look-cost",
    type=FiniteRange(0.01, 100_000.0),
    default=12.0,
    show_default=True,
    metavar="MONEY",
    help="What it costs to read one trap.",
)
@click.option(
    "--visit-cost",
    type=FiniteRange(0.0, 1_000_000.0),
    default=0.0,
    show_default=True,
    metavar="MONEY",
    help="What each visit costs besides.",
)
@click.option("--out", metavar="PAPER", help="Save it: a name ending in .html or .txt.")
@in_manner
def next_command(
    findings: tuple[str, ...],
    store: str | None,
    site: str | None,
    on: datetime | None,
    look_cost: float,
    visit_cost: float,
    out: str | None,
) -> None:
    """Say when to survey again, and what fails next.

    FINDINGS are findings files, one for each round; without any, the rounds that are kept.
    The more rounds, the more it rests on this plant and the less on published shares.
    """
    from survey.commands.next_round import run_next

    run_next(
        findings, store=store, site=site, on=on, look_cost=look_cost, visit_cost=visit_cost,
        out=out,
    )  # fmt: skip


@click.command("route")
@ROUNDS
@STORE
@SITE
@ON
@click.option("--out", metavar="SHEET.html", help="Write a sheet to print.")
@click.option("--phone", metavar="PAGE.html", help="Write a page for the phone: needs no signal.")
@click.option("--csv", metavar="ROUND.csv", help="Write a round to fill in, readings blank.")
@click.option(
    "--areas",
    multiple=True,
    metavar="AREA",
    help="Walk this area only; repeat it for more than one.",
)
@click.option(
    "--only-reasons",
    is_flag=True,
    help="Leave out devices that worked, were read, and are no likelier to fail than most.",
)
@in_manner
def route_command(
    findings: tuple[str, ...],
    store: str | None,
    site: str | None,
    on: datetime | None,
    out: str | None,
    phone: str | None,
    csv: str | None,
    areas: tuple[str, ...],
    only_reasons: bool,
) -> None:
    """Plan the walk of the next round, and write its sheets.

    FINDINGS are findings files, one for each round; without any, the rounds that are kept.
    What was read on the phone comes back as a CSV for 'survey analyze'. That page and the CSV
    keep the units of a round's columns, °F and psig, whatever --units says.
    """
    from survey.commands.next_round import run_route

    run_route(
        findings, store=store, site=site, on=on, out=out, phone=phone, csv=csv, areas=areas,
        only_reasons=only_reasons,
    )  # fmt: skip
