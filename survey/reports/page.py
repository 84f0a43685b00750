"""The owner's page: one HTML file with everything in it, complete without script.

Nothing is fetched: style, script and pictures are inside, and the page's own content policy
lets only those two blocks of style and script through, by their hashes. Every text from the
round goes through `words.tidy` and then through Jinja2's escaping.
"""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cache
from importlib import resources
from typing import TYPE_CHECKING, Any

import pandas as pd
from jinja2 import Environment, StrictUndefined
from markupsafe import Markup, escape

from survey.findings import Findings
from survey.reports import measures, palette, sections, tables, words
from survey.reports.narrowing import narrowed
from survey.reports.page_words import COLUMN_HEADS, LIMITS, PICTURES, SAY
from survey.reports.units import Unit, loss_words, units
from survey.reports.upstream import upstream_first

if TYPE_CHECKING:
    from survey.rounds.known import Known

OWNER_PAGE_BYTES = 300_000
REPORT_BYTES = 3_000_000
_BRIEF_TAG = 24
# Bytes of markup round one line of devices named in short, and of what is said about them.
_BRIEF_LINE = 90
_BRIEF_NOTICE = 800
# Where not even the names of all would fit, this much of the room still goes to evidence.
_LEAST_WHOLE = 0.7


@dataclass(frozen=True)
class Brief:
    """Devices named in short: those of one area in one state."""

    area: str
    state: str
    group: str
    tags: list[str]


@dataclass(frozen=True)
class _Name:
    area: str
    state: str
    group: str
    tag: str

    @property
    def bytes_in_line(self) -> int:
        return len(escape(self.tag).encode()) + 2

    @property
    def bytes_of_line(self) -> int:
        return _BRIEF_LINE + len(escape(self.area + self.state).encode())


@dataclass(frozen=True)
class DeviceList:
    """Every device: the first ones whole, the next in short, the last only counted.

    ``rest_lost`` is what all but the whole ones lose between them, ``hidden_lost`` what those
    only counted do, in words; '' for nothing.
    """

    whole: list[Markup]
    brief: list[Brief]
    hidden: int
    rest_lost: str = ""
    hidden_lost: str = ""


def render_page(
    findings: Findings,
    *,
    areas: Sequence[str] | None = None,
    show_money: bool = True,
    before: Findings | None = None,
    known: Known | None = None,
    most_bytes: int = OWNER_PAGE_BYTES,
) -> str:
    """Return the owner's page: one self-contained HTML document.

    Parameters
    ----------
    findings
        The judged round.
    areas
        Show only these areas; None shows all. Nothing of the others is in the page.
    show_money
        False shows steam lost and never a price or a cost.
    before
        An earlier round to hold it against: what was mended since, and what that saved.
    known
        What a store knows of the two rounds: their names and days, repairs, changes of tag.
    most_bytes
        The page stays under this size in UTF-8: what costs most is shown whole, then devices
        are named in short, and what does not fit is counted.

    Raises
    ------
    UsageError
        An area is not in the findings.
    """
    findings = narrowed(findings, areas)
    loss_head = COLUMN_HEADS["loss_in"].format(measures.unit(measures.FLOW))
    context = sections.context(findings, show_money=show_money) | {
        "say": SAY,
        "heads": COLUMN_HEADS | {"loss": loss_head},
        "said": PICTURES,
        "limits": LIMITS,
        "cautions": words.CAUTION_POINTS,
        "policy": page_policy(),
        "style": style(),
        "script": script(),
        "before_after": _before_after(before, findings, areas, show_money, known),
    }
    page = _template("page.html")
    empty = page.render(context | {"list": DeviceList([], [], 0)})
    room = most_bytes - len(empty.encode())
    rows = upstream_first(tables.worst_first(findings.table))
    shown = units(rows, currency=context["total"].currency, show_money=show_money)
    fitted = _fitted(shown, _names(rows), room, context["area_numbers"])
    fitted = _with_losses(fitted, rows, context["total"].currency, show_money)
    return str(page.render(context | {"list": fitted}))


