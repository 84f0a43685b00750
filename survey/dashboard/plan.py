"""The plant: what is upstream of the traps, and the way down in pressure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import pandas as pd
import plotly.graph_objects as go
import streamlit as st

from survey.dashboard import look, say, state
from survey.dashboard.judging import site_of
from survey.errors import SurveyError
from survey.plant.curve import LostCurve
from survey.plant.stepdown import StationPlan, Wishes
from survey.plant.worklist import LEVELS, WorkLine, work_list
from survey.reports import palette, plan_words
from survey.reports.lost_chart import chart_words
from survey.reports.plan import PlanPaper, plan_html
from survey.reports.plan_paper import make_paper


@dataclass(frozen=True)
class _Asked:
    to_psig: float
    spare_percent: int


def show() -> None:
    """Draw the page."""
    st.title("The plant, upstream first")
    findings = state.judged()
    work = state.work()
    try:
        site = site_of(work.site_file, work.site_given)
        asked = _asked()
        wishes = Wishes(asked.to_psig, spare_share=asked.spare_percent / 100)
        paper = make_paper(findings, site=site, wishes=wishes)
    except SurveyError as error:
        say.text(error.paragraph())
        return
    st.warning(" ".join(plan_words.STEP_CAUTIONS))
    if paper.common:
        st.subheader("What many units have in common")
        say.items([f"{cause.words} First: {cause.check_first}" for cause in paper.common])
    _by_area(work_list(findings.table, site=site, common=paper.common))
    _stations(paper)


def _asked() -> _Asked:
    left, right = st.columns(2)
    to = left.number_input("Pressure wanted, psig", -10.0, 3000.0, 5.0, key="kept_plan_to")
    spare = right.slider("Heat to spare on the coldest day, %", 0, 60, 20, key="kept_plan_spare")
    return _Asked(float(to), int(spare))


def _by_area(lines: Sequence[WorkLine]) -> None:
    st.subheader("The work list, upstream before trap")
    if not lines:
        st.info("Nothing is to be done.")
        return
    areas = sorted({line.area for line in lines})
    picked = st.selectbox(
        "Area", ["", *areas], format_func=lambda name: say.shown(name or "all", 80),
        key="kept_plan_area",
    )  # fmt: skip
    shown = [line for line in lines if not picked or line.area == picked]
    st.dataframe(
        pd.DataFrame(
            {
                "first": [LEVELS[line.level] for line in shown],
                "device": [line.tag or line.where for line in shown],
                "where": [line.where for line in shown],
                "what": [line.what for line in shown],
                "explains": [", ".join(line.explains) for line in shown],
                "parts": [line.parts for line in shown],
                "read again": [line.read_again for line in shown],
                "why": [line.why for line in shown],
            }
        ),
        hide_index=True,
        width="stretch",
    )


def _stations(paper: PlanPaper) -> None:
    st.subheader("Bringing the pressure down")
    for plan in paper.plan.stations:
        say.text(f"Station {plan.station or '(none named)'} "
                 f"{plan_words.STANDING_WORDS[plan.standing]}. {plan.why}")  # fmt: skip
        if plan.curve is not None:
            look.chart(lost_figure(plan.curve, plan, look.theme()))
            say.text(chart_words(plan.curve))
        if plan.binding:
            one = plan.binding[0]
            say.text(f"{one.tag} ({one.where}) binds at {one.limit_psig:.1f} psig: {one.why}. "
                     f"{one.freed_by}")  # fmt: skip
        say.items([f"{u.what}: {u.count:,}. To do: {u.do}." for u in plan.unknowns])
    st.download_button(
        "The step list, to take along on paper",
        data=plan_html(paper).encode(),
        mime="text/html",
        file_name="pressure-plan.html",
        on_click="ignore",
        width="stretch",
        key="plan_html",
    )
    say.items(list(paper.plan.assumptions))


def lost_figure(curve: LostCurve, plan: StationPlan, theme: str) -> go.Figure:
    """Draw units lost against pressure with the 10-90 % range."""
    colours = palette.DARK if theme == "dark" else palette.LIGHT
    both_ways = [*curve.psig, *reversed(curve.psig)]
    figure = go.Figure(
        [
            go.Scatter(
                x=both_ways, y=[*curve.high, *reversed(curve.low)], fill="toself",
                fillcolor=colours["copper-wash"], line={"width": 0}, name="10–90 % range",
                hoverinfo="skip",
            ),
            go.Scatter(
                x=curve.psig, y=curve.expected, mode="lines", name="expected",
                line={"width": 3, "color": colours["copper"]},
                hovertemplate="%{x:.0f} psig: %{y:.1f} units<extra></extra>",
            ),
        ]
    )  # fmt: skip
    figure.add_vline(x=plan.today_psig, line_dash="dash", line_color=colours["ink"],
                     annotation_text="today")  # fmt: skip
    lines = {"gridcolor": colours["rule"], "automargin": True}
    figure.update_xaxes(title="psig at the station", **lines)
    figure.update_yaxes(title="units standing back", rangemode="tozero", **lines)
    figure.update_layout(
        height=340, margin={"l": 10, "r": 10, "t": 30, "b": 10}, plot_bgcolor=colours["sheet"],
        paper_bgcolor=colours["sheet"], font={"color": colours["ink"], "size": 15},
        legend={"orientation": "h", "y": 1.12},
    )  # fmt: skip
    return figure


if __name__ == "__main__":
    show()
