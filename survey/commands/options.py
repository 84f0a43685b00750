"""Arguments and options that several commands take."""

from __future__ import annotations

import click

FINDINGS = click.argument("findings", metavar="FINDINGS")
AREAS = click.option(
    "--areas",
    multiple=True,
    metavar="AREA",
    help="Show this area only; repeat it for more than one.",
)
NO_MONEY = click.option("--no-money", is_flag=True, help="Leave costs out.")
