"""How `share`, `shares`, `unshare` and `pages` are called; what they do is in `links`."""

from __future__ import annotations

import click

from survey.commands.options import (
    AREAS,
    BEFORE,
    FINDINGS,
    LOCALE,
    NO_MONEY,
    PAGES_PORT,
    UNITS,
    port_option,
)


@click.command()
@FINDINGS
@click.option(
    "--days",
    type=click.IntRange(1, 3650),
    default=30,
    show_default=True,
    help="How many days the link works.",
)
@click.option("--label", metavar="TEXT", help="What to call it in 'survey shares'.")
@AREAS
@NO_MONEY
@UNITS
@LOCALE
@BEFORE
@click.option(
    "--base-url",
    metavar="URL",
    help="The address by which the owner reaches this machine's pages, or the folder after --to.",
)
@click.option(
    "--to",
    metavar="FOLDER",
    help="Publish the page to this folder or object store (s3://bucket/pages) instead.",
)
def share(
    findings: str,
    days: int,
    label: str | None,
    areas: tuple[str, ...],
    no_money: bool,
    units: str,
    locale: str,
    before: str | None,
    base_url: str | None,
    to: str | None,
) -> None:
    """Make a link for the owner, and print it.

    Whoever has the link sees the findings, nothing else. It works while 'survey dashboard'
    runs on this machine, and only from places that can reach it; or, with --to, while the page
    lies in that folder. The page is frozen: later changes to the file do not show.
    """
    from survey.commands.links import make

    make(
        findings,
        days=days,
        label=label,
        areas=areas,
        show_money=not no_money,
        before=before,
        units=units,
        locale=locale,
        base_url=base_url,
        to=to,
    )


@click.command()
@click.option(
    "--end-expired",
    is_flag=True,
    help="List nothing; take the pages that have ended out of their folders. Fit for a timer.",
)
def shares(end_expired: bool) -> None:
    """List the links made on this machine."""
    from survey.commands import links

    if end_expired:
        links.end_expired()
    else:
        links.show()


@click.command()
@click.argument("link", metavar="LINK")
def unshare(link: str) -> None:
    """End a link at once.

    LINK is its number in 'survey shares', or its address.
    """
    from survey.commands.links import end

    end(link)


@click.command()
@port_option("--port", PAGES_PORT, "the owner's pages")
@click.option(
    "--host",
    default="127.0.0.1",
    show_default=True,
    help="Address to listen on; leave it where a web server with TLS stands in front.",
)
def pages(port: int, host: str) -> None:
    """Serve the owner's pages alone, without the screens.

    For a server that owners can reach: it answers the links made on that machine, and Ctrl-C
    ends it. How to put it behind nginx stands in deploy/README.md.
    """
    from survey.sharing import serve_pages

    serve_pages(host, port)
