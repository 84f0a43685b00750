"""A paper as a PDF: tagged, PDF/UA-1, the same bytes for the same findings.

Typst sets the owner's paper from `paper.typ`, and any other, which is a list of blocks, from
`blocks.typ`; both start with `sheet.typ`. The words of the round go in as JSON and are never read
as markup; pictures go in as SVG. The fonts that typst brings along are used; only where they lack
a letter do those of this machine help out, see `letters`.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from functools import cache
from importlib import resources
from typing import Any

from survey.findings import Findings
from survey.reports import letters
from survey.reports.blocks import (
    LONGEST_CELL,
    LONGEST_TEXT,
    Block,
    Drawing,
    Heading,
    Paragraph,
    Points,
)
from survey.reports.narrowing import narrowed
from survey.reports.paper import content, sheet
from survey.reports.paper_words import SAY
from survey.reports.words import counted, tidy

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
    return _typeset("paper.typ", data)


def blocks_pdf(blocks: Sequence[Block], *, title: str) -> bytes:
    """Return a paper of blocks as a PDF, tagged as the owner's paper is.

    Parameters
    ----------
    blocks
        What it says, in order.
    title
        What the paper is called, and what stands at the foot of each page.
    """
    said = [_as_data(block) for block in blocks]
    about = next((one["text"] for one in said if one["kind"] == "paragraph"), "")
    name = tidy(title, 120)
    return _typeset("blocks.typ", {
        "title": name, "description": about, "made": None, "foot": name, "sheet": sheet(),
        "say": SAY, "blocks": said,
    })  # fmt: skip


def _as_data(block: Block) -> dict[str, Any]:
    """Return a block as JSON types, cut where its page cuts it."""
    if isinstance(block, Heading):
        return {"kind": "heading", "level": block.level, "text": tidy(block.text, LONGEST_CELL)}
    if isinstance(block, Paragraph):
        return {"kind": "paragraph", "text": tidy(block.text, LONGEST_TEXT)}
    if isinstance(block, Points):
        items = [tidy(item, LONGEST_TEXT) for item in block.items]
        return {"kind": "points", "items": items, "caution": block.caution}
    if isinstance(block, Drawing):
        return {"kind": "drawing", "svg": block.alone(), "shows": tidy(block.shows, LONGEST_TEXT)}
    heads, *rows = [[tidy(cell, LONGEST_CELL) for cell in row]
                    for row in (block.heads, *block.rows)]
    return {"kind": "table", "caption": tidy(block.caption, LONGEST_CELL), "heads": heads,
            "rows": rows}


@cache
def _source(name: str) -> bytes:
    here = resources.files("survey.reports")
    return b"\n".join(here.joinpath(part).read_bytes() for part in ("sheet.typ", name))


def _typeset(name: str, data: dict[str, Any]) -> bytes:
    """Set the paper; a cluster of letters that is found to have no shape now is named as well."""
    import typst

    said = letters.shown(json.dumps(data, ensure_ascii=False))
    missing = said.missing
    for _ in range(_TRIES):
        try:
            return _compiled(name, _said(data, missing), machine_fonts=said.machine_fonts)
        except typst.TypstError as error:
            more = letters.not_shown(error.diagnostic) - missing
            if not more:
                raise
            missing |= more
    return _compiled(name, _said(data, missing), machine_fonts=said.machine_fonts)


def _said(data: dict[str, Any], missing: frozenset[str]) -> str:
    note = SAY["letters"].format(counted(len(missing), "letter")) if missing else ""
    text = json.dumps(data | {"letters": note}, ensure_ascii=False)
    return letters.without(text, missing)


def _compiled(name: str, data: str, *, machine_fonts: bool) -> bytes:
    import typst

    return typst.compile(
        _source(name), format="pdf", sys_inputs={"data": data}, pdf_standards=["ua-1"],
        ignore_system_fonts=not machine_fonts, timestamp=_NO_TIME,
    )
