"""The earlier round after --before, and what this user's own store knows of it."""

from __future__ import annotations

import contextlib
from pathlib import Path
from typing import TYPE_CHECKING, TypedDict

import click

if TYPE_CHECKING:
    from survey.findings import Findings
    from survey.rounds.known import Known

NOT_AT_HAND = (
    "Noted repairs are not in it: neither of the two rounds was found in your store of rounds. "
    "Keep both with: survey rounds add FINDINGS; note a repair with: survey rounds repair UNIT; "
    "then make it again."
)


class Earlier(TypedDict):
    """What `write_report` and `share` take of an earlier round."""

    before: Findings | None
    known: Known | None


def earlier(before: str | None, findings: Findings, *, after: str) -> Earlier:
    """Read the earlier round, and look both rounds up in the store where there is one.

    Parameters
    ----------
    before, after
        The two files; they name a round where nothing else does.

    Raises
    ------
    UnreadableFile
        The earlier round cannot be read.
    """
    if before is None:
        return {"before": None, "known": None}
    from survey.findings import Findings
    from survey.rounds.known import known_here

    found = Findings.load(before)
    names = (Path(before).stem, Path(after).stem)
    return {"before": found, "known": known_here(found, findings, names=names)}


def say_what_is_missing(its: Earlier) -> None:
    """Say on standard error that noted repairs could not be looked up, and how to give them."""
    known = its["known"]
    if known is not None and known.repairs is None:
        with contextlib.suppress(OSError):  # the report stands, whoever hears this
            click.echo(NOT_AT_HAND, err=True)
