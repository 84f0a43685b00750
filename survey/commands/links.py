"""`survey share`, `shares` and `unshare`: the owner's links."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime

import click


def make(
    findings: str,
    *,
    days: int,
    label: str | None,
    areas: Sequence[str],
    show_money: bool,
    base_url: str | None,
) -> None:
    """Make a link; it alone goes to standard output, so that a script can take it."""
    from survey.findings import Findings
    from survey.reports.words import tidy
    from survey.sharing import share

    judged = Findings.load(findings)
    link = share(
        judged, days=days, label=label or judged.summary.get("site_name", ""),
        areas=areas or None, show_money=show_money, base_url=base_url,
    )
    click.echo(link.url)
    click.echo(
        f"Link {link.number} works until {_moment(link.expires_at)}. It is shown this once only. "
        f"To end it sooner: survey unshare {link.number}", err=True,
    )
    if link.warning:
        click.echo(tidy(link.warning, 2000), err=True)


def show() -> None:
    """Print one line for each link, the newest first."""
    from survey.reports.words import tidy
    from survey.sharing import list_links

    links = list_links()
    if not links:
        click.echo("No links have been made. Make one with: survey share FINDINGS")
        return
    click.echo(f"{'link':>4}  {'made':<20}  {'works until':<20}  {'now':<8}  label")
    for link in links:
        line = (
            f"{link.number:>4}  {_moment(link.made_at):<20}  {_moment(link.expires_at):<20}  "
            f"{link.standing:<8}  {tidy(link.label)}"
        )
        click.echo(line.rstrip())


def end(link: str) -> None:
    """End a link and say how it stands."""
    from survey.sharing import unshare

    ended = unshare(link)
    if ended.standing == "expired":
        click.echo(f"Link {ended.number} had already ended, on {_moment(ended.expires_at)}.")
    else:
        click.echo(f"Link {ended.number} has ended. Whoever opens it now finds nothing.")


def _moment(when: datetime) -> str:
    return when.astimezone(UTC).strftime("%Y-%m-%d %H:%M UTC")
