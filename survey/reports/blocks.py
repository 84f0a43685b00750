"""A paper as a list of blocks, written as plain text or as one self-contained HTML page."""

from __future__ import annotations

import base64
import hashlib
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup, escape

from survey.reports import charts, palette
from survey.reports.words import tidy

LONGEST_CELL = 400
LONGEST_TEXT = 2000
_DRAWN = """
svg text{font-size:14px;fill:var(--ink)}
.line{fill:none;stroke:var(--copper);stroke-width:3}
.range{fill:var(--copper-wash)}
.axis{stroke:var(--soft);stroke-width:1.5}
.mark{stroke:var(--slate);stroke-width:2;stroke-dasharray:5 4}
"""
_CSS = """
*{box-sizing:border-box}
body{margin:0 auto;padding:1.2rem;max-width:62rem;background:var(--paper);color:var(--ink);
font:1rem/1.5 system-ui,"Segoe UI","Liberation Sans",sans-serif;overflow-wrap:anywhere}
h1{font-size:1.9rem;line-height:1.2;margin:.2em 0}
h2{font-size:1.4rem;margin:2rem 0 .4rem;border-top:2px solid var(--ink);padding-top:.6rem}
h3{font-size:1.1rem;margin:1.3rem 0 .3rem}
p,li{max-width:48rem}
p{margin:0 0 .6rem}
.caution{border-left:4px solid var(--ink);background:var(--quiet-wash);padding:.8rem 1.1rem}
.caution ul{margin:0;padding-left:1.1rem}
.wide{overflow-x:auto}
:focus-visible{outline:3px solid var(--slate);outline-offset:2px}
table{border-collapse:collapse;width:100%;font-variant-numeric:tabular-nums}
caption{text-align:left;font-weight:600;padding:.5rem 0 .2rem}
th,td{text-align:left;vertical-align:top;padding:.35rem .7rem .35rem 0;
border-bottom:1px solid var(--rule);overflow-wrap:normal;min-width:4rem}
svg{display:block;width:100%;max-width:44rem;height:auto}
""" + _DRAWN + """
@media screen and (max-width:40rem){table,caption,tbody,tr,th,td{display:block}
thead{position:absolute;clip-path:inset(50%);height:1px;overflow:hidden}
tr{border-bottom:2px solid var(--rule);padding:.3rem 0}th,td{border:0;padding:.1rem 0}
td:empty{display:none}td::before{content:attr(data-head) ": ";color:var(--soft)}}
@media print{body{max-width:none;padding:0;font-size:10pt}tr,li,.caution,svg{break-inside:avoid}
h2,h3{break-after:avoid}.wide{overflow:visible}}
"""


@dataclass(frozen=True)
class Heading:
    """A heading: level 1 for the paper, 2 for a part, 3 within one."""

    level: int
    text: str


@dataclass(frozen=True)
class Paragraph:
    """Running text."""

    text: str


@dataclass(frozen=True)
class Points:
    """A list; ``caution`` sets it apart."""

    items: tuple[str, ...]
    caution: bool = False


@dataclass(frozen=True)
class Table:
    """A table: what it is of, its heads, its rows as text."""

    caption: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True)
class Drawing:
    """An SVG, left out of plain text: what it shows is said in words beside it.

    Parameters
    ----------
    shows
        What it shows, for those who cannot see it.
    """

    svg: Markup
    shows: str

    def alone(self) -> str:
        """Return it as a picture of its own, on paper: its style inside, its colours fixed."""
        return charts.styled(str(self.svg), palette.fixed(_DRAWN))


Block = Heading | Paragraph | Points | Table | Drawing


def as_text(blocks: Sequence[Block], *, width: int = 88) -> str:
    """Write the blocks as plain text."""
    lines: list[str] = []
    for block in blocks:
        if isinstance(block, Heading):
            title = tidy(block.text, LONGEST_CELL)
            lines += ["", title, {1: "=", 2: "-"}.get(block.level, "") * len(title)]
        elif isinstance(block, Paragraph):
            lines += [*_wrapped(block.text, width), ""]
        elif isinstance(block, Points):
            lines += [line for item in block.items for line in _wrapped(item, width, "- ")]
            lines.append("")
        elif isinstance(block, Table):
            lines += [tidy(block.caption, LONGEST_CELL), *_records(block, width), ""]
    text = "\n".join(line.rstrip() for line in lines).strip() + "\n"
    while "\n\n\n" in text:
        text = text.replace("\n\n\n", "\n\n")
    return text


