"""What a page says and what its PDF says, so that one can be held to the other."""

from __future__ import annotations

import html
import io
import re
from collections.abc import Sequence

import pypdf

from survey.reports.blocks import Block, Table


def closed_up(text: str) -> str:
    """Return text without white space: a line ends elsewhere on paper than on a page."""
    return "".join(text.split())


def words_of_page(page: str) -> list[str]:
    """Return what a page says, one text for each element, in the order they are read.

    What tells of a drawing to those who cannot see it is left out: a PDF has it in its tags.
    """
    body = page.partition("<main>")[2].partition("</main>")[0]
    body = re.sub(r"<title>.*?</title>", "", body)
    return [closed_up(html.unescape(text)) for text in re.split(r"<[^>]*>", body) if text.strip()]


def words_of_paper(paper: bytes, blocks: Sequence[Block], *, title: str) -> str:
    """Return what a PDF says, closed up: no foot, no heads said again on a further page."""
    said: list[str] = []
    heads = [closed_up("".join(block.heads)) for block in blocks if isinstance(block, Table)]
    for page in pypdf.PdfReader(io.BytesIO(paper)).pages:
        text = closed_up(page.extract_text()).replace("•", "")  # before each line of a list
        foot = re.search(rf"{re.escape(closed_up(title))}\d+of\d+$", text)
        assert foot
        text = text[: foot.start()]
        again = [head for head in heads if text.startswith(head)]
        said.append(text[len(again[0]) :] if again and said else text)
    return "".join(said)


def kinds_of(node: object) -> list[str]:
    """Return the kinds of a PDF's tags under one of them, in order."""
    node = node.get_object() if hasattr(node, "get_object") else node
    if isinstance(node, list):
        return [kind for child in node for kind in kinds_of(child)]
    if not isinstance(node, dict):
        return []
    mine = [str(node["/S"])] if "/S" in node else []
    return mine + kinds_of(node.get("/K", []))
