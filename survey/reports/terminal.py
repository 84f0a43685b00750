"""Findings as plain text: what `survey analyze` prints for a person to read.

Nothing here computes; every figure is one that the findings already hold. Text that came from
the round is stripped of everything a terminal could obey before it is set in a line.
"""

from __future__ import annotations

import re
import textwrap
from collections.abc import Collection, Iterable, Iterator, Mapping
from typing import TYPE_CHECKING, Any

from survey.columns import STATES_BY_DEVICE, UNDECIDED
from survey.readings.header_notes import DEVICES_UNUSED, LEVELS_UNUSED, seems_a_reading
from survey.reports import measures, numerals
from survey.reports.spoken import spoken
from survey.reports.words import (
    CAUTIONS,
    DEVICES,
    LONGEST_SENTENCE,
    capital,
    counted,
    figure,
    listed,
    money,
    percent,
    state_words,
    tidy,
)
from survey.summary import unused_headers

if TYPE_CHECKING:
    import pandas as pd

    from survey.findings import Findings

NARROWEST, WIDEST = 40, 100
WORST_SHOWN = 10
REASONS_SHOWN = 8
ROWS_SHOWN = 6
VALUES_SHOWN = 3
HEADERS_SHOWN = 4
LINES_SHOWN = 12
NOTICED = "Noticed while reading"
_NUMBER = re.compile(r"\s*[-+]?[\d.]")
_BOLD, _PLAIN = "\x1b[1m", "\x1b[0m"
_SENTENCE_END = re.compile(r"(?<=\.)\s")
_INDENT = " " * 5


def summary_text(findings: Findings, *, width: int, colour: bool = False) -> str:
    """Return the summary of one judged round, ready to print.

    Parameters
    ----------
    findings
        The judged round, with its summary.
    width
        Columns of the terminal; held between 40 and 100.
    colour
        Set headings in bold. Leave it off for anything but a terminal.

    Returns
    -------
    str
        Plain text, no line longer than the width, no newline at its end.
    """
    width = min(WIDEST, max(NARROWEST, width))
    summary = findings.summary
    parts = [
        ("", headline(findings)),
        ("Devices by state", _state_lines(summary)),
        ("What the instruments were found to do", _calibration_lines(summary)),
        (_worst_heading(findings), list(_worst_lines(findings, width))),
        (_aside_heading(summary), _aside_lines(findings.rejects)),
        (NOTICED, _bullets(summary.get("notes", []))),
        ("Assumptions", _assumption_lines(summary)),
        ("Before anyone opens, shuts or adjusts anything", _cautions(findings)),
    ]
    blocks = [_block(heading, lines, width, colour) for heading, lines in parts if lines]
    return "\n\n".join(blocks)


def notes_text(
    findings: Findings, *, heading: str = NOTICED, used: Collection[str] = (), width: int
) -> str:
    """Return what was noticed while a round was read, as its summary prints it; '' for nothing.

    Parameters
    ----------
    used
        Headers that no column was found for but that are used all the same.
    """
    headers = findings.summary.get("headers", [])
    every, left = unused_headers(headers), unused_headers(headers, used=used)
    notes = [left if note == every else note for note in findings.summary.get("notes", [])]
    lines = _bullets(filter(None, notes))
    return _block(heading, lines, min(WIDEST, max(NARROWEST, width)), colour=False) if lines else ""


def headline(findings: Findings) -> list[str]:
    """Return how many were judged, how many need something, and what the losses cost."""
    summary = findings.summary
    name = tidy(summary.get("site_name")) or "This round"
    needing = _needing(findings)
    undecided = summary["states"].get(UNDECIDED, 0)
    first = f"{name}: {counted(summary['rows_judged'], 'device')} judged, "
    first += f"{numerals.grouped(needing)} {'needs' if needing == 1 else 'need'} something done"
    return [
        f"{first}, {numerals.grouped(undecided)} of them one more reading."
        if undecided else f"{first}.",
        *_not_used(summary),
        f"Live steam lost costs {_cost(summary)} a year: "
        f"{_loss(summary)}, {figure(summary['annual_co2_t'])} t of CO2 a year. "
        "In brackets: 10 % to 90 % range.",
        spoken(tidy(summary["loss_basis"], LONGEST_SENTENCE)),
    ]


