"""Arguments and options that several commands take."""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import Any, TypeVar

import click

Decorated = TypeVar("Decorated", bound=Callable[..., Any])
PAGES_PORT = 8700

FINDINGS = click.argument("findings", metavar="FINDINGS")
AREAS = click.option(
    "--areas",
    multiple=True,
    metavar="AREA",
    help="Show this area only; repeat it for more than one.",
)
BEFORE = click.option(
    "--before",
    metavar="EARLIER",
    help="Findings of an earlier round: show what was mended since, and what that saved.",
)
NO_MONEY = click.option("--no-money", is_flag=True, help="Leave costs out.")
UNITS = click.option(
    "--units",
    type=click.Choice(["us", "si"]),
    default="us",
    show_default=True,
    help="Units to show figures in. A findings file keeps those of its columns.",
)
LOCALE = click.option(
    "--locale",
    metavar="LOCALE",
    default="en",
    show_default=True,
    help="Write numbers, dates and money as a country does: en_US, de_DE. The words stay.",
)


def in_manner(command: Callable[..., None]) -> Callable[..., None]:
    """Give a command --units and --locale and run it in that manner; it is handed neither.

    A locale that is not known is refused before the command does anything.
    """

    @functools.wraps(command)
    def run(*given: Any, units: str, locale: str, **named: Any) -> None:
        from survey.reports.manner import using

        with using(units=units, locale=locale):
            command(*given, **named)

    return UNITS(LOCALE(run))


def port_option(name: str, usual: int, of: str) -> Callable[[Decorated], Decorated]:
    """Return the option for a port that something answers on."""
    return click.option(
        name,
        type=click.IntRange(1, 65535),
        default=usual,
        show_default=True,
        help=f"Port of {of}.",
    )
