"""What the rounds that are kept show together: loss over time, and units by what they do."""

from __future__ import annotations

import pandas as pd
import streamlit as st

from survey.dashboard import drawing, say
from survey.reports import charts, numerals, words
from survey.rounds.store import KeptRound

MOST_DRAWN = 12


def show(rounds: list[KeptRound]) -> None:
    """Draw the latest rounds, the oldest of them first; how to come by two where there are none."""
    told = [one for one in rounds if "annual_cost" in one.summary][-MOST_DRAWN:]
    if len(told) < 2:
        st.info("Keep two rounds or more, and what changed between them shows here.")
        return
    _losses(told)
    _states(told)


def _losses(rounds: list[KeptRound]) -> None:
    bars = [_bar(one) for one in rounds]
    first, last = bars[0], bars[-1]
    said = (
        f"From {first.name} to {last.name} the cost of lost steam went from {first.words} to "
        f"{last.words} a year, as found. The line under a bar spans its 10–90 % range; prices "
        "and hours may have changed too: see Before and after."
    )
    rows = [
        (one.name, one.words, f"{words.whole(one.low)} to {words.whole(one.high)}") for one in bars
    ]
    drawing.figure(
        "Cost of lost steam, a year", said, charts.bars("trend", "Cost of lost steam", said, bars),
        pd.DataFrame(rows, columns=["Round", "Cost a year", "10–90 % range"], dtype="str"),
    )  # fmt: skip


def _bar(one: KeptRound) -> charts.Bar:
    summary = one.summary
    cost, low, high = (float(summary[f"annual_cost{end}"]) for end in ("", "_low", "_high"))
    name = _name(one)
    return charts.Bar(name, cost, low, high, words.money(cost, str(summary.get("currency", ""))))


def _name(one: KeptRound) -> str:
    return f"{numerals.short_day(one.read_on)} {say.shown(one.title, 40)}"


def _states(rounds: list[KeptRound]) -> None:
    st.subheader("Units by what they do", anchor=False)
    counts = {one.number: _groups(one) for one in rounds}
    first, last = (counts[one.number] for one in (rounds[0], rounds[-1]))
    st.markdown(
        f"Letting steam out: {words.whole(first['out'])} units at first, "
        f"{words.whole(last['out'])} in the latest round. Holding water, air or heat back: "
        f"{words.whole(first['held'])} and {words.whole(last['held'])}. In a "
        "bar: solid lets steam out, hatched holds back, dashed is undecided, the rest works."
    )
    rows = []
    for one in rounds:
        its = counts[one.number]
        name = _name(one)
        said = words.listed([
            f"{words.whole(number)} {words.GROUPS[group].lower()}" for group, number in its.items()
        ])  # fmt: skip
        say.text(name)
        drawing.svg(charts.shares(f"states-{one.number}", name, said, its))
        rows.append((name, *map(words.whole, its.values())))
    drawing.twin(pd.DataFrame(rows, columns=["Round", *words.GROUPS.values()], dtype="str"))


def _groups(one: KeptRound) -> dict[str, int]:
    found = dict.fromkeys(words.GROUPS, 0)
    by_device = one.summary.get("states_by_device", {})
    for device, states in by_device.items():
        for name, count in states.items():
            found[words.group_of(name, device)] += int(count)
    return found