def _before_after(
    before: Findings | None,
    findings: Findings,
    areas: Sequence[str] | None,
    show_money: bool,
    known: Known | None,
) -> str:
    if before is None:
        return ""
    from survey.reports.before_after import before_after_block
    from survey.rounds.compare import compare_findings
    from survey.rounds.known import NOTHING_KNOWN

    if areas is not None:
        named = before.table.get("area")
        both = [area for area in areas if named is not None and (named == area).any()]
        if not both:
            return ""
        before = narrowed(before, both)
    compared = compare_findings(before, findings, known=known or NOTHING_KNOWN)
    return before_after_block(compared, show_money=show_money)


def page_policy() -> str:
    """Return the content policy of the page: its own style and script by hash, nothing else."""
    return (
        f"default-src 'none'; style-src {_hash(style())}; script-src {_hash(script())}; "
        "img-src data:; base-uri 'none'; form-action 'none'"
    )


@cache
def style() -> str:
    """Return the page's whole style sheet, colours first."""
    return palette.css_variables() + "\n" + _file("page.css")


@cache
def script() -> str:
    """Return the page's script: sorting and filtering, nothing that the page needs."""
    return _file("page.js")


def _fitted(
    shown: Iterable[Unit], names: list[_Name], room: int, areas: dict[str, int]
) -> DeviceList:
    """Show as many devices whole as leave room to name the others; see `DeviceList`."""
    item = _template("unit.html")
    whole: list[Markup] = []
    used = [0]
    for at, one in enumerate(shown):
        text = item.render(unit=one, at=at, say=SAY, areas=areas)
        if used[-1] + len(text.encode()) > room:
            break
        whole.append(Markup(text))  # noqa: S704  escaped when it was rendered
        used.append(used[-1] + len(text.encode()))
    naming = _naming_bytes(names)
    fitting = [k for k in range(len(whole) + 1) if used[k] + naming[k] <= room]
    fewest = sum(size <= room * _LEAST_WHOLE for size in used) - 1
    keep = max([*fitting, fewest, 0])
    named, left = _in_short(names[keep:], room - used[keep])
    return DeviceList(whole[:keep], named, left)


def _with_losses(
    fitted: DeviceList, rows: pd.DataFrame, currency: str, show_money: bool
) -> DeviceList:
    """Add what the devices lose that are not shown whole, so that the list sums to the total."""
    after = " a year" if show_money else ""
    lost = []
    for first in (len(fitted.whole), len(rows) - fitted.hidden):
        said = loss_words(tables.sums_of(rows.iloc[first:]), currency, show_money)
        lost.append(f"{said}{after}" if said else "")
    return replace(fitted, rest_lost=lost[0], hidden_lost=lost[1])


def _names(rows: pd.DataFrame) -> list[_Name]:
    columns = [tables.texts(rows, name) for name in ("area", "state", "device", "tag")]
    return [
        _Name(
            words.tidy(area, 40), words.state_words(words.tidy(state), words.tidy(device)),
            words.group_of(state, device), words.tidy(tag, _BRIEF_TAG),
        )
        for area, state, device, tag in zip(*columns, strict=True)
    ]


def _naming_bytes(names: list[_Name]) -> list[int]:
    """Return how many bytes it takes to name all from each place in the list on."""
    sizes, lines = [0], set()
    for name in reversed(names):
        new = (name.area, name.state) not in lines
        lines.add((name.area, name.state))
        sizes.append(sizes[-1] + name.bytes_in_line + (name.bytes_of_line if new else 0))
    return [size + _BRIEF_NOTICE if size else 0 for size in reversed(sizes)]


def _in_short(rest: list[_Name], room: int) -> tuple[list[Brief], int]:
    """Name devices by area and state until the room is used; return how many are not named."""
    found: dict[tuple[str, str], Brief] = {}
    for at, name in enumerate(rest):
        key = (name.area, name.state)
        room -= name.bytes_in_line + (0 if key in found else name.bytes_of_line)
        if room < _BRIEF_NOTICE:
            return list(found.values()), len(rest) - at
        found.setdefault(key, Brief(*key, name.group, [])).tags.append(name.tag)
    return list(found.values()), 0


@cache
def _environment() -> Environment:
    environment = Environment(
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    environment.filters |= {
        "capital": words.capital,
        "counted": words.counted,
        "tidy": words.tidy,
        "whole": words.whole,
    }
    return environment


@cache
def _template(name: str) -> Any:
    return _environment().from_string(_file(name))


def _file(name: str) -> str:
    return resources.files("survey.reports").joinpath(name).read_text("utf-8").replace("\r\n", "\n")


def _hash(text: str) -> str:
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"
