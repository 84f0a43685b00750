"""The readings of the whole round against what they are held to."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd
import streamlit as st

from survey.dashboard import frames, look, state


@dataclass(frozen=True)
class _View:
    name: str
    x: str
    y: str
    x_title: str
    y_title: str
    equal: str
    sentence: str


_VIEWS = (
    _View(
        "Inlet",
        "saturation_f",
        "inlet_temp_f",
        "saturation at the supply pressure, °F",
        "inlet, °F",
        "inlet at saturation",
        "Each mark is one unit: its inlet against the temperature of steam at its supply "
        "pressure. On the line the inlet is as hot as steam; far below it the unit is cold or "
        "holds water back.",
    ),
    _View(
        "Outlet",
        "return_saturation_f",
        "outlet_temp_f",
        "saturation at the return pressure, °F",
        "outlet, °F",
        "outlet at saturation",
        "Each mark is one unit: its outlet against the temperature of steam at the pressure of "
        "its return. Good and blown-open traps both sit near the line, so look at the sound too.",
    ),
    _View(
        "Sound",
        "background_db",
        "sound_db",
        "background, dB",
        "on the device, dB",
        "no louder than its background",
        "Each mark is one unit: the sound on it against the sound of the bare pipe near it. The "
        "farther above the line, the more passes through it.",
    ),
)


def show() -> None:
    """Draw the page."""
    st.title("Readings")
    findings = state.judged()
    names = [view.name for view in _VIEWS]
    picked = st.segmented_control(
        "Show", names, default=names[0], key="kept_reading", label_visibility="collapsed"
    )
    view = _VIEWS[names.index(picked)] if picked in names else _VIEWS[0]
    st.markdown(view.sentence)
    every = st.toggle("Vents, breakers and check valves too", key="kept_every_device")
    table = findings.table
    _draw(view, table if every else table[table["device"] == "trap"])


def _draw(view: _View, table: pd.DataFrame) -> None:
    from survey.dashboard import figures

    missing = [name for name in (view.x, view.y) if name not in table.columns]
    rows = table.dropna(subset=[view.x, view.y]) if not missing else table.iloc[:0]
    if rows.empty:
        st.info("No unit of this round has both readings, so there is nothing to draw.")
        return
    look.chart(
        figures.against(
            rows,
            x=view.x,
            y=view.y,
            x_title=view.x_title,
            y_title=view.y_title,
            equal=view.equal,
            theme=look.theme(),
        )
    )
    st.markdown(f"{len(rows):,} of {len(table):,} units have both readings.")
    with st.expander("The same as a table"):
        twin = rows[["tag", view.x, view.y]].copy()
        twin.insert(1, "state", frames.states_in_words(rows))
        st.dataframe(
            twin,
            hide_index=True,
            width="stretch",
            column_config={
                "tag": "Tag",
                "state": "State",
                view.x: st.column_config.NumberColumn(view.x_title, format="%.1f"),
                view.y: st.column_config.NumberColumn(view.y_title, format="%.1f"),
            },
        )


if __name__ == "__main__":
    show()
