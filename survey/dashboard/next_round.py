"""The next round: when to look again, what is likeliest to fail by then, and the route."""

from __future__ import annotations

from datetime import date
from functools import partial

import pandas as pd
import streamlit as st

from survey.dashboard import downloads, frames, look, say, state
from survey.dashboard.drawing import told
from survey.dashboard.round_basis import basis_of_all
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
    st.title("The next round")
    try:
        basis = basis_of_all()
        if basis is None:
            st.info("Keep a round on the Rounds page, or open one: the next is planned from it.")
            state.open_last()
            return
        say.text(basis.words)
        _when(basis.ahead)
        _route(basis.ahead)
    except SurveyError as error:
        say.problem(error)


def _when(ahead: Ahead) -> None:
    st.subheader("When to look again", anchor=False)
    cost = st.number_input(
        f"What reading one trap costs, {say.escaped(ahead.currency)}",
        min_value=0.01, max_value=10_000.0, value=Effort().per_trap, key="kept_look_cost",
    )  # fmt: skip
    st.markdown(
        "Looking often costs work, looking seldom costs steam. For each pressure, the interval at "
        "which the two together are least, in weeks of steam:"
    )
    found = ahead.when(Effort(per_trap=cost))
    say.table(pd.DataFrame([_interval(one, ahead.currency) for one in found], dtype="str"))


def _interval(one: Interval, currency: str) -> dict[str, str]:
    return {
        "Pressure": told(one.pressure.name),
        "Traps": words.whole(one.traps),
        "Look again after": f"{words.whole(one.weeks)} weeks "
        f"({words.whole(one.weeks_low)} to {words.whole(one.weeks_high)})",
        "Published (DOE)": one.pressure.words,
        "Steam and looking, a year": words.money(one.cost, currency),
        "Saves, against one look a season": words.money(one.worth, currency),
    }


def _route(ahead: Ahead) -> None:
    st.subheader("The route", anchor=False)
    first, usual, furthest = days_to_choose(ahead.series)
    day = look.day_input(
        "The day of the next round", usual, key="next_day", first=first, last=furthest
    )
    odds = ahead.odds(day)
    latest = ahead.series.latest[1]
    places = [area for area in frames.choices(latest, "area") if area != frames.NOT_GIVEN]
    areas = st.multiselect("Areas", places, placeholder="all", key="kept_route_areas")
    some = st.toggle("Only units that there is a reason to read", key="kept_route_reasons")
    route = ahead.route(day, odds=odds, areas=areas, only_reasons=some)
    stops, left = words.whole(len(route.stops)), words.whole(route.left_out)
    st.markdown(f"{stops} stops, {left} left out.")
    if not route.stops:
        return
    _take_along(route)
    _likeliest(odds, day)


def _take_along(route: Route) -> None:
    st.markdown(
        "On the phone: open the page once where there is a signal; it then works in a basement "
        "without one, warns at a reading that cannot be, and gives back a CSV to judge here."
    )
    downloads.paper("Route for the phone", "route-phone.html", partial(phone_page, route))
    downloads.paper("Route sheet to print", "route-sheet.html", partial(sheet_html, route))
    downloads.one("Route as a table, CSV", "route.csv", partial(_table, route))
    reasons = [(stop.tag, stop.area, reason_words(stop)) for stop in route.stops]
    named = [reason for reason in reasons if reason[2]][:MOST_NAMED]
    if named:
        st.markdown("The first stops with a reason of their own:")
        say.table(pd.DataFrame(named, columns=["Unit", "Area", "Why"], dtype="str"))


def _table(route: Route) -> bytes:
    return downloads.as_csv(route_frame(route))


def _likeliest(odds: pd.DataFrame, day: date) -> None:
    st.subheader(f"Likeliest to fail before {numerals.short_day(day)}", anchor=False)
    shown = odds.head(MOST_NAMED)
    chances = zip(shown["chance"], shown["chance_low"], shown["chance_high"], strict=True)
    say.table(
        pd.DataFrame(
            {
                "Unit": shown["tag"],
                "Area": shown["area"],
                "Chance": [
                    f"{words.percent(a)} ({words.percent(b)} to {words.percent(c)})"
                    for a, b, c in chances
                ],
            }
        )
    )


if __name__ == "__main__":
    show()