def _not_used(summary: Mapping[str, Any]) -> list[str]:
    """Say which columns seem to be readings and are in no verdict, before the verdicts."""
    said = [capital(str(note)) + "." for note in summary.get("notes", [])
            if DEVICES_UNUSED in note or LEVELS_UNUSED in note]
    kept = [str(one["header"]) for one in summary.get("headers", [])
            if one["column"] is None and one.get("how") != "set by map"
            and _NUMBER.match(str(one["sample"]))]
    read = [repr(tidy(header, 40)) for header in kept if seems_a_reading(header)]
    if not read:
        return said
    shown = listed([*read[:HEADERS_SHOWN], *(["more"] if len(read) > HEADERS_SHOWN else [])])
    it = "it seems a reading" if len(read) == 1 else "they seem readings"
    return [*said, f"Not used, though {it}: {shown}. Say of which column with --map, or of none."]


def _cost(figures: Any, currency: str = "") -> str:
    low, high = figures["annual_cost_low"], figures["annual_cost_high"]
    return money(figures["annual_cost"], currency or figures["currency"], low, high)


def _loss(summary: Mapping[str, Any]) -> str:
    ends = ("steam_loss_lb_per_h", "steam_loss_low_lb_per_h", "steam_loss_high_lb_per_h")
    return measures.flow(tuple(summary[name] for name in ends))


def _needing(findings: Findings) -> int:
    if "devices_needing_something" in findings.summary:
        return int(findings.summary["devices_needing_something"])
    return int(findings.table["rank"].notna().sum()) if len(findings.table) else 0


def _block(heading: str, lines: Iterable[str], width: int, colour: bool) -> str:
    shown = [piece for line in lines for piece in _wrapped(line, width)]
    if heading:
        title = textwrap.fill(heading, width)
        shown.insert(0, f"{_BOLD}{title}{_PLAIN}" if colour else title)
    return "\n".join(shown)


def _wrapped(line: str, width: int) -> list[str]:
    if len(line) <= width:
        return [line]
    body = line.lstrip(" ")
    indent = " " * (len(line) - len(body))
    hang = indent + "  " if body.startswith("- ") else indent
    return textwrap.wrap(body, width, initial_indent=indent, subsequent_indent=hang)


def _bullets(lines: Iterable[str]) -> list[str]:
    shown = [f"- {tidy(line, LONGEST_SENTENCE)}" for line in lines]
    more = len(shown) - LINES_SHOWN
    return [*shown[:LINES_SHOWN], f"- and {more} more, in the findings"] if more > 0 else shown


def _calibration_lines(summary: Mapping[str, Any]) -> list[str]:
    # A station may be named after its pressure; its name is no figure.
    return _bullets(
        spoken(tidy(entry["words"], LONGEST_SENTENCE), [tidy(entry.get("group"), 200)])
        for entry in summary.get("calibration", [])
    )


def _assumption_lines(summary: Mapping[str, Any]) -> list[str]:
    return _bullets(spoken(tidy(line, LONGEST_SENTENCE)) for line in summary["assumptions"])


def _state_lines(summary: Mapping[str, Any]) -> list[str]:
    lines = []
    for device, legal in STATES_BY_DEVICE.items():
        counts = summary["states_by_device"].get(device, {})
        shown = [
            f"{numerals.grouped(counts[state])} {state_words(state, device)}"
            for state in (*legal, UNDECIDED) if counts.get(state)
        ]
        if shown:
            total = counted(sum(counts.values()), DEVICES[device])
            lines.append(f"- {total}: {'; '.join(shown)}")
    return lines


