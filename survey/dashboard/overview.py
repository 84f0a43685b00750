"""What the round came to: totals, what was set aside, notes, calibration, assumptions."""

from __future__ import annotations

import streamlit as st

from survey.dashboard import downloads, look, say, state
from survey.dashboard.drawing import told
from survey.findings import Findings
from survey.reports import measures, words

MOST_LISTED = 50
_REASONS = {"row": "Row", "column": "Column", "value": "Value", "reason": "Reason"}


def show() -> None:
    """Draw the page."""
    st.title("Overview")
    findings = state.judged()
    _headline(findings)
    look.onward("See what to mend first", "ranking.py")
    _states()
    _set_aside(findings)
    _told("What the instruments were found to do", _calibration(findings))
    _told("Notes on the file", findings.summary.get("notes", []))
    _told("Assumptions", findings.summary.get("assumptions", []))
    look.fetch_ahead()


def _headline(findings: Findings) -> None:
    summary = findings.summary
    if summary.get("site_name"):
        say.text(say.shown(summary["site_name"], 200))
    judged, cost, loss = st.columns(3)
    with judged:
        st.metric("Devices judged", words.whole(summary["rows_judged"]))
        aside = words.whole(summary["rows_set_aside"])
        say.text(f"{words.counted(summary['rows_read'], 'row')} read, {aside} set aside")
    with cost:
        currency = say.escaped(words.tidy(summary["currency"], 12))  # a metric reads Markdown
        st.metric("Cost of lost steam, a year", words.money(summary["annual_cost"], currency))
        say.text(_span(summary, "annual_cost", ""))
    with loss:
        st.metric("Steam lost", measures.flow((float(summary["steam_loss_lb_per_h"]),)))
        say.text(_span(summary, "steam_loss", "_lb_per_h"))
    say.text(
        f"Carbon dioxide of that loss: {words.figure(summary['annual_co2_t'])} t a year. "
        f"{told(summary['loss_basis'])}"
    )


def _span(summary: dict[str, object], before: str, after: str) -> str:
    ends = (f"{before}_{end}{after}" for end in ("low", "high"))
    low, high = (float(measures.value(end, float(str(summary[end])))) for end in ends)
    return f"10–90 % range: {words.figure(low, 2)} to {words.figure(high, 2)}"


def _states() -> None:
    st.subheader("Units by state")
    say.table(
        state.listed().states,
        {"device": "Device", "state": "State", "group": "What it means", "count": "Units"},
    )


def _set_aside(findings: Findings) -> None:
    st.subheader("Set aside, and why")
    if findings.rejects.empty:
        st.markdown("Nothing was set aside: every row read was judged.")
        return
    st.markdown(
        "These rows could not be judged as they stand. They are kept whole: mend them in your "
        "file and give it again."
    )
    heads = [name for name in _REASONS if name in findings.rejects.columns]
    say.table(findings.rejects[heads].head(MOST_LISTED), _REASONS)
    more = len(findings.rejects) - MOST_LISTED
    if more > 0:
        st.markdown(f"{words.whole(more)} more are in the file of rows set aside.")
    downloads.rejects_button(findings)


def _calibration(findings: Findings) -> list[str]:
    return [str(entry.get("words", "")) for entry in findings.summary.get("calibration", [])]


def _told(heading: str, lines: list[str]) -> None:
    if lines:
        st.subheader(heading)
        say.items([told(line) for line in lines])


if __name__ == "__main__":
    show()
