"""The units someone ticked, as a work list to take along: upstream before trap."""

from __future__ import annotations

import streamlit as st

from survey.dashboard import downloads, say, state, work_lines
from survey.dashboard.judging import site_of
from survey.dashboard.wording import findings_words, screen_words
from survey.errors import SurveyError
from survey.findings import Findings
from survey.plant.worklist import WorkLine, work_list
from survey.reports import words
from survey.site import Site


def show() -> None:
    """Draw the work list, or how to make one."""
    findings, work = state.judged(), state.work()
    here = findings.table["tag"].astype("str")
    known = set(here[here.isin(work.picked)]) if work.picked else set()
    picked = [tag for tag in work.picked if tag in known]
    st.subheader(findings_words.MY_LIST, anchor=False)
    if not picked:
        st.markdown(findings_words.TICK_UNITS)
        return
    last = picked[-1]
    label = findings_words.OPEN_TICKED_LAST.format(unit=say.escaped(last))
    if st.button(label, width="stretch", key="open_last"):
        st.session_state["kept_unit"] = last
        st.switch_page("unit.py")
    try:
        site = site_of(work.site_file, work.site_given)
    except SurveyError as error:
        say.problem(error)
        return
    lines = lines_for(findings, picked, site)
    st.markdown(
        findings_words.TICKED.format(
            units=words.counted(len(picked), *screen_words.UNIT),
            repairs=words.counted(len(lines), *screen_words.REPAIR),
        )
    )
    say.cautions()
    work_lines.show(lines, "my_list")
    table = work_lines.as_table(lines)
    downloads.work_list_buttons(table, str(findings.summary.get("site_name", "")))
    if st.button(findings_words.EMPTY_LIST, width="stretch", key="empty_list"):
        state.set_list([])
        st.rerun()


def lines_for(findings: Findings, picked: list[str], site: Site) -> list[WorkLine]:
    """Return the repairs that the picked units need, those upstream of them included.

    Only their own equipment is looked at, so that a large round answers at once.
    """
    table, wanted = findings.table, set(picked)
    mine = table["tag"].astype("str").isin(wanted)
    near = mine
    if "equipment" in table.columns:
        near = mine | table["equipment"].isin(table.loc[mine, "equipment"].dropna())
    lines = work_list(table[near].reset_index(drop=True), site=site)
    return [line for line in lines if line.tag in wanted or wanted & set(line.explains)]
