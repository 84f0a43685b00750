"""The pressure plan of one station as blocks: what binds it, its steps, what it saves."""

from __future__ import annotations

import math
from collections.abc import Iterable

from survey.plant.limits import Binding
from survey.plant.saving import Saving
from survey.plant.stepdown import StationPlan
from survey.plant.steps import Band, Step, Watched
from survey.reports import measures, numerals, plan_words
from survey.reports.blocks import Block, Drawing, Heading, Paragraph, Points, Table
from survey.reports.lost_chart import chart_words, lost_chart
from survey.reports.measures import GAUGE, PRESSURE
from survey.reports.spoken import spoken
from survey.reports.words import TRAP_TYPES, counted, figure, money, percent, span


def station_name(station: str) -> str:
    """Return a station as a heading names it."""
    return f"Station {station}" if station else "Rows that name no station"


def station_headline(plan: StationPlan) -> str:
    """Return in a sentence or two whether a station can go down, and how far."""
    now = (
        f" ({measures.figured(GAUGE, plan.today_psig)} today)"
        if math.isfinite(plan.today_psig) else ""
    )  # fmt: skip
    why = spoken(plan.why, [plan.station])
    return f"{station_name(plan.station)}{now} {plan_words.STANDING_WORDS[plan.standing]}. {why}"


def station_blocks(plan: StationPlan, currency: str) -> list[Block]:
    """Return everything about one station."""
    blocks: list[Block] = [
        Heading(2, station_name(plan.station)), Paragraph(spoken(plan.why, [plan.station])),
    ]  # fmt: skip
    if abs(plan.gauge_shows_psig - plan.today_psig) > 0.5:
        blocks.append(Paragraph(
            f"Its gauge shows {measures.figured(GAUGE, plan.gauge_shows_psig)} where the "
            f"temperatures say {measures.figured(GAUGE, plan.today_psig)}: pressures here are "
            "true, with what the gauge shows beside each step."
        ))  # fmt: skip
    if plan.curve is not None:
        drawn = lost_chart(plan.curve, today_psig=plan.today_psig, end_psig=plan.end_psig)
        blocks += [Heading(3, "Units lost against pressure"), Drawing(drawn),
                   Paragraph(chart_words(plan.curve))]  # fmt: skip
    if plan.binding:
        blocks += _binding(plan)
    for step in plan.steps:
        blocks += _step(step, plan.units - plan.known)
    if plan.savings:
        rows = tuple(_saving_row(one, currency) for one in plan.savings)
        heads = ("what", "saved", "a year", "mind")
        caption = f"Saved at {measures.figured(GAUGE, plan.end_psig)}, 10-90 % range in brackets"
        blocks.append(Table(f"{caption}; not to be added up", heads, rows))
    if plan.unknowns:
        blocks += [Heading(3, "Not known"), Points(tuple(
            spoken(
                f"{u.what}: {counted(u.count, 'unit')} ({', '.join(u.tags)}"
                f"{', …' if u.count > len(u.tags) else ''}). To do: {u.do}.", u.tags,
            )
            for u in plan.unknowns
        ))]  # fmt: skip
    return blocks


def _binding(plan: StationPlan) -> list[Block]:
    rows = tuple(_binding_row(one) for one in plan.binding)
    heads = ("unit", "where", "needs", "what binds", "what would free it", "floor once freed")
    target = measures.figured(GAUGE, plan.target_psig)
    caption = f"Units that hold it over {target}, the highest first"
    left = numerals.grouped(plan.more_binding)
    more = [Paragraph(f"And {left} more.")] if plan.more_binding else []
    return [Table(caption, heads, rows), *more]


def _binding_row(one: Binding) -> tuple[str, ...]:
    return (
        one.tag, one.where, measures.figured(GAUGE, one.limit_psig), spoken(one.why),
        spoken(one.freed_by), measures.figured(GAUGE, one.freed_floor_psig),
    )  # fmt: skip


def _step(step: Step, unknown: int) -> list[Block]:
    gauge = figure(measures.value(GAUGE, step.gauge_shows_psig))
    apart = abs(step.gauge_shows_psig - step.psig) >= 0.25
    shown = f" (the gauge will show {gauge})" if apart else ""
    binds = f" {step.binds_next} binds next." if step.binds_next else ""
    unseen = (
        f" {counted(unknown, 'unit')} whose needs are not known {'is' if unknown == 1 else 'are'} "
        "not in these figures: read every one."
        if unknown
        else ""
    )
    low, high, expected, today = (
        numerals.grouped(count, 1)
        for count in (step.lost_low, step.lost_high, step.lost_expected, step.lost_today)
    )
    said = (
        f"Steam at {_temperature(step.saturation_f)}. Inlets of working traps, true temperature: "
        f"{_bands(step.bands)}. Wait {_hours(step.wait_hours)} hours. Units standing back: "
        f"{expected} expected ({low} to {high}), {today} today.{binds}{unseen}"
    )
    heads = ("unit", "where", "chance to flood", "to spare", "inlet should be",
             "thermometer should show", "read", "time")  # fmt: skip
    rows = tuple(_watch_row(one) for one in step.watch)
    watch = [Table("Watch these, the likeliest to flood first", heads, rows)] if rows else []
    title = f"Step {step.number}: {measures.figured(GAUGE, step.psig)}{shown}"
    return [Heading(3, title), Paragraph(said), *watch]


def _watch_row(one: Watched) -> tuple[str, ...]:
    spare = f"{measures.to_places(PRESSURE, one.margin_psi, 1)} {measures.unit(PRESSURE)}"
    chance = plan_words.NO_CHANCE if one.chance < 0.01 else percent(one.chance)
    return (one.tag, one.where, chance, spare, _temperature(one.inlet_f), _reads(one.reads_f),
            "", "")  # fmt: skip


def _bands(bands: Iterable[Band]) -> str:
    name = measures.TEMPERATURE
    return "; ".join(
        f"{TRAP_TYPES.get(b.trap_type, b.trap_type or 'type not known')} "
        f"{measures.to_places(name, b.low_f, 0)} to {_temperature(b.high_f)}"
        for b in bands
    )


def _temperature(temperature_f: float) -> str:
    name = measures.TEMPERATURE
    return f"{measures.to_places(name, temperature_f, 0)} {measures.unit(name)}"


def _reads(temperature_f: float) -> str:
    return _temperature(temperature_f) if math.isfinite(temperature_f) else "not known"


def _hours(hours: float) -> str:
    typed = f"{hours:g}"
    return numerals.grouped(hours, len(typed.partition(".")[2])) if "e" not in typed else typed


def _saving_row(one: Saving, currency: str) -> tuple[str, ...]:
    steam = one.unit == measures.MEASURES[measures.FLOW].us
    ends = (one.expected, one.low, one.high)
    expected, low, high = (measures.value(measures.FLOW, end) if steam else end for end in ends)
    unit = measures.unit(measures.FLOW) if steam else one.unit
    amount = f"{figure(expected)} {unit} {span(expected, low, high)}".strip()
    known = math.isfinite(one.cost)
    cost = money(one.cost, currency, one.cost_low, one.cost_high) if known else "not known"
    return (one.what, amount, cost, spoken(one.note))
