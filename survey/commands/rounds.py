"""`survey rounds`: keep a round, list, show, compare, remove, back up."""

from __future__ import annotations

import sys
from datetime import date
from typing import TYPE_CHECKING

import click

from survey.errors import UnreadableFile
from survey.paths import NOT_PLAIN, is_file

if TYPE_CHECKING:
    from survey.findings import Findings
    from survey.rounds.store import KeptRound

_WIDTH = 80
_OF_FINDINGS = {"state", "confidence"}


def add(
    file: str,
    *,
    name: str,
    on: date | None,
    site: str | None,
    header_map: str | None,
    store: str | None,
) -> None:
    """Keep a round, judging it first where it is not judged yet.

    Raises
    ------
    SurveyError
        The file cannot be read, nothing in it can be judged, or the same round is kept already.
    """
    from survey.reports.words import counted, tidy
    from survey.rounds.answers import proposals
    from survey.rounds.content import says_when_read
    from survey.rounds.store import open_store

    findings = _findings(file, site=site, header_map=header_map)
    with open_store(store) as opened:
        others = {str(one.summary.get("site_name") or "") for one in opened.rounds()} - {""}
        kept = opened.add(findings, name=name, on=on, source=file)
        asked = len(proposals(opened))
        where = opened.database.where
    click.echo(f"Kept as {_called(kept)}, read on {kept.read_on}: "
               f"{counted(kept.devices, 'device')}, in {where}")  # fmt: skip
    if on is None and not says_when_read(findings):
        click.echo(
            "No row says when it was read, so the day it was judged stands in. To set it: survey "
            f"rounds remove {kept.number}, then add it again with --on DATE"
        )
    mine = findings.summary.get("site_name")
    if mine and others - {mine}:
        names = ", ".join(tidy(other, 60) for other in sorted(others - {mine})[:3])
        click.echo(
            f"This store also holds rounds of {names}. Comparisons and plans mix what is in one "
            "store: keep each site in one of its own (--store FILE, or SURVEY_HOME)."
        )
    if asked:
        click.echo(f"{counted(asked, 'question')} about tags or places that changed: "
                   "survey rounds match")  # fmt: skip


def list_all(*, store: str | None) -> None:
    """Print one line for each round, the oldest first."""
    from survey.commands.rounds_lines import round_lines
    from survey.rounds.home import is_there, store_address
    from survey.rounds.store import open_existing

    kept: list[KeptRound] = []
    # Who has named no store has merely kept nothing yet.
    if store or is_there(store_address()):
        with open_existing(store) as opened:
            kept = opened.rounds()
    if not kept:
        click.echo("No rounds are kept. Keep one with: survey rounds add FINDINGS")
        return
    for line in round_lines(kept):
        click.echo(line)


def show(round_: str, *, store: str | None) -> None:
    """Print a round as `survey analyze` printed it, and the notes of it."""
    from survey.reports.numerals import short_day
    from survey.reports.words import capital, tidy
    from survey.rounds.repairs import notes
    from survey.rounds.store import open_existing

    with open_existing(store) as opened:
        kept = opened.round(round_)
        findings = opened.findings(kept.number)
        said = notes(opened, round_number=kept.number)
    read, added = short_day(kept.read_on), short_day(kept.added_at.date())
    click.echo(f"{capital(_called(kept))}, read on {read}, "
               f"added {added} from {tidy(kept.source, 80) or 'no file'}")  # fmt: skip
    for one in said:
        click.echo(f"Note {one.number}: {tidy(one.words, 2000)}")
    click.echo()
    click.echo(_summary(findings, kept))


def compare(
    before: str, after: str, *, out: str | None, at: str, show_money: bool, store: str | None
) -> None:
    """Print two rounds compared, and write it where asked.

    Raises
    ------
    SurveyError
        There is no such round, they are one, or the file cannot be written.
    """
    from survey.reports.before_after import (
        before_after_suffix,
        before_after_text,
        write_before_after,
    )
    from survey.reports.words import path_told
    from survey.rounds.compare import compare_rounds
    from survey.rounds.store import open_existing

    if out is not None:
        before_after_suffix(out)  # before two rounds are read for nothing
    with open_existing(store) as opened:
        found = compare_rounds(opened, opened.round(before), opened.round(after), at=at)
    if out is not None:
        write_before_after(found, out, show_money=show_money)
    click.echo(before_after_text(found, show_money=show_money), nl=False)
    if out is not None:
        click.echo(f"\nComparison saved to {path_told(out)}")


