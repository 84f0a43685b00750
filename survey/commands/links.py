"""`survey share`, `shares` and `unshare`: the owner's links."""

from __future__ import annotations

import contextlib
from collections.abc import Sequence
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import click

from survey.commands.earlier import earlier, say_what_is_missing
from survey.commands.edge import nobody_sees_output
from survey.errors import OutputError, ShareError, SurveyError

if TYPE_CHECKING:
    from survey.sharing import Link, SharedLink

_FOLDER_WARNING = (
    "A folder cannot end a link by itself: after its day the page goes when the next share, "
    "shares or unshare command is run here. To be sure of the day, let a timer run: "
    "survey shares --end-expired"
)
_STANDING = {"open": "open", "expired": "expired", "revoked": "ended"}


def make(
    findings: str,
    *,
    days: int,
    label: str | None,
    areas: Sequence[str],
    show_money: bool,
    before: str | None,
    units: str,
    locale: str,
    base_url: str | None,
    to: str | None,
) -> None:
    """Make a link; it alone goes to standard output, so that a script can take it.

    Raises
    ------
    OutputError
        The link cannot be shown. No link is left that nobody has seen.
    SurveyError
        The findings cannot be read, or the link cannot be made.
    """
    from survey.findings import Findings
    from survey.sharing import share

    if nobody_sees_output():
        raise _not_shown("standard output is closed", "no link was made")
    judged = Findings.load(findings)
    its = earlier(before, judged, after=findings)
    link = share(
        judged,
        days=days,
        label=label or judged.summary.get("site_name", ""),
        areas=areas or None,
        show_money=show_money,
        **its,
        units=units,
        locale=locale,
        base_url=base_url,
        to=to,
    )
    _print_or_end(link)
    _note(
        f"Link {link.number} works until {_moment(link.expires_at)}. It is shown this once only. "
        f"To end it sooner: survey unshare {link.number}"
    )
    say_what_is_missing(its)
    for said in (link.warning, _FOLDER_WARNING if to is not None else ""):
        if said:
            _note(said)


def _print_or_end(link: SharedLink) -> None:
    """Print the link; where that fails, end it again, since nobody has seen it."""
    from survey.sharing import unshare

    try:
        click.echo(link.url)
    except OSError as error:
        ended = unshare(link.number)
        left = f", but its page is still in {ended.folder}" if ended.still_there else ""
        raise _not_shown(
            error.strerror or str(error), f"link {link.number} was ended again{left}"
        ) from None


def _not_shown(found: str, stands: str) -> OutputError:
    return OutputError(
        "Standard output that shows the link was expected",
        found=f"{found}; {stands}",
        do="let it be printed to a terminal, a file or a program that reads it, and share again",
    )


def _note(said: str) -> None:
    from survey.reports.words import tidy

    with contextlib.suppress(OSError):  # the link was shown: that it stands is what counts
        click.echo(tidy(said, 2000), err=True)


def show() -> None:
    """Print one line for each link, the newest first; take ended pages out of their folders."""
    from survey.reports.words import tidy
    from survey.sharing import list_links, take_away_ended

    _, problems = take_away_ended()
    links = list_links()
    if not links:
        click.echo("No links have been made. Make one with: survey share FINDINGS")
        return
    click.echo(f"{'link':>4}  {'made':<20}  {'works until':<20}  {'now':<8}  label")
    for link in links:
        line = (
            f"{link.number:>4}  {_moment(link.made_at):<20}  {_moment(link.expires_at):<20}  "
            f"{_STANDING[link.standing]:<8}  {tidy(link.label)}  {tidy(_where(link), 300)}"
        )
        click.echo(line.rstrip())
    for problem in problems:
        _tell(problem)


def end_expired() -> None:
    """Take ended pages out of their folders and say which; fit for a timer.

    Raises
    ------
    SurveyError
        A page is still in its folder: the first that could not be taken out.
    """
    from survey.sharing import take_away_ended

    gone, problems = take_away_ended()
    for number in gone:
        click.echo(f"Link {number} has ended; its page was taken out of its folder.")
    for problem in problems[1:]:
        _tell(problem)
    if problems:
        raise problems[0]


def end(link: str) -> None:
    """End a link and say how it stands."""
    from survey.sharing import list_links, unshare

    stood = {known.number: known.standing for known in list_links()}
    ended = unshare(link)
    if ended.still_there:
        raise ShareError(
            "An ended link's page was expected to be gone from its folder",
            found="it could not be taken out", where=ended.folder,
            do="see that the folder can be reached and written, then: survey shares --end-expired",
        )
    if stood.get(ended.number) == "revoked":
        click.echo(f"Link {ended.number} had ended already.")
    elif ended.standing == "expired":
        click.echo(f"Link {ended.number} had ended already, on {_moment(ended.expires_at)}.")
    else:
        click.echo(f"Link {ended.number} has ended. Whoever opens it now finds nothing.")


def _tell(problem: SurveyError) -> None:
    from survey.reports.words import tidy

    click.echo(f"survey: {tidy(problem.paragraph(), 2000)}", err=True)


def _where(link: Link) -> str:
    if not link.folder:
        return ""
    return f"(still in {link.folder}!)" if link.still_there else f"(in {link.folder})"


def _moment(when: datetime) -> str:
    return when.astimezone(UTC).strftime("%Y-%m-%d %H:%M UTC")
