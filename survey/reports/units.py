"""One judged device in words, ready to be set in a page: texts and figures, no markup."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import pandas as pd

from survey.columns import UNDECIDED
from survey.reports import measures, words
from survey.reports.charts import Mark, temperature
from survey.reports.spoken import spoken

_READINGS = (
    ("supply_psig", "{} ahead of it"),
    ("return_psig", "{} in the return"),
    ("inlet_temp_f", "inlet {}"),
    ("outlet_temp_f", "outlet {}"),
    ("ambient_f", "air {}"),
    ("sound_db", "sound {}"),
    ("background_db", "background {}"),
    ("sound_pattern", "heard: {}"),
    ("valve_position", "valve {}"),
    ("observed", "came out: {}"),
    ("present", "fitted: {}"),
    ("lift_ft", "lift {}"),
    ("orifice_in", "bore {}"),
    ("trap_type", "{}"),
    ("service", "{}"),
)

COST_NAMES = ("annual_cost", "annual_cost_low", "annual_cost_high")
LOSS_NAMES = ("steam_loss_lb_per_h", "steam_loss_low_lb_per_h", "steam_loss_high_lb_per_h")
# Under these a figure would be printed as 0, and a zero is no loss to speak of.
LEAST_COST = 0.5
LEAST_LOSS_LB_PER_H = 0.005


@dataclass(frozen=True)
class Unit:
    """One device as a reader meets it. Texts are tidy and cut; figures are in words."""

    rank: str
    tag: str
    device_key: str
    device: str
    state_key: str
    state: str
    group: str
    equipment: str
    area: str
    station: str
    figure: str
    span: str
    sure: str
    confidence: float
    cause: str
    action: str
    evidence: str
    readings: str
    doubts: str
    note: str
    marks: tuple[Mark, ...]

    @property
    def place(self) -> str:
        """Return equipment and area, as far as they are known."""
        return ", ".join(part for part in (self.equipment, self.area) if part)


def units(rows: pd.DataFrame, *, currency: str, show_money: bool) -> Iterator[Unit]:
    """Yield a `Unit` for each row, in order.

    Parameters
    ----------
    rows
        Rows of the findings.
    currency
        Printed before each cost.
    show_money
        False gives steam lost in place of cost everywhere.
    """
    names = [str(name) for name in rows.columns]
    for values in rows.itertuples(index=False, name=None):
        yield unit(dict(zip(names, values, strict=True)), currency, show_money)


def unit(row: Mapping[str, Any], currency: str, show_money: bool) -> Unit:
    """Return one row of findings in words."""
    device = words.tidy(row.get("device")) or "trap"
    state = words.tidy(row.get("state"))
    rank = number(row, "rank")
    return Unit(
        rank="" if math.isnan(rank) else f"{rank:.0f}",
        tag=words.tidy(row.get("tag"), 40) or "(no number)",
        device_key=device,
        device=words.word(device),
        state_key=state,
        state=words.state_words(state, device),
        group=words.group_of(state, device),
        equipment=words.tidy(row.get("equipment"), 40),
        area=words.tidy(row.get("area"), 40),
        station=words.tidy(row.get("station"), 40),
        figure=loss_words(row, currency, show_money),
        span=loss_span(row, show_money),
        sure="" if state == UNDECIDED else words.sureness(number(row, "confidence")),
        confidence=number(row, "confidence"),
        cause=words.CAUSES.get(str(row.get("cause")), words.word(row.get("cause"))),
        action=sentence(row, "action"),
        evidence=sentence(row, "evidence"),
        readings=readings(row),
        doubts=_doubts(row),
        note=words.tidy(row.get("note"), 240),
        marks=marks(row),
    )


def sentence(row: Mapping[str, Any], name: str) -> str:
    """Return a sentence that the judging wrote for a row, its figures in the manner of now."""
    said = words.tidy(row.get(name), words.LONGEST_SENTENCE)
    names = (words.tidy(row.get(key), 200) for key in ("tag", "equipment", "area", "station"))
    return spoken(said, names)


def number(row: Mapping[str, Any], name: str) -> float:
    """Return a number of a row, NaN where it is missing or is none."""
    value = row.get(name)
    if isinstance(value, bool) or not isinstance(value, int | float):
        return math.nan
    return float(value) if math.isfinite(value) else math.nan


def loss_words(row: Mapping[str, Any], currency: str, show_money: bool) -> str:
    """Return cost a year, or steam lost where money is not shown; '' for next to nothing."""
    value = loss_figures(row, show_money)[0]
    if not value >= (LEAST_COST if show_money else LEAST_LOSS_LB_PER_H):
        return ""
    return words.money(value, currency) if show_money else measures.flow((value,))


def loss_span(row: Mapping[str, Any], show_money: bool) -> str:
    """Return the range of that figure in brackets, '' where the figure is not shown."""
    if not loss_words(row, "", show_money):
        return ""
    if show_money:
        return words.span(*loss_figures(row, show_money), words.coins)
    value, low, high = (measures.value(measures.FLOW, f) for f in loss_figures(row, show_money))
    return words.span(value, low, high)


def loss_figures(row: Mapping[str, Any], show_money: bool) -> tuple[float, float, float]:
    """Return cost a year, or steam lost, with both ends of its range; NaN where missing."""
    names = COST_NAMES if show_money else LOSS_NAMES
    value, low, high = (number(row, name) for name in names)
    return value, low, high


def readings(row: Mapping[str, Any]) -> str:
    """Return what was read at the device as one phrase, without what is missing."""
    said = []
    for name, phrase in _READINGS:
        value = row.get(name)
        if isinstance(value, int | float) and not isinstance(value, bool):
            if math.isfinite(value):
                said.append(phrase.format(measures.said(name, value)))
        elif text := words.word(value):
            said.append(phrase.format(text))
    return "; ".join(said)


def marks(row: Mapping[str, Any]) -> tuple[Mark, ...]:
    """Return the temperatures of a device worth drawing; none unless something was read."""
    supply, back = (_at(row, name) for name in ("supply_psig", "return_psig"))
    wanted = (
        ("saturation_f", f"Steam{supply}", False),
        ("inlet_temp_f", "Inlet, as read", True),
        ("outlet_temp_f", "Outlet, as read", True),
        ("return_saturation_f", f"Return steam{back}", False),
    )
    found = [
        Mark(said, measures.value(name, number(row, name)), read) for name, said, read in wanted
    ]
    found = [mark for mark in found if math.isfinite(mark.value)]
    return tuple(found) if any(mark.read for mark in found) and len(found) > 1 else ()


def temperature_sentence(unit: Unit) -> str:
    """Return in one sentence what the temperatures of a device show."""
    said = [f"{mark.words} {temperature(mark.value)}" for mark in unit.marks]
    return words.capital("; ".join(said)) + "."


def _at(row: Mapping[str, Any], name: str) -> str:
    pressure = number(row, name)
    return "" if math.isnan(pressure) else f" at {_told(name, pressure)}"


def _told(name: str, pressure: float) -> str:
    return f"{measures.reading(name, pressure)} {measures.unit_in_text(name)}"


def _doubts(row: Mapping[str, Any]) -> str:
    flags = words.tidy(row.get("flags"), 300).split(";")
    return "; ".join(words.word(flag.strip()) for flag in flags if flag.strip())
