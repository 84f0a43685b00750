"""How `survey rounds` and its commands are called; what they do is in `rounds`."""

from __future__ import annotations

from datetime import date, datetime

import click

from survey.commands.options import NO_MONEY, in_manner
from survey.commands.ranges import FiniteRange

STORE = click.option(
    "--store",
    metavar="URL",
    help="Where the rounds are kept: a file, or postgresql://USER@HOST/DATABASE. Default: "
    "SURVEY_STORE, else a file in your data folder.",
)
DAY = click.DateTime(["%Y-%m-%d"])
ROUND = click.argument("round_", metavar="ROUND")


@click.group(invoke_without_command=True)
@click.pass_context
def rounds(context: click.Context) -> None:
    """Keep rounds, and compare two of them.

    ROUND is a name, a number or 'latest'. UNIT is a tag, or a unit's number as #12.
    """
    if context.invoked_subcommand is None:
        click.echo(context.get_help(), err=True)
        context.exit(2)


@rounds.command()
@click.argument("file", metavar="FINDINGS_OR_ROUND")
@click.option("--name", default="", metavar="TEXT", help="What to call it.")
@click.option("--on", type=DAY, metavar="DATE",
              help="The day it was read, YYYY-MM-DD. Default: what its readings say.")  # fmt: skip
@click.option("--site", metavar="SITE.toml", help="The site's settings, for a round not judged.")
@click.option("--map", "header_map", metavar="MAP.toml",
              help="Which header is which column, for a round not judged.")  # fmt: skip
@STORE
def add(
    file: str,
    name: str,
    on: datetime | None,
    site: str | None,
    header_map: str | None,
    store: str | None,
) -> None:
    """Keep a round: its findings, or the round itself, which is judged first.

    The same readings are kept once only, whatever the file is called.
    """
    from survey.commands import rounds as act

    act.add(file, name=name, on=_day(on), site=site, header_map=header_map, store=store)


@rounds.command("list")
@in_manner
@STORE
def list_(store: str | None) -> None:
    """List the rounds, the oldest first."""
    from survey.commands import rounds as act

    act.list_all(store=store)


@rounds.command()
@ROUND
@in_manner
@STORE
def show(round_: str, store: str | None) -> None:
    """Print a round as it was judged, with the notes of it."""
    from survey.commands import rounds as act

    act.show(round_, store=store)


@rounds.command()
@click.argument("before", metavar="BEFORE")
@click.argument("after", metavar="AFTER")
@click.option("--out", metavar="FILE",
              help="Save it: a name ending in .html, .pdf, .txt or .json.")  # fmt: skip
@click.option(
    "--at",
    type=click.Choice(["after", "before"]),
    default="after",
    show_default=True,
    help="The round whose hours, pressure and price both are brought to.",
)
@NO_MONEY
@in_manner
@STORE
def compare(
    before: str, after: str, out: str | None, at: str, no_money: bool, store: str | None
) -> None:
    """Compare two rounds: what was mended, what failed, what was saved and how sure that is."""
    from survey.commands import rounds as act

    act.compare(before, after, out=out, at=at, show_money=not no_money, store=store)


@rounds.command()
@ROUND
@STORE
def remove(round_: str, store: str | None) -> None:
    """Take a round out of the store, with the notes of it."""
    from survey.commands import rounds as act

    act.remove(round_, store=store)


@rounds.command()
@click.argument("file", metavar="FILE")
@click.option("--round", "round_", metavar="ROUND",
              help="Only this round's findings: .parquet, .csv or .xlsx.")  # fmt: skip
@STORE
def export(file: str, round_: str | None, store: str | None) -> None:
    """Write everything that is kept into one file, as a backup (.sqlite)."""
    from survey.commands import rounds as act

    act.export(file, round_=round_, store=store)


@rounds.command()
@click.argument("file", metavar="FILE")
@STORE
def restore(file: str, store: str | None) -> None:
    """Put a backup into a store that is empty."""
    from survey.commands import rounds as act

    act.restore(file, store=store)


@rounds.command()
@click.argument("unit", metavar="UNIT")
@in_manner
@STORE
def unit(unit: str, store: str | None) -> None:
    """Print a unit's history: every round, repair and note."""
    from survey.commands import rounds as act

    act.unit(unit, store=store)


@rounds.command()
@click.argument("unit", metavar="UNIT")
@click.option("--on", type=DAY, metavar="DATE",
              help="The day it was done, YYYY-MM-DD. Default: today.")  # fmt: skip
@click.option("--what", default="", metavar="TEXT", help="What was done.")
@click.option("--cost", type=FiniteRange(0.0, 1e9), metavar="MONEY", help="Parts and labour.")
@click.option("--remove", is_flag=True, help="UNIT is the number of a repair: take it out again.")
@STORE
def repair(
    unit: str,
    on: datetime | None,
    what: str,
    cost: float | None,
    remove: bool,
    store: str | None,
) -> None:
    """Note that a unit was repaired."""
    from survey.commands import rounds_notes as act

    if remove:
        act.remove_repair(unit, store=store)
    else:
        act.repair(unit, on=_day(on) or date.today(), what=what, cost=cost, store=store)


@rounds.command()
@click.argument("words", metavar="WORDS")
@click.option("--unit", metavar="UNIT", help="It is about this unit.")
@click.option("--round", "round_", metavar="ROUND", help="It is about this round.")
@click.option("--remove", is_flag=True, help="WORDS is the number of a note: take it out again.")
@STORE
def note(
    words: str, unit: str | None, round_: str | None, remove: bool, store: str | None
) -> None:
    """Keep words about a unit, a round or the site."""
    from survey.commands import rounds_notes as act

    if remove:
        act.remove_note(words, store=store)
    else:
        act.note(words, unit=unit, round_=round_, store=store)


@rounds.command()
@click.option("--yes", "accepted", multiple=True, metavar="QUESTION",
              help="Answer yes to this question, 12=31 say; repeat it for more.")  # fmt: skip
@click.option("--no", "refused", multiple=True, metavar="QUESTION",
              help="Answer no to this question; repeat it for more.")  # fmt: skip
@click.option("--out", metavar="FILE.csv", help="Save the questions here, to be answered there.")
@click.option("--answers", metavar="FILE.csv", help="Take the answers of such a file.")
@STORE
def match(
    accepted: tuple[str, ...],
    refused: tuple[str, ...],
    out: str | None,
    answers: str | None,
    store: str | None,
) -> None:
    """Ask which units may be one under two tags, or may have moved; carry out what you answer.

    Nothing is joined or parted by itself. An answer can be given anew the other way.
    """
    from survey.commands import rounds_notes as act

    act.match(accepted=accepted, refused=refused, out=out, answers=answers, store=store)


def _day(moment: datetime | None) -> date | None:
    return None if moment is None else moment.date()
