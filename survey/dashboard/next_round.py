"""The next round: when to look again, what is likeliest to fail by then, and the route."""

from __future__ import annotations

from datetime import date
from functools import partial

import pandas as pd
import streamlit as st

from survey.dashboard import downloads, frames, look, say, state
from survey.dashboard.drawing import told
from survey.dashboard.number_field import number_field
from survey.dashboard.round_basis import basis_of_all
from survey.dashboard.wording import planning_words, screen_words
from survey.errors import SurveyError
from survey.reports import numerals, words
from survey.reports.route_sheet import route_frame, sheet_html
from survey.reports.route_sheet_phone import phone_page
from survey.reports.route_sheet_words import reason_words
from survey.rounds.ahead import Ahead, days_to_choose
from survey.rounds.interval import Effort, Interval
from survey.rounds.route import Route

MOST_NAMED = 10


def show() -> None:
    """Draw the page."""
    st.title(planning_words.NEXT_TITLE)
    try:
        basis = basis_of_all()
        if basis is None:
            st.info(planning_words.NOTHING_TO_PLAN_FROM)
            state.open_last()
            return
        say.text(basis.words)
        _when(basis.ahead)
        _route(basis.ahead)
    except SurveyError as error:
        say.problem(error)


def _when(ahead: Ahead) -> None:
    st.subheader(planning_words.WHEN, anchor=False)
    cost = number_field(
        planning_words.LOOK_COST.format(currency=say.escaped(ahead.currency)),
        key="kept_look_cost", low=0.01, high=10_000.0, usual=Effort().per_trap,
    )  # fmt: skip
    st.markdown(planning_words.WHEN_INTRO)
    found = ahead.when(Effort(per_trap=cost))
    say.table(pd.DataFrame([_interval(one, ahead.currency) for one in found], dtype="str"))


def _interval(one: Interval, currency: str) -> dict[str, str]:
    heads = planning_words.WHEN_HEADS
    return {
        heads["pressure"]: told(one.pressure.name),
        heads["traps"]: words.whole(one.traps),
        heads["weeks"]: planning_words.WEEKS.format(
            weeks=words.whole(one.weeks),
            low=words.whole(one.weeks_low),
            high=words.whole(one.weeks_high),
        ),
        heads["published"]: one.pressure.words,
        heads["cost"]: words.money(one.cost, currency),
        heads["worth"]: words.money(one.worth, currency),
    }


def _route(ahead: Ahead) -> None:
    st.subheader(planning_words.ROUTE, anchor=False)
    first, usual, furthest = days_to_choose(ahead.series)
    day = look.day_input(planning_words.NEXT_DAY, usual, key="next_day", first=first, last=furthest)
    odds = ahead.odds(day)
    latest = ahead.series.latest[1]
    places = [area for area in frames.choices(latest, "area") if area != frames.NOT_GIVEN]
    areas = st.multiselect(
        planning_words.AREAS, places, placeholder=screen_words.ALL, key="kept_route_areas"
    )
    some = st.toggle(planning_words.ONLY_REASONS, key="kept_route_reasons")
    route = ahead.route(day, odds=odds, areas=areas, only_reasons=some)
    stops, left = words.whole(len(route.stops)), words.whole(route.left_out)
    st.markdown(planning_words.STOPS.format(count=stops, left=left))
    if not route.stops:
        return
    _take_along(route)
    _likeliest(odds, day)


def _take_along(route: Route) -> None:
    st.markdown(planning_words.ON_THE_PHONE)
    downloads.paper(planning_words.ROUTE_PHONE, "route-phone.html", partial(phone_page, route))
    downloads.paper(planning_words.ROUTE_SHEET, "route-sheet.html", partial(sheet_html, route))
    downloads.one(planning_words.ROUTE_TABLE, "route.csv", partial(_table, route))
    reasons = [(stop.tag, stop.area, reason_words(stop)) for stop in route.stops]
    named = [reason for reason in reasons if reason[2]][:MOST_NAMED]
    if named:
        st.markdown(planning_words.STOPS_WITH_REASON)
        say.table(pd.DataFrame(named, columns=list(planning_words.STOP_HEADS), dtype="str"))


def _table(route: Route) -> bytes:
    return downloads.as_csv(route_frame(route))


def _likeliest(odds: pd.DataFrame, day: date) -> None:
    heading = planning_words.LIKELIEST.format(day=numerals.short_day(day))
    st.subheader(heading, anchor=False)
    shown = odds.head(MOST_NAMED)
    chances = zip(shown["chance"], shown["chance_low"], shown["chance_high"], strict=True)
    said = [
        planning_words.CHANCE.format(
            chance=words.percent(chance), low=words.percent(low), high=words.percent(high)
        )
        for chance, low, high in chances
    ]
    heads = planning_words.LIKELIEST_HEADS
    columns = (shown["tag"], shown["area"], said)
    say.table(pd.DataFrame(dict(zip(heads, columns, strict=True))))


if __name__ == "__main__":
    show()