def _wrapped(text: str, width: int, lead: str = "") -> list[str]:
    return textwrap.wrap(
        tidy(text, LONGEST_TEXT), width, initial_indent=lead, subsequent_indent=" " * len(lead)
    )


def _records(table: Table, width: int) -> list[str]:
    """Write a table in columns where it fits the width, else row by row."""
    cells = [[tidy(cell, LONGEST_CELL) for cell in row] for row in (table.heads, *table.rows)]
    sizes = [max(map(len, column)) for column in zip(*cells, strict=True)]
    if sum(sizes) + 2 * len(sizes) <= width:
        return [
            "  ".join(cell.ljust(size) for cell, size in zip(row, sizes, strict=True))
            for row in cells
        ]
    lines = []
    for row in cells[1:]:
        said = [
            f"{head}: {cell.rstrip('.')}" if place else cell
            for place, (head, cell) in enumerate(zip(cells[0], row, strict=True))
            if cell
        ]
        lines += _wrapped("; ".join(said), width, "- ")
    return lines


def as_html(blocks: Sequence[Block], *, title: str) -> str:
    """Write the blocks as one page: no script, nothing fetched, every text escaped."""
    style = palette.css_variables() + _CSS
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    policy = f"default-src 'none'; style-src 'sha256-{digest}'; base-uri 'none'; form-action 'none'"
    body = Markup("\n").join(_markup(block) for block in blocks)
    return str(
        Markup(
            '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
            '<meta http-equiv="Content-Security-Policy" content="{policy}">\n'
            '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
            "<title>{title}</title>\n<style>{style}</style>\n</head>\n<body>\n<main>\n{body}\n"
            "</main>\n</body>\n</html>\n"
        ).format(policy=policy, title=tidy(title, 120), style=Markup(style), body=body)  # noqa: S704
    )


def _markup(block: Block) -> Markup:
    if isinstance(block, Drawing):
        return block.svg
    if isinstance(block, Heading):
        text = tidy(block.text, LONGEST_CELL)
        return Markup("<h{level}>{text}</h{level}>").format(level=block.level, text=text)
    if isinstance(block, Paragraph):
        return Markup("<p>{}</p>").format(tidy(block.text, LONGEST_TEXT))
    if isinstance(block, Points):
        item = Markup("<li>{}</li>")
        items = Markup("").join(item.format(tidy(one, LONGEST_TEXT)) for one in block.items)
        listed = Markup("<ul>{}</ul>").format(items)
        aside = Markup('<aside class="caution">{}</aside>')
        return aside.format(listed) if block.caution else listed
    return _table(block)


def _table(table: Table) -> Markup:
    head = Markup('<th scope="col" role="columnheader">{}</th>')
    heads = Markup("").join(head.format(text) for text in table.heads)
    rows = Markup("").join(
        Markup('<tr role="row"><th scope="row" role="rowheader"><bdi>{}</bdi></th>{}</tr>').format(
            tidy(row[0], LONGEST_CELL),
            Markup("").join(
                Markup('<td role="cell" data-head="{}">{}</td>').format(
                    tidy(head, LONGEST_CELL), tidy(cell, LONGEST_CELL)
                )
                for head, cell in zip(table.heads[1:], row[1:], strict=True)
            ),
        )
        for row in table.rows
    )
    return Markup(
        '<div class="wide" tabindex="0" role="region" aria-label="{caption}"><table role="table">'
        "<caption>{caption}</caption><thead><tr>{heads}</tr></thead><tbody>{rows}</tbody></table>"
        "</div>"
    ).format(caption=escape(tidy(table.caption, LONGEST_CELL)), heads=heads, rows=rows)
