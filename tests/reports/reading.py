"""A page taken apart by a parser that knows nothing of how it was made."""

from __future__ import annotations

from dataclasses import dataclass, field
from html.parser import HTMLParser

VOID = {"meta", "link", "input", "br", "hr", "img", "col"}


@dataclass
class Element:
    """One element: its name, attributes, and all text in it."""

    name: str
    attributes: dict[str, str]
    inside: tuple[str, ...]
    texts: list[str] = field(default_factory=list)

    @property
    def text(self) -> str:
        """Return the text in it, white space made single."""
        return " ".join("".join(self.texts).split())


class Page(HTMLParser):
    """All elements of a page in order; raises AssertionError where tags do not nest."""

    def __init__(self, html: str) -> None:
        super().__init__(convert_charrefs=True)
        self.elements: list[Element] = []
        self._open: list[Element] = []
        self.feed(html)
        self.close()
        assert not self._open, [e.name for e in self._open]

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self._add(tag, attrs)
        if tag not in VOID:
            self._open.append(self.elements[-1])

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self._add(tag, attrs)

    def handle_endtag(self, tag: str) -> None:
        assert self._open, tag
        assert self._open[-1].name == tag, (self._open[-1], tag)
        self._open.pop()

    def handle_data(self, data: str) -> None:
        for element in self._open:
            element.texts.append(data)

    def _add(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        names = [name for name, _ in attrs]
        assert len(names) == len(set(names)), (tag, names)
        inside = tuple(e.name for e in self._open)
        self.elements.append(Element(tag, {n: v or "" for n, v in attrs}, inside))

    def all(self, name: str) -> list[Element]:
        """Return all elements of a name."""
        return [e for e in self.elements if e.name == name]

    @property
    def text(self) -> str:
        """Return all text that a reader meets: without style, script and descriptions."""
        body = next(e for e in self.elements if e.name == "body")
        hidden = "".join("".join(e.texts) for e in self.all("script"))
        return body.text.replace(" ".join(hidden.split()), "")
