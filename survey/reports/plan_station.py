"""The pressure plan of one station as blocks: what binds it, its steps, what it saves."""

from __future__ import annotations

import math
from collections.abc import Iterable

from survey.plant.aside import SetAside
from survey.plant.limits import Binding
from survey.plant.saving import Saving
from survey.plant.stepdown import StationPlan
from survey.plant.steps import Band, Step, Watched
from survey.plant.wording import listed
from survey.reports import measures, numerals, plan_words
from survey.reports.blocks import Block, Drawing, Heading, Paragraph, Points, Table
from survey.reports.lost_chart import chart_words, lost_chart
from survey.reports.measures import GAUGE, PRESSURE
from survey.reports.spoken import spoken
from survey.reports.words import (
    NOT_KNOWN,
    TRAP_TYPES,
    counted,
    figure,
    money,
    percent,
    ranged,
    tidy,
)

LONGEST_ASIDE = 90
LEAST_SHIFT_PSI = 0.25
"""A gauge that is wrong by less than this is not spoken of."""
MOST_IN_CELL = 8
"""Of the units to watch in the list of all steps; each step's own list has them all."""


def station_name(station: str) -> str:
    """Return a station as a heading names it."""
    return f"Station {station}" if station else "Rows that name no station"


def station_headline(plan: StationPlan) -> str:
    """Return in a sentence or two whether a station can go down, and how far."""
    now = (
        f" ({measures.figured(GAUGE, plan.today_psig)} today)"
        if math.isfinite(plan.today_psig) else ""
    )  # fmt: skip
    said = f"{station_name(plan.station)}{now} {plan_words.STANDING_WORDS[plan.standing]}."
    aside = aside_words(plan.set_aside, plan_words.ASIDE_SHORT)
    return " ".join(filter(None, (said, why_words(plan), aside)))


def why_words(plan: StationPlan) -> str:
    """Return why a station stands where it does; names in it are left as they are."""
    return spoken(plan.why, [plan.station, *plan.named])


def aside_words(aside: SetAside, template: str = plan_words.ASIDE) -> str:
    """Return what is to be said of rows set aside, in one of the templates; '' where none are."""
    if not aside.count:
        return ""
    many = aside.count > 1
    names = ", ".join(tidy(name, LONGEST_ASIDE) for name in aside.names)
    more = aside.count - len(aside.names)
    if more:
        names = plan_words.AND_MORE.format(names=names, count=numerals.grouped(more))
    return template.format(
        rows=counted(aside.count, *plan_words.ROW), names=names, they=plan_words.THEY[many],
        them=plan_words.THEM[many], are=plan_words.ARE[many],
    )  # fmt: skip


def station_blocks(plan: StationPlan, currency: str) -> list[Block]:
    """Return everything about one station."""
    blocks: list[Block] = [
        Heading(2, station_name(plan.station)), Paragraph(why_words(plan)),
    ]  # fmt: skip
    if plan.set_aside.count:
        blocks.append(Paragraph(aside_words(plan.set_aside)))
    if abs(plan.gauge_shows_psig - plan.today_psig) > 0.5:
        blocks.append(Paragraph(
            f"Its gauge shows {measures.figured(GAUGE, plan.gauge_shows_psig)} where the "
            f"temperatures say {measures.figured(GAUGE, plan.today_psig)}: pressures here are "
            "true, with what the gauge shows beside each step."
        ))  # fmt: skip
    if plan.curve is not None:
        drawn = lost_chart(plan.curve, today_psig=plan.today_psig, end_psig=plan.end_psig)
        said = chart_words(plan.curve)
        blocks += [Heading(3, "Units lost against pressure"), Drawing(drawn, said),
                   Paragraph(said)]  # fmt: skip
    if plan.binding:
        blocks += _binding(plan)
    for step in plan.steps:
        blocks += _step(step, plan.units - plan.known, plan.set_aside)
    saved = savings_table(plan, currency)
    blocks += [saved] if saved is not None else []
    if plan.unknowns:
        blocks += [Heading(3, "Not known"), Points(tuple(
            spoken(
                f"{u.what}: {counted(u.count, 'unit')} ({', '.join(u.tags)}"
                f"{', …' if u.count > len(u.tags) else ''}). To do: {u.do}.", u.tags,
            )
            for u in plan.unknowns
        ))]  # fmt: skip
    return blocks


