"""The way down in pressure, station by station: how far, the steps, what is saved."""

from __future__ import annotations

import pandas as pd
import streamlit as st

from survey.dashboard import drawing, say
from survey.dashboard.drawing import told
from survey.dashboard.wording import planning_words
from survey.plant.stepdown import PressurePlan, StationPlan
from survey.reports import plan_words, words
from survey.reports.blocks import Table
from survey.reports.lost_chart import chart_words, lost_chart
from survey.reports.plan_station import aside_words, savings_table, steps_table

MOST_STEPS_OPEN = 3
"""More steps than these are folded up."""


def show(plan: PressurePlan) -> None:
    """Draw every station, and once what was set aside of none of them."""
    elsewhere = aside_words(plan.set_aside, plan_words.ASIDE_ELSEWHERE)
    if elsewhere:
        say.text(elsewhere)
    for station in plan.stations:
        _station(station, plan.currency)


def _station(plan: StationPlan, currency: str) -> None:
    name = plan.station or planning_words.NO_STATION
    st.markdown(planning_words.STATION.format(name=say.escaped(name)))
    standing = planning_words.STANDING.format(
        standing=plan_words.STANDING_WORDS[plan.standing], why=plan.why
    )
    say.text(told(standing, (name,)))
    if plan.set_aside.count:
        say.text(aside_words(plan.set_aside))
    if plan.curve is not None:
        drawing.svg(lost_chart(plan.curve, today_psig=plan.today_psig, end_psig=plan.end_psig))
        say.text(chart_words(plan.curve))
    if plan.binding:
        one = plan.binding[0]
        held = planning_words.BINDS.format(
            tag=one.tag, where=one.where, psig=f"{one.limit_psig:.1f}", why=one.why,
            freed_by=one.freed_by,
        )  # fmt: skip
        say.text(told(held, (one.tag, one.where)))
    _steps(plan)
    _saved(plan, currency)
    say.items([
        told(planning_words.UNKNOWN.format(what=u.what, count=f"{u.count:,}", do=u.do))
        for u in plan.unknowns
    ])  # fmt: skip


def _steps(plan: StationPlan) -> None:
    if not plan.steps:
        return
    title = planning_words.STEPS.format(count=words.counted(len(plan.steps), *planning_words.STEP))
    with st.expander(title, expanded=len(plan.steps) <= MOST_STEPS_OPEN):
        say.table(_framed(steps_table(plan)))
        if plan.set_aside.count:
            say.text(aside_words(plan.set_aside, plan_words.ASIDE_AT_STEP))


def _saved(plan: StationPlan, currency: str) -> None:
    table = savings_table(plan, currency)
    if table is None:
        return
    # What is to be borne in mind is a sentence each: under the table, or a phone has no room.
    say.text(table.caption)
    say.table(_framed(table).iloc[:, :-1])
    say.items([
        planning_words.TO_MIND.format(what=row[0], note=row[-1]) for row in table.rows
    ])  # fmt: skip


def _framed(table: Table) -> pd.DataFrame:
    return pd.DataFrame(list(table.rows), columns=list(table.heads), dtype="str")
