"""The readings and the probabilities of one unit, as its page draws them."""

from __future__ import annotations

from typing import Any

import pandas as pd
import streamlit as st

from survey.columns import TRAP_STATES
from survey.dashboard import look
from survey.reports import words

_READ = {
    "supply_psig": "Supply pressure, psig",
    "return_psig": "Return pressure, psig",
    "inlet_temp_f": "Inlet temperature, °F",
    "outlet_temp_f": "Outlet temperature, °F",
    "sound_db": "Sound on the device, dB",
    "background_db": "Background sound, dB",
    "sound_over_background_db": "Sound over its background, dB",
    "subcooling_f": "Inlet below saturation, °F",
    "sound_pattern": "What was heard",
    "valve_position": "Isolating valve",
    "observed": "What came out",
    "present": "Fitted",
    "lift_ft": "Lift to the return, ft",
    "read_at": "Read at",
}
_HELD_TO = {
    "inlet_temp_f": "saturation_f",
    "outlet_temp_f": "return_saturation_f",
    "sound_db": "background_db",
}


def readings(row: pd.Series[Any]) -> None:
    """Draw what was read beside what it is held to, then the same as a table."""
    from survey.dashboard import figures

    st.subheader("Readings against what they are held to", anchor=False)
    marks = {
        "inlet": row.get("inlet_temp_f"),
        "outlet": row.get("outlet_temp_f"),
        "steam at supply": row.get("saturation_f"),
        "steam at return": row.get("return_saturation_f"),
        "air round it": row.get("ambient_f"),
    }
    if pd.notna(marks["inlet"]) or pd.notna(marks["outlet"]):
        st.markdown("Dots are read; strokes are what they are held to.")
        look.chart(
            figures.temperature_line(
                {k: float("nan") if v is None else float(v) for k, v in marks.items()}, look.theme()
            )
        )
    read = [
        {
            "reading": label,
            "value": _cell(row.get(name)),
            "held to": _cell(row.get(_HELD_TO.get(name, ""))),
        }
        for name, label in _READ.items()
        if _cell(row.get(name))
    ]
    st.dataframe(
        pd.DataFrame(read, columns=["reading", "value", "held to"]),
        hide_index=True,
        width="stretch",
        height="content",
    )


def _cell(value: object) -> str:
    if isinstance(value, float):
        return f"{round(value, 1):g}" if pd.notna(value) else ""
    return words.tidy(words.word(value))


def probabilities(row: pd.Series[Any]) -> None:
    """Draw how probable each state is; nothing for what is not a trap."""
    shares = {s: float(row.get(f"p_{s}", float("nan"))) for s in TRAP_STATES}
    if any(pd.isna(share) for share in shares.values()):
        return
    st.subheader("How probable each state is", anchor=False)
    table = pd.DataFrame(
        {
            "state": [words.STATES[s] for s in shares],
            "probability": [round(share, 3) for share in shares.values()],
        }
    )
    st.dataframe(
        table.sort_values("probability", ascending=False),
        hide_index=True,
        width="stretch",
        column_config={
            "state": "State",
            "probability": st.column_config.ProgressColumn(
                "Probability", format="percent", min_value=0.0, max_value=1.0
            ),
        },
    )
