"""What the rounds that are kept show together: loss over time, and units by what they do."""

from __future__ import annotations

import pandas as pd
import streamlit as st

from survey.dashboard import drawing, say
from survey.dashboard.wording import planning_words, screen_words
from survey.reports import charts, numerals, words
from survey.rounds.store import KeptRound

MOST_DRAWN = 12


def show(rounds: list[KeptRound]) -> None:
    """Draw the latest rounds, the oldest of them first; how to come by two where there are none."""
    told = [one for one in rounds if "annual_cost" in one.summary][-MOST_DRAWN:]
    if len(told) < 2:
        st.info(planning_words.KEEP_TWO_FOR_TREND)
        return
    _losses(told)
    _states(told)


def _losses(rounds: list[KeptRound]) -> None:
    bars = [_bar(one) for one in rounds]
    first, last = bars[0], bars[-1]
    said = planning_words.TREND_SAID.format(
        first=first.name, last=last.name, first_cost=first.words, last_cost=last.words
    )
    rows = [(one.name, one.words, _range(one)) for one in bars]
    drawing.figure(
        planning_words.TREND, said, charts.bars("trend", planning_words.TREND_CHART, said, bars),
        pd.DataFrame(rows, columns=list(planning_words.TREND_HEADS), dtype="str"),
    )  # fmt: skip


def _range(one: charts.Bar) -> str:
    return screen_words.RANGE.format(low=words.whole(one.low), high=words.whole(one.high))


def _bar(one: KeptRound) -> charts.Bar:
    summary = one.summary
    cost, low, high = (float(summary[f"annual_cost{end}"]) for end in ("", "_low", "_high"))
    name = _name(one)
    return charts.Bar(name, cost, low, high, words.money(cost, str(summary.get("currency", ""))))


def _name(one: KeptRound) -> str:
    return planning_words.TREND_ROUND.format(
        day=numerals.short_day(one.read_on), title=say.shown(one.title, 40)
    )


def _states(rounds: list[KeptRound]) -> None:
    st.subheader(planning_words.BY_GROUP, anchor=False)
    counts = {one.number: _groups(one) for one in rounds}
    first, last = (counts[one.number] for one in (rounds[0], rounds[-1]))
    st.markdown(
        planning_words.BY_GROUP_SAID.format(
            out_first=words.whole(first["out"]),
            out_last=words.whole(last["out"]),
            held_first=words.whole(first["held"]),
            held_last=words.whole(last["held"]),
        )
    )
    rows = []
    for one in rounds:
        its = counts[one.number]
        name = _name(one)
        said = words.listed([
            planning_words.COUNT_OF_GROUP.format(
                count=words.whole(number), group=words.GROUPS[group].lower()
            )
            for group, number in its.items()
        ])  # fmt: skip
        say.text(name)
        drawing.svg(charts.shares(f"states-{one.number}", name, said, its))
        rows.append((name, *map(words.whole, its.values())))
    heads = [planning_words.BY_GROUP_ROUND, *words.GROUPS.values()]
    drawing.twin(pd.DataFrame(rows, columns=heads, dtype="str"))


def _groups(one: KeptRound) -> dict[str, int]:
    found = dict.fromkeys(words.GROUPS, 0)
    by_device = one.summary.get("states_by_device", {})
    for device, states in by_device.items():
        for name, count in states.items():
            found[words.group_of(name, device)] += int(count)
    return found