def _worst_heading(findings: Findings) -> str:
    needing = _needing(findings)
    return f"The {WORST_SHOWN} to mend first" if needing > WORST_SHOWN else "What to mend"


def _worst_lines(findings: Findings, width: int) -> Iterator[str]:
    if not len(findings.table):
        return
    ranked = findings.table[findings.table["rank"].notna()]
    for _, unit in ranked.nsmallest(WORST_SHOWN, "rank").iterrows():
        yield from _unit_lines(unit, tidy(findings.summary["currency"], 12), width)


def _unit_lines(unit: pd.Series[Any], currency: str, width: int) -> Iterator[str]:
    """Yield a unit's lines: who, where and what it costs; then its state and what to do."""
    place = ", ".join(filter(None, (tidy(unit.get("area"), 30), tidy(unit.get("equipment"), 30))))
    left = f"{int(unit['rank']):>3}. {tidy(unit['tag'], 24)}" + (f"  {place}" if place else "")
    cost = _cost(unit, currency) if unit["annual_cost"] >= 0.5 else "no steam lost"
    if len(left) + 2 + len(cost) <= width:
        yield left + cost.rjust(width - len(left))
    else:
        yield left
        yield _INDENT + cost
    state = capital(state_words(unit["state"], unit.get("device", "trap")))
    undecided = unit["state"] == UNDECIDED
    sure = f"{state}. " if undecided else f"{state}, {percent(unit['confidence'])} sure. "
    yield _INDENT + sure + tidy(_first_sentence(unit["action"]), 2 * width)


def _first_sentence(text: object) -> str:
    return _SENTENCE_END.split(tidy(text, LONGEST_SENTENCE), maxsplit=1)[0]


def _aside_heading(summary: Mapping[str, Any]) -> str:
    count = summary["rows_set_aside"]
    return f"Set aside: {numerals.grouped(count)} of {counted(summary['rows_read'], 'row')} read"


def _aside_lines(rejects: pd.DataFrame) -> list[str]:
    """Return one line per kind of fault, the commonest first, with the rows that have it."""
    if not len(rejects):
        return []
    rows_by_fault: dict[str, list[str]] = {}
    values_by_fault: dict[str, dict[str, None]] = {}
    cells = zip(*(rejects[name] for name in ("row", "column", "value", "reason")), strict=True)
    for row, column, value, reason in cells:
        fault = ": ".join(filter(None, (tidy(column).strip("; "), tidy(reason, 200))))
        rows_by_fault.setdefault(fault, []).append(tidy(row))
        found = values_by_fault.setdefault(fault, {})
        if len(found) <= VALUES_SHOWN:
            found[tidy(value, 24).strip("; ")] = None
    commonest = sorted(rows_by_fault.items(), key=lambda item: -len(item[1]))
    lines = [f"- {_rows(rows)}: {fault}{_found(values_by_fault[fault])}"
             for fault, rows in commonest[:REASONS_SHOWN]]
    more = sum(len(rows) for _, rows in commonest[REASONS_SHOWN:])
    return [*lines, f"- and {counted(more, 'row')} more, for other reasons"] if more else lines


def _found(values: Iterable[str]) -> str:
    """Return the words that a fault was found in, the first of them, where there are any."""
    words = [repr(value) for value in values if value]
    shown = words[:VALUES_SHOWN]
    others = " and others" if len(words) > len(shown) else ""
    return f" (found {', '.join(shown)}{others})" if shown else ""


def _rows(rows: list[str]) -> str:
    rest = len(rows) - ROWS_SHOWN
    names = ", ".join(rows[:ROWS_SHOWN])
    names += f" and {numerals.grouped(rest)} more" if rest > 0 else ""
    return f"{'row' if len(rows) == 1 else 'rows'} {names}"


def _cautions(findings: Findings) -> list[str]:
    return [CAUTIONS] if _needing(findings) else []
