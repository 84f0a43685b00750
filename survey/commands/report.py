"""`survey report`: findings as one file to e-mail."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import click

from survey.commands.earlier import earlier, say_what_is_missing
from survey.commands.places import check_own_files


def run(
    findings: str,
    *,
    out: str | None,
    areas: Sequence[str],
    show_money: bool,
    before: str | None = None,
    units: str = "us",
    locale: str = "en",
) -> None:
    """Write the report and say where.

    Raises
    ------
    SurveyError
        The findings cannot be read, or the report cannot be written.
    """
    from survey.findings import Findings
    from survey.reports.files import write_report
    from survey.reports.words import path_told

    place = Path(out) if out else Path(findings).with_suffix(".html")
    check_own_files(
        {"--out": str(place)},
        {"the findings file itself": [findings], "the findings after --before": [before]},
    )
    judged = Findings.load(findings)
    its = earlier(before, judged, after=findings)
    write_report(
        judged,
        place,
        areas=areas or None,
        show_money=show_money,
        **its,
        units=units,
        locale=locale,
    )
    click.echo(f"Report saved to {path_told(place)}")
    say_what_is_missing(its)