def savings_table(plan: StationPlan, currency: str) -> Table | None:
    """Return what is saved at the end of the plan; None where there is no way down."""
    if not plan.savings:
        return None
    rows = tuple(_saving_row(one, currency) for one in plan.savings)
    heads = ("what", "saved", "a year", "mind")
    caption = f"Saved at {measures.figured(GAUGE, plan.end_psig)}, 10-90 % range in brackets"
    return Table(f"{caption}; not to be added up", heads, rows)


def steps_table(plan: StationPlan) -> Table:
    """Return the steps one under the other: how far, how long to wait, whom to watch."""
    rows = tuple(
        (
            numerals.grouped(step.number), _step_pressure(step),
            plan_words.STEP_WAIT.format(hours=_hours(step.wait_hours)),
            listed([one.tag for one in step.watch], most=MOST_IN_CELL)
            if step.watch else plan_words.NONE_TO_WATCH,
            _standing_back(step),
        )
        for step in plan.steps
    )  # fmt: skip
    return Table(plan_words.STEPS_CAPTION, plan_words.STEPS_HEADS, rows)


def _step_pressure(step: Step) -> str:
    pressure = measures.figured(GAUGE, step.psig)
    if abs(step.gauge_shows_psig - step.psig) < LEAST_SHIFT_PSI:
        return pressure
    gauge = figure(measures.value(GAUGE, step.gauge_shows_psig))
    return plan_words.STEP_PRESSURE.format(pressure=pressure, gauge=gauge)


def _standing_back(step: Step) -> str:
    low, high, expected, today = (
        numerals.grouped(count, 1)
        for count in (step.lost_low, step.lost_high, step.lost_expected, step.lost_today)
    )
    return plan_words.STEP_BACK.format(expected=expected, low=low, high=high, today=today)


def _binding(plan: StationPlan) -> list[Block]:
    rows = tuple(_binding_row(one) for one in plan.binding)
    heads = ("unit", "where", "needs", "what binds", "what would free it", "floor once freed")
    target = measures.figured(GAUGE, min(plan.target_psig, plan.today_psig))
    caption = f"Units that hold it over {target}, the highest first"
    left = numerals.grouped(plan.more_binding)
    more = [Paragraph(f"And {left} more.")] if plan.more_binding else []
    return [Table(caption, heads, rows), *more]


def _binding_row(one: Binding) -> tuple[str, ...]:
    return (
        one.tag, one.where, measures.figured(GAUGE, one.limit_psig), spoken(one.why),
        spoken(one.freed_by), measures.figured(GAUGE, one.freed_floor_psig),
    )  # fmt: skip


def _step(step: Step, unknown: int, aside: SetAside) -> list[Block]:
    binds = f" {step.binds_next} binds next." if step.binds_next else ""
    unseen = (
        f" {counted(unknown, 'unit')} whose needs are not known {'is' if unknown == 1 else 'are'} "
        "not in these figures: read every one."
        if unknown
        else ""
    )
    unread = f" {aside_words(aside, plan_words.ASIDE_AT_STEP)}".rstrip()
    said = (
        f"Steam at {_temperature(step.saturation_f)}. Inlets of working traps, true temperature: "
        f"{_bands(step.bands)}. Wait {_hours(step.wait_hours)} hours. Units held back by the "
        "pressure, not by a shut or stuck valve: "
        f"{_standing_back(step)}.{binds}{unseen}{unread}"
    )
    heads = ("unit", "where", "chance to flood", "to spare", "inlet should be",
             "thermometer should show", "read", "time")  # fmt: skip
    rows = tuple(_watch_row(one) for one in step.watch)
    watch = [Table("Watch these, the likeliest to flood first", heads, rows)] if rows else []
    title = f"Step {step.number}: {_step_pressure(step)}"
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
    amount = measures.flow(ends) if steam else ranged(*ends, one.unit)
    amount = amount if math.isfinite(one.expected) else NOT_KNOWN
    known = math.isfinite(one.cost)
    cost = money(one.cost, currency, one.cost_low, one.cost_high) if known else NOT_KNOWN
    return (one.what, amount, cost, spoken(one.note))
