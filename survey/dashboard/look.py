"""What the theme settings cannot say: large targets for gloved hands, no sideways scrolling."""

from __future__ import annotations

from datetime import date
from functools import cache
from importlib import resources
from typing import Any, Literal

import streamlit as st

from survey import reports
from survey.dashboard.wording import screen_words
from survey.reports import manner, measures, palette, words
from survey.reports.manner import DEFAULT_LOCALE

ROW_PX = 40
TWO_LINES_PX = 64
_DAY_FORMATS = tuple(
    between.join(parts)
    for parts in (("YYYY", "MM", "DD"), ("DD", "MM", "YYYY"), ("MM", "DD", "YYYY"))
    for between in "/.-"
)


def apply() -> None:
    """Put the style on the page: its colours, then the rules that use them."""
    colours = palette.DARK if theme() == "dark" else palette.LIGHT
    named = "".join(f"--{name}:{value};" for name, value in colours.items())
    st.html(f"<style>:root{{{named}}}{_rules()}</style>")


@cache
def _rules() -> str:
    # The hooks are Streamlit's own test identifiers; where one is renamed, the plain look remains.
    ours = resources.files(__package__).joinpath("screens.css").read_text(encoding="utf-8")
    return ours + chart_rules()


def chart_rules() -> str:
    """Return the rules by which a page on paper draws its charts, for charts on the screen."""
    paper = resources.files(reports).joinpath("page.css").read_text(encoding="utf-8")
    return paper[paper.index(".chart{") : paper.index(".swatch{")]


def theme() -> Literal["light", "dark"]:
    """Return whether the person's screen is light or dark; light until the browser says."""
    return "dark" if st.context.theme.type == "dark" else "light"


def onward(words: str, page: str) -> None:
    """Draw the button to the next page."""
    if st.button(words, width="stretch", key=f"onward_{page}"):
        st.switch_page(page)


def fetch_ahead() -> None:
    """Have the browser fetch the script of large tables while this page is read: nothing shows."""
    with st.container(key="ahead"):
        st.dataframe({"tag": []}, hide_index=True)


def folded(words: str, name: str, *, at_first: bool = False) -> Any:
    """Draw something folded up; its content is made, and its script fetched, when it opens.

    ``at_first`` has it open until it is shut.
    """
    return st.expander(words, expanded=at_first, on_change="rerun", key=f"kept_open_{name}")


def day_input(
    label: str, usual: date, *, key: str, first: date | None = None, last: date | None = None
) -> date:
    """Draw the choice of a day, written in the order of the person's locale; return the day."""
    given = st.date_input(
        label, value=usual, min_value=first, max_value=last, key=key, format=_day_format()
    )
    return given if isinstance(given, date) else usual


def _day_format() -> str:
    """Return the locale's order of day, month and year, as Streamlit writes it."""
    its = manner.current()
    if its.plain:
        return "YYYY-MM-DD"
    pattern = manner.locale_data(its.locale).date_formats["short"].pattern
    order = sorted("yMd", key=pattern.index)
    between = next((sign for sign in pattern if sign in "/.-"), "/")
    said = between.join({"y": "YYYY", "M": "MM", "d": "DD"}[part] for part in order)
    return said if said in _DAY_FORMATS else "YYYY-MM-DD"


def number_format(places: int = 0) -> str:
    """Return how a table's numbers are written: as the browser does where that is as chosen.

    A table follows the browser's language and cannot be told another; where numbers beside it are
    written otherwise, its own go without marks between thousands, which no one can misread.
    """
    browser = str(st.context.locale or DEFAULT_LOCALE)
    same = browser[:2].lower() == manner.current().locale[:2].lower()
    return "localized" if same else f"%.{places}f"


def ranked_columns(currency: str, dearest: float = 0.0) -> dict[str, Any]:
    """Return how each column of the ranked list is headed and written.

    Parameters
    ----------
    currency
        Stands in the head of the cost.
    dearest
        The cost at which its bar is full; 0 draws no bars.
    """
    heads = screen_words.HEADS
    cost_head = heads["annual_cost"].format(currency=words.tidy(currency, 12))
    number, text = st.column_config.NumberColumn, st.column_config.TextColumn
    cost: Any = number(cost_head, format=number_format(), width=96)
    if dearest > 0:
        cost = st.column_config.ProgressColumn(
            cost_head, format=number_format(), min_value=0.0, max_value=dearest, width=120
        )
    return {
        "rank": number(heads["rank"], format="%d", width=56),
        "tag": text(heads["tag"], width=80),
        "annual_cost": cost,
        "range": text(heads["range"], width=112),
        "annual_cost_low": number(heads["annual_cost_low"], format=number_format()),
        "annual_cost_high": number(heads["annual_cost_high"], format=number_format()),
        "state": text(heads["state"], width=140),
        "area": text(heads["area"], width=120),
        "confidence": number(heads["confidence"], format="percent", width=80),
        "action": text(heads["action"], width="large"),
        "cause": text(heads["cause"]),
        "steam_loss_lb_per_h": number(measures.head(measures.FLOW), format=number_format(1)),
        "station": text(heads["station"]),
        "equipment": text(heads["equipment"]),
        "device": text(heads["device"]),
        "trap_type": text(heads["trap_type"]),
        "flags": text(heads["flags"], width="large"),
    }
