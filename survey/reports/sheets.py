"""What stands on the sheets of the workbook for people: columns with heads, kinds and cells."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from datetime import time
from typing import Any

import pandas as pd

from survey.columns import FINDING_NAMES, INPUT_NAMES
from survey.findings import Findings
from survey.reports import measures, numerals, sections, tables, words, work
from survey.reports.paper_words import ABOUT_HEADS, SAY, TOLD_HEADS, WORK_HEADS
from survey.reports.spoken import spoken

LONG = ("action", "evidence", "note", "what", "why", "said", "explains", "read_again", "parts")
"""Columns of sentences, which wrap."""
_WIDEST, _NARROWEST = 60, 9
_FIRST_YEAR = 1901  # a spreadsheet knows no earlier day for sure
_WIDTH_SEEN = 200  # rows looked at to choose a width
_ORDER = ("tag", "device", "equipment", "area", "station", "state", "confidence", "cause", "rank",
          "annual_cost", "annual_cost_low", "annual_cost_high", "steam_loss_lb_per_h",
          "steam_loss_low_lb_per_h", "steam_loss_high_lb_per_h", "annual_loss_klb",
          "annual_co2_t", "action", "evidence")  # fmt: skip
_WORDS: dict[str, Callable[[object], str]] = {
    "device": words.word, "trap_type": words.word, "service": words.word,
    "cause": lambda name: words.CAUSES.get(str(name), words.word(name)),
}


class Column:
    """One column: its key, its head, how its numbers are shown, and its cells."""

    def __init__(self, key: str, head: str, cells: Sequence[Any], shown: str = "") -> None:
        self.key, self.head, self.cells, self.shown = key, head, cells, shown

    @property
    def width(self) -> float:
        """Return a width that fits most cells; long texts wrap."""
        if self.key in LONG:
            return _WIDEST
        longest = max((len(str(cell)) for cell in self.cells[:_WIDTH_SEEN]), default=0)
        return min(_WIDEST, max(_NARROWEST, longest + 2, len(self.head) / 2 + 4))


def sheets(findings: Findings, show_money: bool) -> dict[str, list[Column]]:
    """Return the columns of each sheet, by its key in `paper_words.SHEETS`."""
    return {
        "findings": _findings(findings, show_money),
        "work": _work(findings, show_money),
        "assumptions": _assumptions(findings, show_money),
        "told": _told(findings),
    }


def _findings(findings: Findings, show_money: bool) -> list[Column]:
    table = tables.worst_first(findings.table)
    currency = words.tidy(findings.summary.get("currency"), 12)
    known = [*_ORDER, *(n for n in (*INPUT_NAMES, *FINDING_NAMES) if n not in _ORDER)]
    names = [name for name in known if name in table]
    names += [str(name) for name in table.columns if name not in known]
    if not show_money:
        names = [name for name in names if not name.startswith("annual_cost")]
    return [_finding(table, name, currency) for name in names]


def _finding(table: pd.DataFrame, name: str, currency: str) -> Column:
    head = measures.head(name, currency)
    if pd.api.types.is_numeric_dtype(table[name].dtype):
        return Column(name, head, measures.value(name, table[name]).tolist(), _shown(name))
    if name in ("action", "evidence"):
        keep = zip(*(tables.texts(table, n) for n in ("tag", "equipment", "area", "station")),
                   strict=True)
        cells = [spoken(said, kept) for said, kept in zip(tables.texts(table, name), keep,
                                                          strict=True)]
        return Column(name, head, cells)
    cells = tables.texts(table, name).tolist()
    if name == "read_at":
        return _moments(name, head, cells)
    if name == "state":
        cells = [words.state_words(*p) for p in zip(cells, tables.texts(table, "device"),
                                                    strict=True)]
    elif name == "flags":
        cells = ["; ".join(words.word(f) for f in cell.split(";") if f) for cell in cells]
    elif name in _WORDS:
        cells = [_WORDS[name](cell) if cell else "" for cell in cells]
    return Column(name, head, cells)


def _moments(name: str, head: str, cells: list[str]) -> Column:
    """Return times as a spreadsheet's own, which it shows as its reader's country writes them."""
    read = [numerals.moment(cell) for cell in cells]
    known = [when for when in read if when is not None]
    midnight = all(when.time() == time.min for when in known)
    return Column(name, head, [
        cell if when is None or when.year < _FIRST_YEAR else when
        for cell, when in zip(cells, read, strict=True)
    ], "m/d/yyyy" if midnight else "m/d/yy h:mm")  # fmt: skip


def _shown(name: str) -> str:
    """Return how a spreadsheet shows the numbers of a column; the cell keeps all digits."""
    if name == "confidence" or name.startswith("p_"):
        return "0 %"
    if name.startswith("annual_cost"):
        return "#,##0"
    if name == measures.FLOW or name.startswith("steam_loss"):
        return "#,##0.00"
    if name in ("annual_loss_klb", "annual_co2_t", "saturation_f", "return_saturation_f",
                "subcooling_f", "sound_over_background_db"):
        return "#,##0.0"
    if name in measures.MEASURES and measures.in_si():
        return f"#,##0.{'0' * measures.MEASURES[name].decimals}"
    return "0" if name == "rank" else "General"


def _work(findings: Findings, show_money: bool) -> list[Column]:
    jobs = work.jobs(findings)
    currency = words.tidy(findings.summary.get("currency"), 12)
    flow, heat = measures.unit(measures.FLOW), measures.unit(measures.HEAT)

    def told(key: str, cells: Sequence[Any], shown: str = "", unit: str = "") -> Column:
        return Column(key, WORK_HEADS[key].format(unit), cells, shown)

    columns = [
        told("order", list(range(1, len(jobs) + 1)), "0"),
        told("level", [job.title for job in jobs]),
        told("tag", [job.tag for job in jobs]),
        told("place", [job.place for job in jobs]),
        told("station", [job.station for job in jobs]),
        told("what", [job.what for job in jobs]),
        told("why", [job.why for job in jobs]),
        told("parts", [job.parts for job in jobs]),
        told("read_again", [job.read_again for job in jobs]),
        told("explains", [", ".join(job.explains) for job in jobs]),
        told("confidence", [job.confidence for job in jobs], "0 %"),
    ]
    if show_money:
        columns += [
            told(key, [job.sums[name] for job in jobs], "#,##0", currency)
            for key, name in (("cost", "annual_cost"), ("cost_low", "annual_cost_low"),
                              ("cost_high", "annual_cost_high"))
        ]
    columns.append(told("loss", [measures.value(measures.FLOW, job.sums[measures.FLOW])
                                 for job in jobs], "#,##0.00", flow))
    back = [measures.value(measures.HEAT, job.heat_back_btu_per_h) for job in jobs]
    columns.append(told("heat", back, "#,##0", heat))
    return columns


def _assumptions(findings: Findings, show_money: bool) -> list[Column]:
    said = sections.basis(findings, tables.totals(findings), show_money, most=None)
    rows = [(SAY["method"], said["basis"])] if said["basis"] else []
    rows += [(SAY["assumed"], line) for line in said["assumptions"]]
    rows += [(SAY["noticed"], line) for line in said["notes"]]
    return [
        Column("about", ABOUT_HEADS["about"], [about for about, _ in rows]),
        Column("said", ABOUT_HEADS["said"], [line for _, line in rows]),
    ]


def _told(findings: Findings) -> list[Column]:
    told = [e for e in findings.summary.get("calibration", []) if isinstance(e, dict)]
    ends = [_estimate(entry) for entry in told]
    texts = {
        "instrument": [words.tidy(e.get("what"), 80) for e in told],
        "place": [words.tidy(e.get("group"), 80) for e in told],
    }
    return [
        *(Column(key, TOLD_HEADS[key], cells) for key, cells in texts.items()),
        *(Column(key, TOLD_HEADS[key], [one[at] for one in ends], "0.0##")
          for at, key in enumerate(("value", "low", "high"))),
        Column("unit", TOLD_HEADS["unit"], [one[3] for one in ends]),
        Column("said", TOLD_HEADS["said"], [
            spoken(words.tidy(e.get("words"), 600), [words.tidy(e.get("group"), 200)])
            for e in told
        ]),
    ]


def _estimate(entry: Mapping[str, Any]) -> tuple[float, float, float, str]:
    unit = words.tidy(entry.get("unit"), 40)
    figures = [_number(entry.get(end)) for end in ("value", "low", "high")]
    if unit == "psi to add" and measures.in_si():
        figures = [measures.value("pressure_psi", figure) for figure in figures]
        unit = "bar to add"
    return figures[0], figures[1], figures[2], unit


def _number(value: Any) -> float:
    known = isinstance(value, int | float) and not isinstance(value, bool)
    return float(value) if known and math.isfinite(value) else math.nan