def remove(round_: str, *, store: str | None) -> None:
    """Take a round out, and say what is gone."""
    from survey.rounds.store import open_existing

    with open_existing(store) as opened:
        gone = opened.remove(opened.round(round_).number)
    click.echo(f"Removed {_called(gone)}, read on {gone.read_on}.")


def export(file: str, *, round_: str | None, store: str | None) -> None:
    """Write a backup, or the findings of one round."""
    from survey.reports.words import counted, path_told
    from survey.rounds.backup import export_round, export_store
    from survey.rounds.store import open_existing

    with open_existing(store) as opened:
        if round_ is not None:
            export_round(opened, opened.round(round_), file)
            click.echo(f"Findings saved to {path_told(file)}")
        else:
            count = export_store(opened, file)
            click.echo(f"Backup of {counted(count, 'round')} saved to {path_told(file)}")


def restore(file: str, *, store: str | None) -> None:
    """Put a backup into an empty store."""
    from survey.reports.words import counted, path_told
    from survey.rounds.backup import check_is_there
    from survey.rounds.backup import restore as put_back
    from survey.rounds.store import open_store

    check_is_there(file)  # before a store is made for it
    with open_store(store) as opened:
        count = put_back(opened, file)
        click.echo(f"{counted(count, 'round')} put back into {path_told(opened.database.where)}")


def unit(words: str, *, store: str | None) -> None:
    """Print all that is kept of a unit."""
    from survey.commands.rounds_lines import history_lines
    from survey.reports.words import tidy
    from survey.rounds.store import open_existing
    from survey.rounds.units import find_unit, unit_history

    with open_existing(store) as opened:
        history = unit_history(opened, find_unit(opened, words).number)
    one = history.unit
    names = ", ".join(tidy(tag) for tag in one.tags[:-1])
    click.echo(f"Unit #{one.number}, {tidy(one.tag)}, {one.device.replace('_', ' ')}"
               f"{f' (was {names})' if names else ''}")  # fmt: skip
    for line in history_lines(history):
        click.echo(line)


def _called(kept: KeptRound) -> str:
    from survey.reports.words import tidy

    return f"round {kept.number}{f' ({tidy(kept.name, 200)})' if kept.name else ''}"


def _summary(findings: Findings, kept: KeptRound) -> str:
    from survey.reports.terminal import summary_text
    from survey.reports.words import counted

    if "states" not in findings.summary:  # it came from a .csv, which has no place for totals
        return f"{counted(kept.devices, 'device')} judged; its file held no summary."
    return summary_text(findings, width=_WIDTH, colour=sys.stdout.isatty())


def _findings(file: str, *, site: str | None, header_map: str | None) -> Findings:
    from survey.findings import Findings

    if site is not None or header_map is not None:
        return _judged(file, site=site, header_map=header_map)
    try:
        return Findings.load(file)
    except UnreadableFile as error:
        if not is_file(file):
            raise UnreadableFile(
                "A findings file or a round was expected", where=file,
                found=NOT_PLAIN if error.found == NOT_PLAIN else "no such file",
                do="check the name",
            ) from None  # fmt: skip
        judged = _judged(file, site=None, header_map=None)
        headers = {str(match["header"]) for match in judged.summary["headers"]}
        if headers >= _OF_FINDINGS:
            # Findings with a fault must not be taken for readings and judged anew.
            raise error from None
        return judged


def _judged(file: str, *, site: str | None, header_map: str | None) -> Findings:
    from survey.commands.progress import Progress
    from survey.pipeline import analyze
    from survey.readings.mapping import load_header_map
    from survey.site import Site

    settings = Site.from_toml(site) if site else Site()
    chosen = load_header_map(header_map) if header_map else None
    with Progress() as progress:
        return analyze(file, site=settings, header_map=chosen, progress=progress)
