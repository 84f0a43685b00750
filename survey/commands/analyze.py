"""`survey analyze`: judge a round, save what was asked for, print the summary."""

from __future__ import annotations

import json
import os
import shutil
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from survey.commands.places import check_own_files, place
from survey.commands.progress import Progress
from survey.errors import NothingToJudge, OutputError, UsageError
from survey.paths import is_file, is_folder

if TYPE_CHECKING:
    from survey.findings import Findings
    from survey.site import Site

LARGE_BYTES = 1_000_000
"""A Parquet file under this holds no round that is worth judging in batches."""
FINDINGS_SUFFIXES = (".parquet", ".csv", ".xlsx")
_UNSAVED = (
    "Nothing was saved. To keep the findings, run it again with --out findings.parquet "
    "(or a name ending in .csv or .xlsx)."
)


def run(
    rounds: Sequence[str],
    *,
    site: str | None,
    header_map: str | None,
    out: str | None,
    rejects: str | None,
    summary: str | None,
    cluster: str | None = None,
) -> None:
    """Judge the round; files are written before anything is printed.

    Raises
    ------
    NothingToJudge
        No row could be judged. The rejects and the summary are written all the same.
    SurveyError
        Any file cannot be read or written.
    """
    _check_cluster(cluster, out)
    rounds = _files(rounds, out)
    _check_suffix(out)
    check_own_files(
        {"--out": out, "--rejects": rejects or _rejects_beside(out), "--summary": summary},
        {"the round itself": rounds, "the file after --site": [site],
         "the file after --map": [header_map]},
    )  # fmt: skip
    findings, written = _judge(
        rounds, site=site, header_map=header_map, out=out, cluster=cluster
    )
    saved = _save(findings, out=out, written=written, rejects=rejects, summary=summary)
    if not findings.summary["rows_judged"]:
        raise _nothing(findings, rounds, saved)
    _show(findings)
    click.echo()
    for line in saved or [_UNSAVED]:
        click.echo(line)


def _check_cluster(cluster: str | None, out: str | None) -> None:
    if cluster is not None and (out is None or Path(out).suffix.lower() != ".parquet"):
        raise UsageError(
            "A name ending in .parquet was expected after --out, to judge on a cluster",
            found=out or "no --out",
            do="add --out findings.parquet, or leave --cluster out",
        )


def _files(rounds: Sequence[str], out: str | None) -> list[str]:
    """Return the files of the round, those of folders among them."""
    folders = [Path(name) for name in rounds if is_folder(name)]
    if not folders:
        return list(rounds)
    if out is not None and Path(place(out)).parent in [Path(place(one)) for one in folders]:
        raise UsageError(
            "A folder of its own was expected for the findings",
            found=f"{out} after --out, in a folder that is read as a round",
            do="save the findings elsewhere, or they would be read as a part of it",
        )
    from survey.readings.folders import files_of

    return [str(path) for path in files_of(rounds)]


def _judge(
    rounds: Sequence[str],
    *,
    site: str | None,
    header_map: str | None,
    out: str | None,
    cluster: str | None,
) -> tuple[Findings, bool]:
    """Judge the round; return its findings and whether they stand in ``out`` already."""
    from survey.readings.mapping import load_header_map
    from survey.site import Site

    settings = Site.from_toml(site) if site else Site()
    chosen = load_header_map(header_map) if header_map else None
    with Progress() as progress:
        if out is not None and (cluster is not None or _may_be_large(rounds, out)):
            from survey.streaming.analyzing import analyze_to_file

            streamed = analyze_to_file(
                rounds, Path(out), site=settings, header_map=chosen, progress=progress,
                cluster=cluster,
            )
            if streamed is not None:
                return streamed, True
        return _judge_whole(rounds, settings, chosen, progress), False


def _may_be_large(rounds: Sequence[str], out: str) -> bool:
    # Told by size alone: a small round has no use for the modules that judge in batches.
    large = sum(Path(name).stat().st_size for name in rounds if is_file(name))
    return large > LARGE_BYTES and Path(out).suffix.lower() == ".parquet"


def _judge_whole(
    rounds: Sequence[str], site: Site, header_map: dict[str, str] | None, progress: Progress
) -> Findings:
    from survey.pipeline import analyze

    try:
        return analyze(list(rounds), site=site, header_map=header_map, progress=progress)
    except NothingToJudge as error:
        if error.findings is None:
            raise
        aside: Findings = error.findings  # its rows and their reasons can still be saved
        return aside


def _check_suffix(out: str | None) -> None:
    # Told before the work, not after it.
    if out is not None and Path(out).suffix.lower() not in FINDINGS_SUFFIXES:
        raise OutputError(
            "A findings file ends in .parquet, .csv or .xlsx", found=Path(out).name,
            do="give --out a name with one of these endings",
        )


def _save(
    findings: Findings,
    *,
    out: str | None,
    written: bool,
    rejects: str | None,
    summary: str | None,
) -> list[str]:
    """Write what was asked for; return a line about each file."""
    from survey.reports.words import path_told
    from survey.writing import replacing, write_csv

    lines = []
    judged = bool(findings.summary["rows_judged"])
    if out is not None and judged:
        if not written:
            findings.save(out)
        lines.append(f"Findings saved to {path_told(out)}")
    if rejects is None and out is not None and len(findings.rejects):
        rejects = _rejects_beside(out)
    if rejects is not None:
        write_csv(findings.rejects, rejects)
        lines.append(f"Rows set aside saved to {path_told(rejects)}")
    if summary is not None:
        with replacing(Path(summary)) as temporary:
            temporary.write_text(json.dumps(findings.summary, indent=2, allow_nan=False) + "\n",
                                 encoding="utf-8")
        lines.append(f"Summary saved to {path_told(summary)}")
    return lines


def _rejects_beside(out: str | None) -> str | None:
    """Return where rows set aside go if nobody says where: beside the findings."""
    if out is None:
        return None
    path = Path(out)
    return str(path.with_name(f"{path.stem}-rejects.csv"))


def _nothing(findings: Findings, rounds: Sequence[str], saved: Sequence[str]) -> NothingToJudge:
    read = findings.summary["rows_read"]
    reasons = findings.rejects["reason"].mode() if len(findings.rejects) else ()
    commonest = next(iter(reasons), "no row under the header")
    kept = f"; {saved[0][0].lower()}{saved[0][1:]}" if saved else "; add --rejects to keep them"
    return NothingToJudge(
        "At least one row with a tag and a reading was expected",
        found=f"{read:,} {'row' if read == 1 else 'rows'}, none of them usable; "
              f"most often: {commonest}",
        where=", ".join(rounds),
        do=f"correct the rows, or say with --map what the columns are{kept}",
    )


def _show(findings: Findings) -> None:
    from survey.reports.terminal import summary_text

    terminal = sys.stdout.isatty()
    width = shutil.get_terminal_size().columns if terminal else 80
    colour = terminal and not os.environ.get("NO_COLOR")
    click.echo(summary_text(findings, width=width, colour=colour))
