"""The command line: parse, call one library function, print.

Only click is loaded here. What a command needs is imported when that command runs, so that
``survey --help`` answers at once.
"""

from __future__ import annotations

import gc

import click

from survey import __version__
from survey.commands import link_commands, looking_ahead, rounds_commands
from survey.commands.edge import Edge
from survey.commands.options import (
    AREAS,
    BEFORE,
    FINDINGS,
    LOCALE,
    NO_MONEY,
    PAGES_PORT,
    UNITS,
    in_manner,
    port_option,
)
from survey.commands.ranges import FiniteRange

_HELP = {"help_option_names": ["-h", "--help"], "max_content_width": 96}


@click.group(
    "survey",
    cls=Edge,
    context_settings=_HELP,
    invoke_without_command=True,
    epilog=("Start with: survey analyze ROUND.csv --out findings.parquet"),
)
@click.version_option(__version__, message="survey %(version)s")
@click.pass_context
def main(context: click.Context) -> None:
    """Turn a steam trap survey round into findings, costs and a link for the owner.

    Each command has its own --help.
    """
    if context.invoked_subcommand is None:
        click.echo(context.get_help(), err=True)
        context.exit(2)


_map_option = click.option(
    "--map",
    "header_map",
    metavar="MAP.toml",
    help="Which of your headers is which column, where the names do not tell.",
)


@main.command()
@click.argument("rounds", metavar="ROUND...", nargs=-1, required=True)
@click.option(
    "--site",
    metavar="SITE.toml",
    help="The site's settings: altitude, fuel and its price, hours, stations.",
)
@_map_option
@click.option(
    "--out",
    metavar="FINDINGS",
    help="Save the findings here: a name ending in .parquet, .csv or .xlsx.",
)
@click.option(
    "--rejects",
    metavar="FILE.csv",
    help="Save the rows set aside here, whole, each with its reason. "
    "Default: beside --out, where any row was set aside.",
)
@click.option("--summary", metavar="FILE.json", help="Save the totals here, for scripts.")
@click.option(
    "--cluster",
    metavar="ADDRESS",
    help="Judge a round of Parquet files on a Dask cluster: tcp://HOST:PORT, or local.",
)
@in_manner
def analyze(
    rounds: tuple[str, ...],
    site: str | None,
    header_map: str | None,
    out: str | None,
    rejects: str | None,
    summary: str | None,
    cluster: str | None,
) -> None:
    """Judge a round: what failed, why, what it costs.

    ROUND is a .csv, .xlsx or .parquet file with one row per device, or a folder of .parquet
    files; several are read as one round. Prints a summary, the costliest faults first. Exit
    code 1: nothing in the round could be judged.
    """
    from survey.commands.analyze import run

    run(
        rounds, site=site, header_map=header_map, out=out, rejects=rejects, summary=summary,
        cluster=cluster,
    )


@main.command()
@click.argument("rounds", metavar="ROUND...", nargs=-1, required=True)
@click.option(
    "--to",
    "to_psig",
    metavar="PSI",
    type=FiniteRange(-10.0, 3000.0),
    required=True,
    help="The pressure wanted, psig, whatever --units says.",
)
@click.option("--site", metavar="SITE.toml", help="The site's settings.")
@_map_option
@click.option(
    "--station",
    "stations",
    multiple=True,
    metavar="NAME",
    help="Plan this station only; repeat it for more than one.",
)
@click.option(
    "--spare",
    "spare_percent",
    type=FiniteRange(0.0, 90.0),
    default=20.0,
    show_default=True,
    metavar="PERCENT",
    help="How much of today's heat a heater can do without on the coldest day.",
)
@click.option(
    "--wait",
    "wait_hours",
    type=FiniteRange(1.0, 1000.0),
    default=24.0,
    show_default=True,
    metavar="HOURS",
    help="How long to wait after each step.",
)
@click.option(
    "--out", metavar="PLAN", help="Save the plan: a name ending in .html, .pdf, .txt or .json."
)
@click.option(
    "--after",
    metavar="ROUND2",
    help="A round read after a step: which units held, which flooded, and whether to go on.",
)
@in_manner
def pressure(
    rounds: tuple[str, ...],
    to_psig: float,
    site: str | None,
    header_map: str | None,
    stations: tuple[str, ...],
    spare_percent: float,
    wait_hours: float,
    out: str | None,
    after: str | None,
) -> None:
    """Plan how to bring a steam pressure down again.

    For each station: the lowest pressure at which every unit still heats, drains, and passes
    its condensate; which unit binds and what would free it; steps with readings to expect and
    units to watch; what it saves. A unit that lacks a lift is named, never assumed.
    """
    from survey.commands.pressure import run

    run(
        rounds,
        site=site,
        header_map=header_map,
        to_psig=to_psig,
        stations=stations,
        spare_percent=spare_percent,
        wait_hours=wait_hours,
        out=out,
        after=after,
    )


@main.command()
@FINDINGS
@click.option(
    "--out",
    metavar="REPORT",
    help="Where to write: a name ending in .html, .pdf or .xlsx. "
    "Default: beside the findings, ending in .html.",
)
@AREAS
@NO_MONEY
@UNITS
@LOCALE
@BEFORE
def report(
    findings: str,
    out: str | None,
    areas: tuple[str, ...],
    no_money: bool,
    units: str,
    locale: str,
    before: str | None,
) -> None:
    """Write findings as one file to e-mail.

    The report is complete in itself: it needs no link, no script and no other file.
    """
    from survey.commands.report import run

    run(
        findings,
        out=out,
        areas=areas,
        show_money=not no_money,
        before=before,
        units=units,
        locale=locale,
    )


for _command in (
    link_commands.share, link_commands.shares, link_commands.unshare, link_commands.pages
):
    main.add_command(_command)


@main.command()
@port_option("--port", 8501, "the technician's screens")
@port_option("--pages-port", PAGES_PORT, "the owner's pages")
@click.option(
    "--host",
    default="127.0.0.1",
    show_default=True,
    help="Address that the owner's pages listen on; 0.0.0.0 opens them to others.",
)
def dashboard(port: int, pages_port: int, host: str) -> None:
    """Open the screens, and serve the owner's pages.

    The technician's screens are for this machine only. The owner's pages have a port of
    their own. Both addresses are printed; Ctrl-C ends both.
    """
    from survey.dashboard.launch import launch

    launch(host=host, port=port, pages_port=pages_port, say=click.echo)


main.add_command(rounds_commands.rounds)
main.add_command(looking_ahead.next_command)
main.add_command(looking_ahead.route_command)

_SEARCH_AFTER = (50_000, 20, 100)
"""For `gc.set_threshold`: memory is searched for cycles a seventieth as often as usual."""


def program() -> None:
    """Run as a process of its own, which need not tidy up what the system takes back whole.

    Looking for cycles among all that the imports leave, as they load and once more at the end,
    takes a fifth of the time of a small round.
    """
    gc.set_threshold(*_SEARCH_AFTER)
    try:
        main()
    finally:
        gc.freeze()


if __name__ == "__main__":
    program()
