"""The owner's paper as a PDF: tagged, PDF/UA-1, the same bytes for the same findings.

Typst sets it from `paper.typ`. The words of the round go in as JSON and are never read as
markup; pictures go in as SVG. The fonts that typst brings along are used; only where they lack a
letter do those of this machine help out, see `letters`.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from functools import cache
from importlib import resources
from typing import Any

from survey.findings import Findings
from survey.reports import letters
from survey.reports.narrowing import narrowed
from survey.reports.paper import content
from survey.reports.paper_words import SAY
from survey.reports.words import counted

_NO_TIME = 0
_TRIES = 8


def render_pdf(
    findings: Findings, *, areas: Sequence[str] | None = None, show_money: bool = True
) -> bytes:
    """Return the owner's paper as a PDF.

    Parameters
    ----------
    findings
        The judged round.
    areas
        Show only these areas; None shows all. Nothing of the others is in the paper.
    show_money
        False shows steam lost and never a price or a cost.

    Returns
    -------
    bytes
        A tagged PDF/UA-1. A letter that no font here has stands as its number, and the paper
        says so.

    Raises
    ------
    UsageError
        An area is not in the findings.
    """
    data = content(narrowed(findings, areas), show_money=show_money)
    return _typeset(data)


@cache
def _source() -> str:
    return resources.files("survey.reports").joinpath("paper.typ").read_text("utf-8")


def _typeset(data: dict[str, Any]) -> bytes:
    """Set the paper; a cluster of letters that is found to have no shape now is named as well."""
    import typst

    said = letters.shown(json.dumps(data, ensure_ascii=False))
    missing = said.missing
    for _ in range(_TRIES):
        try:
            return _compiled(_said(data, missing), machine_fonts=said.machine_fonts)
        except typst.TypstError as error:
            more = letters.not_shown(error.diagnostic) - missing
            if not more:
                raise
            missing |= more
    return _compiled(_said(data, missing), machine_fonts=said.machine_fonts)


def _said(data: dict[str, Any], missing: frozenset[str]) -> str:
    note = SAY["letters"].format(counted(len(missing), "letter")) if missing else ""
    text = json.dumps(data | {"letters": note}, ensure_ascii=False)
    return letters.without(text, missing)


def _compiled(data: str, *, machine_fonts: bool) -> bytes:
    import typst

    return typst.compile(
        _source().encode(), format="pdf", sys_inputs={"data": data}, pdf_standards=["ua-1"],
        ignore_system_fonts=not machine_fonts, timestamp=_NO_TIME,
    )
