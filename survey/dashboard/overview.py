"""What the round came to: totals, what was set aside, notes, calibration, assumptions."""

from __future__ import annotations

import streamlit as st

from survey.dashboard import downloads, frames, look, say, state
from survey.dashboard.drawing import told
from survey.dashboard.wording import findings_words, screen_words
from survey.findings import Findings
from survey.reports import measures, tables, words

MOST_LISTED = 50


def show() -> None:
    """Draw the page."""
    st.title(findings_words.OVERVIEW_TITLE)
    findings = state.judged()
    _headline(findings)
    look.onward(findings_words.TO_THE_LIST, "ranking.py")
    _states()
    _set_aside(findings)
    _told(findings_words.INSTRUMENTS, _calibration(findings))
    _told(findings_words.FILE_NOTES, findings.summary.get("notes", []))
    _told(findings_words.ASSUMPTIONS, findings.summary.get("assumptions", []))
    look.fetch_ahead()


def _headline(findings: Findings) -> None:
    summary = findings.summary
    if summary.get("site_name"):
        say.text(say.shown(summary["site_name"], 200))
    judged, cost, loss = st.columns(3)
    with judged:
        st.metric(findings_words.DEVICES_JUDGED, words.whole(summary["rows_judged"]))
        aside = words.whole(summary["rows_set_aside"])
        rows = words.counted(summary["rows_read"], *screen_words.ROW)
        say.text(findings_words.ROWS_READ.format(rows=rows, aside=aside))
        added_up = tables.lines_of_totals(findings.rejects)
        if added_up == 1:
            say.text(findings_words.LINE_OF_TOTALS.format(count=words.whole(added_up)))
        elif added_up:
            say.text(findings_words.LINES_OF_TOTALS.format(count=words.whole(added_up)))
    with cost:
        currency = say.escaped(words.tidy(summary["currency"], 12))  # a metric reads Markdown
        st.metric(findings_words.LOST_COST, words.money(summary["annual_cost"], currency))
        say.text(_span(summary, "annual_cost", ""))
    with loss:
        st.metric(
            findings_words.LOST_STEAM, measures.flow((float(summary["steam_loss_lb_per_h"]),))
        )
        say.text(_span(summary, "steam_loss", "_lb_per_h"))
    say.text(
        findings_words.CARBON_DIOXIDE.format(
            tonnes=words.figure(summary["annual_co2_t"]), basis=told(summary["loss_basis"])
        )
    )


def _span(summary: dict[str, object], before: str, after: str) -> str:
    ends = (f"{before}_{end}{after}" for end in ("low", "high"))
    low, high = (float(measures.value(end, float(str(summary[end])))) for end in ends)
    return findings_words.TOTAL_RANGE.format(low=words.figure(low, 2), high=words.figure(high, 2))


def _states() -> None:
    st.subheader(findings_words.BY_STATE)
    say.table(state.listed().states, findings_words.BY_STATE_HEADS)


def _set_aside(findings: Findings) -> None:
    st.subheader(findings_words.SET_ASIDE)
    if findings.rejects.empty:
        st.markdown(findings_words.NONE_SET_ASIDE)
        return
    st.markdown(findings_words.SET_ASIDE_INTRO)
    say.table(frames.set_aside(findings).head(MOST_LISTED), findings_words.SET_ASIDE_HEADS)
    more = len(findings.rejects) - MOST_LISTED
    if more > 0:
        st.markdown(findings_words.MORE_SET_ASIDE.format(count=words.whole(more)))
    downloads.rejects_button(findings)


def _calibration(findings: Findings) -> list[str]:
    return [str(entry.get("words", "")) for entry in findings.summary.get("calibration", [])]


def _told(heading: str, lines: list[str]) -> None:
    if lines:
        st.subheader(heading)
        say.items([told(line) for line in lines])


if __name__ == "__main__":
    show()
