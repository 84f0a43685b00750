"""The readings and the probabilities of one unit, as its page draws them."""

from __future__ import annotations

from typing import Any

import pandas as pd
import streamlit as st
from markupsafe import Markup

from survey.columns import TRAP_STATES
from survey.dashboard import drawing, say, state
from survey.dashboard.other_readings import other_verdicts
from survey.dashboard.wording import findings_words
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
_HELD_TO = {
    "inlet_temp_f": "saturation_f",
    "outlet_temp_f": "return_saturation_f",
    "sound_db": "background_db",
}


def readings(row: pd.Series[Any]) -> None:
    """Draw what was read beside what it is held to, then the same as a table."""
    st.subheader(findings_words.READINGS, anchor=False)
    drawing.temperatures(row)
    read = [
        (
            measures.head(name),
            _cell(name, row.get(name)),
            _cell(_HELD_TO.get(name, ""), row.get(_HELD_TO.get(name, ""))),
        )
        for name in _READ
        if _cell(name, row.get(name))
    ]
    say.table(pd.DataFrame(read, columns=list(findings_words.READING_HEADS)))


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
    st.subheader(findings_words.PROBABILITIES, anchor=False)
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
    heads = Markup('<tr><th>{}</th><th>{}</th><td aria-hidden="true"></td></tr>').format(
        findings_words.STATE, findings_words.PROBABILITY
    )
    return str(
        Markup('<div class="told"><table><thead>{}</thead><tbody>{}</tbody></table></div>').format(
            heads, rows
        )
    )


def other_readings(findings: Findings, row: pd.Series[Any]) -> None:
    """Offer to judge again with other readings of this unit, and show what came out."""
    st.subheader(findings_words.OTHERS, anchor=False)
    its, tag = state.work(), str(row["tag"])
    whole = its.calibrated
    if its.others is None or its.others[0] != tag or whole is None or whole.of is not findings:
        st.markdown(findings_words.OTHERS_INTRO)
        if not st.button(findings_words.TRY_OTHERS, width="stretch", key="try_others"):
            return
        try:
            with st.spinner(findings_words.JUDGING_AGAIN):
                its.others = (tag, other_verdicts(state.calibrated(findings), row))
        except SurveyError as error:
            say.problem(error)
            return
    table = its.others[1]
    changing = table[table["changes"]] if len(table) else table
    if changing.empty:
        st.markdown(findings_words.NONE_CHANGES)
    else:
        st.markdown(findings_words.ANY_CHANGES)
        _listed(changing)
    with st.expander(findings_words.ALL_TRIED):
        _listed(table)


def _listed(table: pd.DataFrame) -> None:
    say.table(table.drop(columns="changes", errors="ignore"), findings_words.OTHER_HEADS)
