"""The readings and the probabilities of one unit, as its page draws them."""

from __future__ import annotations

from typing import Any

import pandas as pd
import streamlit as st
from markupsafe import Markup

from survey.columns import TRAP_STATES
from survey.dashboard import drawing, say, state
from survey.dashboard.other_readings import other_verdicts
from survey.errors import SurveyError
from survey.findings import Findings
from survey.reports import measures, numerals, words

_READ = (
    "supply_psig",
    "return_psig",
    "inlet_temp_f",
    "outlet_temp_f",
    "sound_db",
    "background_db",
    "sound_over_background_db",
    "subcooling_f",
    "sound_pattern",
    "valve_position",
    "observed",
    "present",
    "lift_ft",
    "orifice_in",
    "read_at",
)
_OTHER_HEADS = {
    "reading": "Reading",
    "was": "It was",
    "had it been": "Had it been",
    "verdict": "The verdict",
    "sure": "How sure",
}
_HELD_TO = {
    "inlet_temp_f": "saturation_f",
    "outlet_temp_f": "return_saturation_f",
    "sound_db": "background_db",
}


def readings(row: pd.Series[Any]) -> None:
    """Draw what was read beside what it is held to, then the same as a table."""
    st.subheader("Readings against what they are held to", anchor=False)
    drawing.temperatures(row)
    read = [
        {
            "Reading": measures.head(name),
            "Value": _cell(name, row.get(name)),
            "Held to": _cell(_HELD_TO.get(name, ""), row.get(_HELD_TO.get(name, ""))),
        }
        for name in _READ
        if _cell(name, row.get(name))
    ]
    say.table(pd.DataFrame(read, columns=["Reading", "Value", "Held to"]))


def _cell(name: str, value: object) -> str:
    if isinstance(value, float):
        places = 4 if name == "orifice_in" else 1
        return measures.reading(name, round(value, places)) if pd.notna(value) else ""
    said = words.tidy(words.word(value))
    return numerals.read_at(said) if name == "read_at" else said


def probabilities(row: pd.Series[Any]) -> None:
    """Draw how probable each state is; nothing for what is not a trap."""
    shares = {s: float(row.get(f"p_{s}", float("nan"))) for s in TRAP_STATES}
    if any(pd.isna(share) for share in shares.values()):
        return
    st.subheader("How probable each state is", anchor=False)
    likeliest = sorted(shares.items(), key=lambda pair: -pair[1])
    st.html(probability_bars([(words.STATES[state], share) for state, share in likeliest]))


def probability_bars(shares: list[tuple[str, float]]) -> str:
    """Return a table of states, each with its probability as a bar and in words."""
    row = Markup(
        '<tr><td>{}</td><td>{}</td><td class="wide"><div class="bar" aria-hidden="true">'
        '<i class="fill" style="width:{:.1f}%"></i></div></td></tr>'
    )
    rows = Markup("").join(
        row.format(words.capital(said), words.percent(share), 100 * share) for said, share in shares
    )
    heads = Markup('<tr><th>State</th><th>Probability</th><td aria-hidden="true"></td></tr>')
    return str(
        Markup('<div class="told"><table><thead>{}</thead><tbody>{}</tbody></table></div>').format(
            heads, rows
        )
    )


def other_readings(findings: Findings, row: pd.Series[Any]) -> None:
    """Offer to judge again with other readings of this unit, and show what came out."""
    st.subheader("What would change the verdict", anchor=False)
    its, tag = state.work(), str(row["tag"])
    whole = its.calibrated
    if its.others is None or its.others[0] != tag or whole is None or whole.of is not findings:
        st.markdown(
            "This unit is judged again, each time with one of its readings another. It takes a "
            "few seconds the first time."
        )
        if not st.button("Try other readings", width="stretch", key="try_others"):
            return
        try:
            with st.spinner("Judging again …"):
                its.others = (tag, other_verdicts(state.calibrated(findings), row))
        except SurveyError as error:
            say.problem(error)
            return
    table = its.others[1]
    changing = table[table["changes"]] if len(table) else table
    if changing.empty:
        st.markdown("No single reading that was tried would change the verdict.")
    else:
        st.markdown("Any one of these would change the verdict:")
        _listed(changing)
    with st.expander("Everything that was tried"):
        _listed(table)


def _listed(table: pd.DataFrame) -> None:
    say.table(table.drop(columns="changes", errors="ignore"), _OTHER_HEADS)
