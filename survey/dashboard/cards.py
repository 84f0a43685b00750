"""Units as cards, for a screen too narrow for a table: what, where, how dear, what to do."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import Any

import numpy as np
import streamlit as st
from markupsafe import Markup, escape

from survey.dashboard import say, state
from survey.dashboard.frames import Listed
from survey.dashboard.wording import findings_words, screen_words
from survey.reports import words
from survey.reports.units import Unit, loss_figures, unit

AT_A_TIME = 10
_CARD = Markup(
    '<article class="unit g-{group}"><h3>{rank}<bdi>{tag}</bdi> <small>{device}</small></h3>'
    '<p class="place">{place}</p><p>{state}</p>'
    '<p class="worth">{figure} {span}</p>{bar}<p class="do">{action}</p></article>'
)
_STATE = Markup("<em>{}</em>")
_BAR = Markup(
    '<div class="bar" aria-hidden="true"><i class="fill" style="width:{value:.1f}%"></i>'
    '<i class="range" style="left:{low:.1f}%;width:{width:.1f}%"></i></div>'
)


def show(listed: Listed, places: np.ndarray, currency: str, key: str = "") -> None:
    """Draw the first rows as cards, each with its tick and its way to the unit's page.

    Parameters
    ----------
    key
        Stands before the keys of these buttons, where the page has cards in two places.
    """
    count = AT_A_TIME * int(st.session_state.get("kept_cards", 1))
    dearest = float(listed.column("annual_cost_high", places).max())
    rows = listed.rows(places[:count])
    names = [str(name) for name in rows.columns]
    for values in rows.itertuples(index=False, name=None):
        row = dict(zip(names, values, strict=True))
        st.html(card(row, currency, dearest))
        _buttons(str(row["tag"]), key)
    if len(places) > count:
        left = min(AT_A_TIME, len(places) - count)
        if st.button(
            screen_words.SHOW_MORE.format(count=left), width="stretch", key=f"{key}more_cards"
        ):
            st.session_state["kept_cards"] = count // AT_A_TIME + 1
            st.rerun()


def _buttons(tag: str, key: str) -> None:
    on_it = tag in state.work().picked
    with st.container(horizontal=True):
        said = say.escaped(tag)
        label = screen_words.OFF_MY_LIST if on_it else screen_words.TO_MY_LIST
        if st.button(
            screen_words.OPEN_UNIT.format(unit=said), key=f"{key}open_{tag}", width="stretch"
        ):
            st.session_state["kept_unit"] = tag
            st.switch_page("unit.py")
        if st.button(label.format(unit=said), key=f"{key}pick_{tag}", width="stretch"):
            state.pick(tag, on=not on_it)
            st.rerun()


def card(row: Mapping[str, Any], currency: str, dearest: float) -> str:
    """Return one unit as HTML, every text from the round escaped.

    Parameters
    ----------
    row
        One row of findings.
    currency
        Printed before its cost.
    dearest
        The cost a year at which the bar is full.
    """
    said = unit(row, currency, show_money=True)
    return str(
        _CARD.format(
            group=said.group,
            rank=Markup("<b>{}</b> ").format(said.rank) if said.rank else "",
            tag=said.tag,
            device=said.device,
            place=_joined((said.place, said.station), " · "),
            state=_state_and_sure(said),
            figure=(
                findings_words.A_YEAR.format(figure=said.figure)
                if said.figure
                else findings_words.LOSES_NONE
            ),
            span=said.span,
            bar=_bar(row, said, dearest),
            action=said.action,
        )
    )


def _state_and_sure(said: Unit) -> Markup:
    its = _STATE.format(words.capital(said.state))
    if not said.sure:
        return its
    return escape(findings_words.STATE_AND_SURE).format(state=its, sure=said.sure)


def _bar(row: Mapping[str, Any], said: Unit, dearest: float) -> Markup | str:
    value, low, high = loss_figures(row, show_money=True)
    if not said.figure or not dearest > 0 or not math.isfinite(high - low):
        return ""
    full = 100 / dearest
    return _BAR.format(value=value * full, low=low * full, width=(high - low) * full)


def _joined(parts: Iterable[str], between: str) -> str:
    return between.join(part for part in parts if part)
