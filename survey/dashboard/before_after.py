"""Two rounds side by side: what was mended, what failed since, and what that saves."""

from __future__ import annotations

from functools import partial

import streamlit as st

from survey.dashboard import blocks_shown, downloads, say
from survey.dashboard.rounds_kept import store
from survey.reports import numerals
from survey.reports.before_after import before_after_blocks, before_after_html
from survey.reports.blocks import Heading
from survey.rounds.compare import compare_rounds
from survey.rounds.store import KeptRound

_AT = {"after": "of the later round", "before": "of the earlier round"}


def show(rounds: list[KeptRound]) -> None:
    """Draw the choice of two rounds, then what the two together say."""
    if len(rounds) < 2:
        st.info("Keep two rounds, one before and one after, and they are held together here.")
        return
    names = {one.number: f"{one.title}, {numerals.short_day(one.read_on)}" for one in rounds}
    numbers = list(names)
    left, right = st.columns(2)
    before = left.selectbox(
        "Before", numbers, index=len(numbers) - 2, key="compare_before",
        format_func=lambda number: say.shown(names[number], 80),
    )  # fmt: skip
    after = right.selectbox(
        "After", numbers, index=len(numbers) - 1, key="compare_after",
        format_func=lambda number: say.shown(names[number], 80),
    )  # fmt: skip
    at = st.radio(
        "Hours, pressure and price", list(_AT), format_func=_AT.__getitem__, horizontal=True,
        key="compare_at",
    )  # fmt: skip
    with store() as opened, st.spinner("Comparing …"):
        comparison = compare_rounds(opened, opened.round(before), opened.round(after), at=at)
    blocks_shown.show(
        block for block in before_after_blocks(comparison)
        if not (isinstance(block, Heading) and block.level == 1)
    )  # fmt: skip
    downloads.paper(
        "Before and after, to print", "before-and-after.html",
        partial(before_after_html, comparison),
    )  # fmt: skip
