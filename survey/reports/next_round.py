"""What fails next and when to survey again, as a paper: plain text or one HTML page."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

import pandas as pd

from survey.errors import UsageError
from survey.reports import manner, numerals
from survey.reports.blocks import Block, Heading, Paragraph, Points, Table, as_html, as_text
from survey.reports.spoken import spoken
from survey.reports.words import (
    SERVICES,
    TRAP_TYPES,
    coins,
    counted,
    figure,
    listed,
    money,
    percent,
    span,
    tidy,
)
from survey.rounds.interval import FLAT, Effort, Interval
from survey.rounds.pressure_classes import SOURCE, WEEKS_PER_YEAR
from survey.rounds.reliability import Reliability
from survey.writing import replacing

MOST_NAMED = 20
SUFFIXES = (".html", ".txt")
_BY_WORDS = {"all": "", "trap_type": "type", "service": "service", "pressure": "pressure",
             "age": "age"}  # fmt: skip
_WHOLE_YEAR_WEEKS = 50.0


@dataclass(frozen=True)
class NextRound:
    """All that goes on the paper.

    Parameters
    ----------
    days
        Days of the rounds it rests on.
    fails
        What `reliability.fails_next` gave for the day ``before``.
    """

    site_name: str
    currency: str
    days: Sequence[date]
    before: date
    result: Reliability
    fails: pd.DataFrame
    intervals: Sequence[Interval]
    effort: Effort


def next_round_text(paper: NextRound, *, width: int = 88) -> str:
    """Return the paper as plain text."""
    return as_text(next_round_blocks(paper), width=width)


def write_next_round(paper: NextRound, path: str | Path) -> None:
    """Write the paper, atomically, as .html or .txt; raises UsageError, OutputError."""
    suffix = Path(path).suffix.lower()
    if suffix not in SUFFIXES:
        raise UsageError("This paper ends in .html or .txt", found=Path(path).name,
                         do="give --out a name with one of these endings")  # fmt: skip
    blocks = next_round_blocks(paper)
    text = as_html(blocks, title=_title(paper)) if suffix == ".html" else as_text(blocks)
    with replacing(Path(path)) as temporary:
        temporary.write_text(text, encoding="utf-8", newline="\n", errors="replace")


def next_round_blocks(paper: NextRound) -> list[Block]:
    """Return the paper as blocks."""
    days = [numerals.short_day(day) for day in paper.days]
    return [
        Heading(1, _title(paper)),
        Paragraph(f"From {counted(len(days), 'round')}: {listed(days[-6:])}."),
        *_when(paper),
        *_next(paper),
        *_rates(paper),
        Heading(2, "What this rests on"),
        Points(_grounds(paper)),
    ]


def _title(paper: NextRound) -> str:
    name = tidy(paper.site_name)
    return f"{name}: the next round" if name else "The next round"


def _when(paper: NextRound) -> list[Block]:
    if not paper.intervals:
        return [Heading(2, "When to survey again"),
                Paragraph("Cannot be told: no trap has a known pressure.")]  # fmt: skip
    heads = ("pressure", "traps", "least cost", "by what is not known", "cost within 10 %",
             "published", "cost a year")  # fmt: skip
    rows = tuple(_when_row(one, paper.currency) for one in paper.intervals)
    caption = "Steam lost until it is found, and the cost of looking, add up to least"
    return [
        Heading(2, "When to survey again"),
        Table(caption, heads, rows),
        *(Paragraph(_worth(one, paper.currency)) for one in paper.intervals),
    ]


def _when_row(one: Interval, currency: str) -> tuple[str, ...]:
    season = one.season_weeks
    return (
        spoken(one.pressure.name), numerals.grouped(one.traps), every(one.weeks, season),
        f"{every(one.weeks_low, season)} to {every(one.weeks_high, season)}",
        f"{every(one.flat_low, season)} to {every(one.flat_high, season)}",
        one.pressure.words, money(one.cost, currency),
    )  # fmt: skip


def _worth(one: Interval, currency: str) -> str:
    season = "year" if one.season_weeks >= _WHOLE_YEAR_WEEKS else "season"
    published = _costs(one.cost_published_short, one.cost_published_long, currency)
    yearly = f"looking once a {season}"
    worth = (
        f"that saves {money(one.worth, currency)} a year against {yearly}; "
        if one.worth > 0.05 * one.cost
        else f"{yearly} costs as good as the same; "
    )
    best = every(one.weeks, one.season_weeks)
    worth = "" if yearly.endswith(best) else worth  # that would hold it against itself
    return (
        f"{spoken(one.pressure.name)}: some {figure(100 * one.rate, 2)} in 100 traps a year begin "
        f"to lose steam, at {money(one.loss, currency)} a year each until it is found. Looking "
        f"{best} costs {money(one.cost, currency)} a year in all; "
        f"{worth}the published {one.pressure.words} costs {published}."
    )


def _costs(one: float, other: float, currency: str) -> str:
    low, high = sorted((one, other))
    ends = f" to {coins(high)}" if coins(low) != coins(high) else ""
    return f"{money(low, currency)}{ends}"


def every(weeks: float, season_weeks: float) -> str:
    """Return an interval as one says it: 'once a season', 'every 8 weeks of steam'."""
    whole_year = season_weeks >= _WHOLE_YEAR_WEEKS
    season = "year" if whole_year else "season"
    seasons = weeks / season_weeks
    if seasons >= 1.5:
        return f"every {figure(seasons, 2)} {season}s"
    if seasons > 0.75:
        return f"once a {season}"
    return f"every {counted(max(1, round(weeks)), 'week')}{'' if whole_year else ' of steam'}"


def _next(paper: NextRound) -> list[Block]:
    table = paper.fails
    title = Heading(2, f"What fails next, before {numerals.short_day(paper.before)}")
    if not len(table):
        return [title, Paragraph("No trap was seen working.")]
    shown = table.head(MOST_NAMED)
    rows = tuple(_trap_row(row) for row in shown.to_dict("records"))
    expected = float(table["chance"].sum())
    return [
        title,
        Paragraph(
            f"Of {counted(len(table), 'trap')} that worked when last looked at, "
            f"{_of_all(expected, len(table))} are expected to fail by then. Which ones, "
            "nobody can say: these are odds, and the range in which they lie 8 times in 10."
        ),
        Table("The likeliest to fail", ("trap", "where", "type", "odds", "range"), rows),
    ]


def _of_all(expected: float, every_one: int) -> str:
    """Return an expected count, rounded to no more than there are."""
    rounded = float(f"{expected:.2g}")
    return figure(expected, 2) if rounded <= every_one else numerals.grouped(math.floor(expected))


def _trap_row(row: dict[Any, Any]) -> tuple[str, ...]:
    where = ", ".join(tidy(row[name]) for name in ("equipment", "area") if row[name])
    kind = TRAP_TYPES.get(str(row["trap_type"]), "type not known")
    ends = f"{odds(row['chance_low'])} to {odds(row['chance_high'])}"
    return tidy(row["tag"]), where, kind, odds(row["chance"]), ends


def odds(chance: float) -> str:
    """Return a chance as odds: '1 in 26'."""
    if chance <= 0:
        return "none"
    return f"1 in {figure(1 / chance, 2)}" if chance < 0.4 else percent(chance)


def _rates(paper: NextRound) -> list[Block]:
    rates = paper.result.rates
    rows = tuple(_rate_row(row) for row in rates.to_dict("records"))
    share, low, high = paper.result.share_at_4_years
    shape = paper.result
    wear = (
        "They wear out: the older, the likelier to fail."
        if shape.shape_low > 1
        else "Whether older ones fail more often cannot be told from these rounds yet."
    )
    return [
        Heading(2, "How often traps fail"),
        Paragraph(
            f"Left alone for four years, {percent(share)} of these traps would have failed "
            f"({percent(low)} to {percent(high)}). {wear}"
        ),
        Table("Failures per 100 traps a year, 10-90 % range in brackets",
              ("group", "lives", "failures", "told by these rounds"), rows),
    ]  # fmt: skip


def _rate_row(row: dict[Any, Any]) -> tuple[str, ...]:
    rate, low, high = (float(row[name]) for name in ("per_100", "low", "high"))
    lives = numerals.grouped(row["traps"]) if row["by"] != "age" else ""
    shown = f"{figure(rate, 2)} {span(rate, low, high)}"
    return _group(row["by"], row["level"]), lives, shown, percent(float(row["from_rounds"]))


def _group(by: str, level: str) -> str:
    words = {"trap_type": TRAP_TYPES, "service": SERVICES}.get(by, {})
    return f"{_BY_WORDS[by]} {words.get(level, spoken(level))}".strip()


def _grounds(paper: NextRound) -> tuple[str, ...]:
    effort = paper.effort
    return (
        "Before any round: 15 to 30 % of traps failed after 3 to 5 years without maintenance "
        f"({SOURCE}). The more rounds there are, the more they count; 'told by these rounds' says "
        "how much of the doubt they took away.",
        "A failure is the trap's own: leaking, blown open or stuck shut. Each verdict counts by "
        "its chances, and a trap that was mended begins a new life. When one was last new is taken "
        "as 1 to 7 years before its first round (a guess, no source), or from its repair, or from "
        "an installed_at column.",
        f"Looking costs {_small(effort.per_trap, paper.currency)} a trap and "
        f"{_small(effort.per_visit, paper.currency)} a visit; what is found is taken as mended at "
        "once.",
        "Traps are taken to fail and to lose steam only while steam is on, "
        + listed([f"{one.season_weeks:.0f} weeks a year ({spoken(one.pressure.name)})"
                  for one in paper.intervals])
        + ". Nothing can be read while it is off."
        if any(one.season_weeks < _WHOLE_YEAR_WEEKS for one in paper.intervals)
        else "Steam is taken as on all year.",
        f"Published intervals: {SOURCE}. 'Cost within 10 %' is every interval that costs at most "
        f"{100 * (FLAT - 1):.0f} % more than the least.",
        f"A year is {WEEKS_PER_YEAR:.0f} weeks. Safety and what a cold room costs are not in it.",
    )  # fmt: skip


def _small(cost: float, currency: str) -> str:
    """Return what a look costs, to the hundredth where a locale writes money so."""
    if manner.current().plain:
        return f"{currency} {figure(cost)}"
    return numerals.priced(cost, tidy(currency, 12), 0 if cost == round(cost) else 2)
