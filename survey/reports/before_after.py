"""Before and after as paper or PDF, as a block of the owner's page, and as JSON."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from dataclasses import asdict
from datetime import date
from pathlib import Path
from typing import Any

from markupsafe import Markup

from survey.reports import before_after_words as say
from survey.reports import measures, numerals
from survey.reports.before_after_claim_words import claim_words
from survey.reports.before_after_units import SMALLEST_SHOWN_LB_PER_H, units_table
from survey.reports.blocks import (
    Block,
    Heading,
    Paragraph,
    Points,
    Table,
    as_html,
    as_text,
)
from survey.reports.measures import MASS
from survey.reports.saving import suffix_among, write_made
from survey.reports.words import capital, counted, figure, money, tidy
from survey.rounds.compare import Comparison
from survey.rounds.savings import claim
from survey.rounds.sides import RoundSide

MOST_UNITS = 60
MOST_UNITS_IN_BLOCK = 12
_NAMED = (
    "mended", "got_worse", "still_failing", "newly_failed", "no_steam", "not_heard", "undecided",
    "not_read", "new", "unreadable_now", "unreadable_before",
)  # fmt: skip
_FOR_THE_OWNER = ("mended", "still_failing", "got_worse", "newly_failed")


def before_after_text(
    comparison: Comparison, *, show_money: bool = True, width: int = 80
) -> str:
    """Return the paper as plain text."""
    return as_text(before_after_blocks(comparison, show_money=show_money), width=width)


def before_after_html(comparison: Comparison, *, show_money: bool = True) -> str:
    """Return the paper as one self-contained page."""
    blocks = before_after_blocks(comparison, show_money=show_money)
    return as_html(blocks, title=_title(comparison))


def before_after_pdf(comparison: Comparison, *, show_money: bool = True) -> bytes:
    """Return the paper as a PDF to print: tagged, PDF/UA-1."""
    from survey.reports.pdf import blocks_pdf

    blocks = before_after_blocks(comparison, show_money=show_money)
    return blocks_pdf(blocks, title=_title(comparison))


_MAKERS: dict[str, Callable[..., str | bytes]] = {
    ".html": before_after_html, ".pdf": before_after_pdf, ".txt": before_after_text,
}  # fmt: skip


def before_after_json(comparison: Comparison) -> str:
    """Return the comparison as JSON; what is not known is null."""
    given = {**asdict(comparison), "claim": claim(comparison.saved.annual_cost)}
    return json.dumps(_plain(given), indent=2, allow_nan=False) + "\n"


def write_before_after(
    comparison: Comparison, path: str | Path, *, show_money: bool = True
) -> None:
    """Write the paper, atomically, in the kind of file that the suffix names.

    Raises
    ------
    UsageError
        The suffix is not .html, .pdf, .txt or .json.
    OutputError
        The place cannot be written.
    """
    suffix = before_after_suffix(path)
    made: str | bytes
    if suffix == ".json":
        made = before_after_json(comparison)
    else:
        made = _MAKERS[suffix](comparison, show_money=show_money)
    write_made(made, path)


def before_after_suffix(path: str | Path) -> str:
    """Return the kind of file that a name asks for; raises UsageError where there is none."""
    return suffix_among(path, (*_MAKERS, ".json"), what="A comparison")


def before_after_block(comparison: Comparison, *, show_money: bool = True) -> Markup:
    """Return before and after as a section for the owner's page, every text escaped.

    It begins with a heading of the second level and needs no style or script of its own.
    """
    from survey.reports.blocks import _markup

    blocks: list[Block] = [
        Heading(2, _heading(comparison)),
        *map(Paragraph, claim_words(comparison, show_money=show_money)),
        Paragraph(say.outcome_words(comparison)),
        _sides(comparison, show_money),
    ]
    for outcome in _FOR_THE_OWNER:
        blocks += units_table(comparison, outcome, show_money, MOST_UNITS_IN_BLOCK)
    left_out = say.left_out_words(comparison, show_money=show_money)
    if not comparison.repairs_known:
        left_out.append(say.REPAIRS_NOT_AT_HAND)
    blocks += [Points(tuple(left_out)), Paragraph(say.PRACTICE)]
    inner = Markup("\n").join(_markup(block) for block in blocks)
    return Markup('<section class="before-after">\n{}\n</section>').format(inner)


def before_after_blocks(comparison: Comparison, *, show_money: bool = True) -> list[Block]:
    """Return the whole paper as blocks."""
    blocks: list[Block] = [
        Heading(1, _title(comparison)),
        *map(Paragraph, claim_words(comparison, show_money=show_money)),
        Paragraph(say.outcome_words(comparison)),
        _sides(comparison, show_money),
        _saved(comparison, show_money),
    ]
    for outcome in _NAMED:
        blocks += units_table(comparison, outcome, show_money, MOST_UNITS)
    return [*blocks, *_verification(comparison, show_money)]


def _verification(comparison: Comparison, show_money: bool) -> list[Block]:
    """Return how the saving was verified, in the order an engineer looks for it."""
    saved = comparison.saved
    blocks: list[Block] = [
        Heading(2, "How the saving was verified"),
        Paragraph(say.PRACTICE),
        Heading(3, "Baseline and reporting period"),
        Points((_period("Baseline", comparison.before),
                _period("Reporting period", comparison.after))),
        Paragraph(f"{say.FORMULA} Both rounds are brought to the hours, pressure and price of the "
                  f"{'later' if comparison.at == 'after' else 'earlier'} round; a year like that "
                  "is what 'a year' means here."),
    ]  # fmt: skip
    if show_money:
        blocks += [
            Heading(3, "Adjusted for"),
            Points(tuple(say.adjusted_words(one, comparison) for one in comparison.adjustments)),
        ]
    sources = ", ".join(
        f"{name} {100 * share:.0f} %" for name, share in saved.spread_by_source.items()
    )
    return [
        *blocks,
        Heading(3, "Not adjusted for, named"),
        Points((
            *say.left_out_words(comparison, show_money=show_money),
            say.repairs_words(comparison, show_money=show_money),
        )),
        Heading(3, "Uncertainty"),
        Paragraph(f"{say.UNCERTAINTY} Where it comes from, as shares of its square: {sources}."),
        Paragraph(say.NOT_IN_RANGE),
    ]


def _title(comparison: Comparison) -> str:
    site = comparison.after.site_name or comparison.before.site_name
    return capital(f"{tidy(site, 80)}: before and after" if site else "before and after")


def _heading(comparison: Comparison) -> str:
    """Return the heading of the block, with each day or name once; none where one is missing."""
    told = [
        numerals.day(one.read_on) if one.dated else tidy(one.title, 60) if one.named else ""
        for one in (comparison.before, comparison.after)
    ]
    said = " and ".join(dict.fromkeys(told)) if all(told) else ""
    return f"Before and after: {said}" if said else "Before and after"


def _period(name: str, side: RoundSide) -> str:
    title = f"{tidy(side.title, 80)}, " if side.named else ""
    read = f"read {numerals.day(side.read_on)}" if side.dated else say.NOT_DATED
    return f"{name}: {title}{read}, {counted(side.devices, 'device')}."


def _sides(comparison: Comparison, show_money: bool) -> Table:
    sides = (comparison.before, comparison.after)
    named = any(side.named for side in sides)
    rows = []
    for name, side in zip(("before", "after"), sides, strict=True):
        row = [name, *([tidy(side.title, 60) if side.named else ""] * named),
               numerals.day(side.read_on) if side.dated else say.NOT_NOTED,
               numerals.grouped(side.devices),
               f"{_all_lost(side.loss_lb_per_h)} {measures.unit(measures.FLOW)}"]  # fmt: skip
        if show_money:
            row.append(money(side.annual_cost, comparison.currency))
        rows.append(tuple(row))
    heads = ("", *(["round"] * named), "read", "devices", "steam lost",
             *(["cost a year"] * show_money))  # fmt: skip
    return Table("Both rounds as found, all their units", heads, tuple(rows))


def _saved(comparison: Comparison, show_money: bool) -> Table:
    saved, currency = comparison.saved, tidy(comparison.currency, 12)
    rows = [
        (f"steam, {measures.unit(measures.FLOW)}",
         say.ranged_figure(saved.steam_lb_per_h, measures.FLOW),
         say.ranged_figure(saved.as_found_lb_per_h, measures.FLOW)),
        (f"steam, {measures.unit(MASS)} a year", say.ranged_figure(saved.annual_klb, MASS), ""),
        ("carbon dioxide, t a year", say.ranged_figure(saved.annual_co2_t), ""),
    ]  # fmt: skip
    if show_money:
        rows += [
            (f"cost, {currency} a year", say.ranged_coins(saved.annual_cost),
             say.ranged_coins(saved.as_found_cost)),
            ("of it, units with a repair noted", say.ranged_coins(saved.with_repair_noted), ""),
        ]  # fmt: skip
        rows += [
            (f"of it, {say.OUTCOME_HEADS[name].partition(':')[0]}", say.ranged_coins(one), "")
            for name, one in saved.by_outcome.items()
            if comparison.counts[name] and name != "still_working"
        ]
    heads = ("before less after", "same hours, pressure and price", "as found")
    caption = "Saved by the units read and decided in both rounds; under zero: more is lost now"
    return Table(caption, heads, tuple(rows))


def _all_lost(lb_per_h: float) -> str:
    shown = measures.value(measures.FLOW, lb_per_h)
    return figure(shown) if lb_per_h >= SMALLEST_SHOWN_LB_PER_H else "0"


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _plain(part) for key, part in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(part) for part in value]
    if isinstance(value, date):
        return value.isoformat()
    return None if isinstance(value, float) and not math.isfinite(value) else value
