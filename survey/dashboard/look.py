"""What the theme settings cannot say: large targets for gloved hands, no sideways scrolling."""

from __future__ import annotations

from typing import Any, Literal

import streamlit as st

from survey.reports import palette, words

# The hooks are Streamlit's own test identifiers; where one is renamed, the plain look remains.
_STYLE = """<style>
[data-testid="stMain"] [data-testid^="stBaseButton-"],
[data-testid="stMain"] summary { min-height: 3rem; }
[data-testid="stMain"] [data-testid^="stBaseButton-elementToolbar"] { min-height: 2rem; }
.st-key-menu { gap: .25rem; }
.st-key-menu a { min-height: 2.75rem; padding: 0 .7rem; }
.st-key-menu a[aria-current="page"] { text-decoration: underline; text-underline-offset: .3em; }
[data-testid="stText"] { overflow-wrap: anywhere; }
[data-testid="stMainBlockContainer"] { padding-top: 1.6rem; max-width: 80rem; }
@media (max-width: 640px) {
  [data-testid="stMainBlockContainer"] { padding: 1.6rem 1rem 3rem; }
}
[data-testid="stMain"] [data-testid="stBaseButton-primary"] {
  background: COPPER; border-color: COPPER; color: SHEET;
}
</style>"""


def apply() -> None:
    """Put the style on the page."""
    colours = palette.DARK if theme() == "dark" else palette.LIGHT
    st.html(_STYLE.replace("COPPER", colours["copper"]).replace("SHEET", colours["sheet"]))


def theme() -> Literal["light", "dark"]:
    """Return whether the person's screen is light or dark; light until the browser says."""
    return "dark" if st.context.theme.type == "dark" else "light"


def onward(words: str, page: str) -> None:
    """Draw the button to the next page."""
    if st.button(words, width="stretch", key=f"onward_{page}"):
        st.switch_page(page)


def chart(figure: Any) -> None:
    """Draw a chart without the tool bar, which fingers hit by accident."""
    st.plotly_chart(
        figure,
        width="stretch",
        theme=None,
        config={
            "displayModeBar": False,
            "scrollZoom": False,
            "showTips": False,
        },
    )


def ranked_columns(currency: str) -> dict[str, Any]:
    """Return how each column of the ranked list is headed and written."""
    currency = words.tidy(currency, 12)
    number, text = st.column_config.NumberColumn, st.column_config.TextColumn
    whole = "localized"
    return {
        "rank": number("Rank", format="%d", width=56),
        "tag": text("Tag", width=84),
        "state": text("State", width=150),
        "confidence": number("How sure", format="percent"),
        "annual_cost": number(f"{currency} a year", format=whole, width=110),
        "annual_cost_low": number("10 % point", format=whole),
        "annual_cost_high": number("90 % point", format=whole),
        "steam_loss_lb_per_h": number("Steam lost, lb/h", format="%.1f"),
        "cause": text("Cause"),
        "action": text("What to do", width="large"),
        "area": text("Area"),
        "station": text("Station"),
        "equipment": text("Equipment"),
        "device": text("Device"),
        "trap_type": text("Type"),
        "flags": text("Doubts", width="large"),
    }
