"""A paper on the screen: the same blocks that are printed."""

from __future__ import annotations

from collections.abc import Iterable

import pandas as pd
import streamlit as st

from survey.dashboard import drawing, say
from survey.reports.blocks import Block, Drawing, Heading, Paragraph, Points


def show(blocks: Iterable[Block]) -> None:
    """Draw blocks one under the other."""
    for block in blocks:
        if isinstance(block, Heading):
            st.subheader(say.escaped(block.text), anchor=False)
        elif isinstance(block, Paragraph):
            say.text(block.text)
        elif isinstance(block, Points):
            say.items(list(block.items))
        elif isinstance(block, Drawing):
            drawing.svg(block.svg)
        elif block.rows:
            say.text(block.caption)
            say.table(pd.DataFrame(list(block.rows), columns=list(block.heads), dtype="str"))
