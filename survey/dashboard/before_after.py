"""Two rounds side by side: what was mended, what failed since, and what that saves."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import streamlit as st

from survey.dashboard import blocks_shown, downloads
from survey.dashboard.rounds_kept import round_choice, store
from survey.dashboard.wording import planning_words
from survey.reports.before_after import (
    before_after_blocks,
    before_after_html,
    before_after_pdf,
)
from survey.reports.blocks import Heading
from survey.rounds.compare import compare_rounds
from survey.rounds.store import KeptRound


def show(rounds: list[KeptRound]) -> None:
    """Draw the choice of two rounds, then what the two together say."""
    if len(rounds) < 2:
        st.info(planning_words.KEEP_TWO_TO_COMPARE)
        return
    names = {one.number: round_choice(one) for one in rounds}
    numbers = list(names)
    left, right = st.columns(2)
    before = left.selectbox(
        planning_words.BEFORE, numbers, index=len(numbers) - 2, key="compare_before",
        format_func=names.__getitem__,
    )  # fmt: skip
    after = right.selectbox(
        planning_words.AFTER, numbers, index=len(numbers) - 1, key="compare_after",
        format_func=names.__getitem__,
    )  # fmt: skip
    its = planning_words.TAKEN_AT_ROUND
    at = st.radio(
        planning_words.TAKEN_AT, list(its), format_func=its.__getitem__, horizontal=True,
        key="compare_at",
    )  # fmt: skip
    with store() as opened, st.spinner(planning_words.COMPARING):
        comparison = compare_rounds(opened, opened.round(before), opened.round(after), at=at)
    blocks_shown.show(
        block for block in before_after_blocks(comparison)
        if not (isinstance(block, Heading) and block.level == 1)
    )  # fmt: skip
    make: dict[str, Callable[[], str | bytes]] = {
        "pdf": partial(before_after_pdf, comparison),
        "html": partial(before_after_html, comparison),
    }
    downloads.papers("before-and-after", planning_words.BEFORE_AFTER_FILES, make)
