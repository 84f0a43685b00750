"""The plant: what is upstream of the traps, and the way down in pressure."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import streamlit as st

from survey.dashboard import downloads, say, state, way_down, work_lines
from survey.dashboard.drawing import told
from survey.dashboard.judging import site_of
from survey.dashboard.number_field import number_field
from survey.dashboard.wording import planning_words, screen_words
from survey.errors import SurveyError
from survey.findings import Findings
from survey.plant.stepdown import Wishes
from survey.plant.worklist import work_list
from survey.reports import manner, measures, plan_words, words
from survey.reports.plan import PlanPaper, plan_html, plan_pdf
from survey.reports.plan_paper import make_paper
from survey.site import Site


@dataclass(frozen=True)
class _Asked:
    to_psig: float
    spare_percent: int


def show() -> None:
    """Draw the page."""
    st.title(planning_words.PLANT_TITLE)
    findings, work = state.judged(), state.work()
    list_first = st.container()
    st.subheader(planning_words.PRESSURE_DOWN, anchor=False)
    asked = _asked()
    try:
        site = site_of(work.site_file, work.site_given)
        wishes = Wishes(asked.to_psig, spare_share=asked.spare_percent / 100)
        paper = make_paper(findings, site=site, wishes=wishes)
    except SurveyError as error:
        say.problem(error)
        return
    with list_first:
        _work_list(findings, paper, site)
    _cautions()
    _stations(paper)


def _asked() -> _Asked:
    left, right = st.columns(2)
    low, high, usual = (measures.value("supply_psig", psig) for psig in (-10.0, 3000.0, 5.0))
    with left:
        to = number_field(
            planning_words.PRESSURE_WANTED.format(unit=measures.unit("supply_psig")),
            key=f"kept_plan_to_{manner.current().units}", low=low, high=high, usual=usual,
            step=0.1 if measures.in_si() else 1.0,
        )  # fmt: skip
    spare = right.number_input(planning_words.SPARE_HEAT, 0, 60, 20, step=5, key="kept_plan_spare")
    to_psig = to / measures.value("supply_psig", 1.0)  # a gauge pressure: zero is zero in both
    return _Asked(float(to_psig), int(spare))


def _work_list(findings: Findings, paper: PlanPaper, site: Site) -> None:
    if paper.common:
        st.subheader(planning_words.IN_COMMON, anchor=False)
        say.items([
            told(
                planning_words.CAUSE_AND_CHECK.format(cause=cause.words, check=cause.check_first),
                (cause.group,),
            )
            for cause in paper.common
        ])  # fmt: skip
    st.subheader(planning_words.WORK_LIST, anchor=False)
    lines = work_list(findings.table, site=site, common=paper.common)
    if not lines:
        st.info(planning_words.NOTHING_TO_DO)
        return
    areas = sorted({line.area for line in lines})
    picked = st.selectbox(
        planning_words.AREA, ["", *areas], key="kept_plan_area",
        format_func=lambda name: say.shown(name or screen_words.ALL, 80),
    )  # fmt: skip
    say.cautions()
    lines = [line for line in lines if not picked or line.area == picked]
    work_lines.show_by_area(lines, "plan")
    name = str(findings.summary.get("site_name", ""))
    downloads.work_list_buttons(work_lines.as_table(lines), name)


def _cautions() -> None:
    with st.container(border=True):
        st.markdown(planning_words.BEFORE_ANY_STEP)
        say.items([line for line in plan_words.STEP_CAUTIONS if line not in words.CAUTION_POINTS])


def _stations(paper: PlanPaper) -> None:
    way_down.show(paper.plan)
    make: dict[str, Callable[[], str | bytes]] = {
        "pdf": partial(plan_pdf, paper), "html": partial(plan_html, paper),
    }  # fmt: skip
    downloads.papers("pressure-plan", planning_words.STEP_LIST_FILES, make)
    with st.expander(planning_words.ASSUMED):
        say.items([told(line) for line in paper.plan.assumptions])


if __name__ == "__main__":
    show()
