"""The owner's paper as a PDF: tagged, PDF/UA-1, the same bytes for the same findings.

Typst sets it from `paper.typ`. The words of the round go in as JSON and are never read as
markup; pictures go in as SVG. Only the fonts that typst brings along are used.
"""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from functools import cache
from importlib import resources

from survey.findings import Findings
from survey.reports.narrowing import narrowed
from survey.reports.paper import content

STAND_IN = "□"
_NOT_SHOWN = re.compile(r"the text `\"(.*?)\"` could not be displayed", re.DOTALL)
_COMMON = re.compile(r"[\u0000-\u024f\u0370-\u03ff\u0400-\u045f\u2010-\u2026\u202f\u20ac\u2212…]")
_NO_TIME = 0


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
        A tagged PDF/UA-1. A letter that typst's fonts lack stands as an open square.

    Raises
    ------
    UsageError
        An area is not in the findings.
    """
    data = content(narrowed(findings, areas), show_money=show_money)
    return _typeset(_source(), _showable(json.dumps(data, ensure_ascii=False)))


@cache
def _source() -> str:
    return resources.files("survey.reports").joinpath("paper.typ").read_text("utf-8")


def _showable(text: str) -> str:
    """Put a stand-in for every letter that none of the fonts has."""
    unusual = sorted(set(_COMMON.sub("", text)))
    missing = {ord(letter): STAND_IN for letter in unusual if not _has_shape(letter)}
    return text.translate(missing) if missing else text


@cache
def _has_shape(letter: str) -> bool:
    import typst

    probe = '#set document(title: "x")\n#set text(font: ("Libertinus Serif", "DejaVu Sans Mono", '
    probe += '"New Computer Modern"))\n#sys.inputs.data'
    try:
        _compiled(probe, letter)
    except typst.TypstError:
        return False
    return True


def _typeset(source: str, data: str) -> bytes:
    """Set the paper; a cluster of letters that the probe let through is found here."""
    import typst

    for _ in range(20):
        try:
            return _compiled(source, data)
        except typst.TypstError as error:
            found = _NOT_SHOWN.search(str(error))
            if not found:
                raise
            data = _without(data, found[1])
    return _compiled(source, re.sub(r"[^\u0000-\u024f]", STAND_IN, data))


def _without(data: str, cluster: str) -> str:
    letters = re.sub(r"\\u\{([0-9a-f]+)\}", lambda m: chr(int(m[1], 16)), cluster)
    if letters not in data:
        return re.sub(r"[^\u0000-\u024f]", STAND_IN, data)
    return data.replace(letters, STAND_IN)


def _compiled(source: str, data: str) -> bytes:
    import typst

    return typst.compile(
        source.encode(), format="pdf", sys_inputs={"data": data}, pdf_standards=["ua-1"],
        ignore_system_fonts=True, timestamp=_NO_TIME,
    )
