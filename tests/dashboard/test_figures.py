"""Charts: every state told apart without colour, text harmless, nothing computed anew."""

from __future__ import annotations

import pytest

from survey import Findings
from survey.columns import STATES_BY_DEVICE, UNDECIDED
from survey.dashboard import figures
from survey.reports import tables, words

HOSTILE = '<a href="http://192.0.2.1">T-1</a>'


def against(table, theme: str = "light"):
    return figures.against(
        table,
        x="saturation_f",
        y="inlet_temp_f",
        x_title="x",
        y_title="y",
        equal="equal",
        theme=theme,
    )


def test_every_state_of_a_trap_has_a_marker_of_its_own() -> None:
    states = [*STATES_BY_DEVICE["trap"], UNDECIDED]
    assert set(states) == set(figures.MARKERS)
    assert len(set(figures.MARKERS.values())) == len(states)


def test_each_state_is_written_in_the_legend_and_at_the_pointer(findings: Findings) -> None:
    traps = findings.table[findings.table["device"] == "trap"]
    drawn = [trace for trace in against(traps).data if trace.mode == "markers"]
    counts = traps["state"].value_counts()
    assert {trace.name for trace in drawn} == {
        f"{words.state_words(state)} ({count})" for state, count in counts.items()
    }
    for trace in drawn:
        assert trace.name.rsplit(" (", 1)[0] in trace.hovertemplate
    assert sum(len(trace.x) for trace in drawn) == len(traps)


def test_the_line_is_where_both_are_equal(findings: Findings) -> None:
    line = against(findings.table).data[0]
    assert list(line.x) == list(line.y)


def test_bars_have_the_cost_and_range_of_the_findings(findings: Findings) -> None:
    rows = tables.worst(findings, 40)
    bars = figures.cost_bars(rows, "USD").data[0]
    first = rows.head(figures.MOST_BARS)
    assert list(bars.x) == first["annual_cost"].tolist()
    assert [x + up for x, up in zip(bars.x, bars.error_x.array, strict=True)] == pytest.approx(
        first["annual_cost_high"].tolist()
    )
    assert [x - down for x, down in zip(bars.x, bars.error_x.arrayminus, strict=True)] == (
        pytest.approx(first["annual_cost_low"].tolist())
    )


def test_units_with_the_same_short_name_keep_bars_of_their_own(findings: Findings) -> None:
    rows = tables.worst(findings, 5).copy()
    rows["tag"] = [f"{'X' * 40}{n}" for n in range(5)]
    assert len(set(figures.cost_bars(rows, "USD").data[0].y)) == 5


def test_the_curve_ends_with_all_of_the_cost(findings: Findings) -> None:
    curve = tables.cumulative(findings)
    drawn = figures.cost_curve(curve, tables.flattens_at(curve), "USD", "dark").data[0]
    assert (drawn.x[0], drawn.y[0]) == (0, 0)
    ranked = findings.table["rank"].notna()
    assert drawn.y[-1] == pytest.approx(findings.table.loc[ranked, "annual_cost"].sum())
    assert list(drawn.x) == list(range(len(curve) + 1))


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_text_from_a_file_is_escaped(findings: Findings, theme: str) -> None:
    table = findings.table.assign(tag=HOSTILE, state=HOSTILE)
    rows = table[table["annual_cost"] > 0]
    for figure in (against(table, theme), figures.cost_bars(rows, HOSTILE, theme)):
        drawn = figure.to_json()
        assert "T-1" in drawn
        assert "<a" not in drawn
        assert r"\u003ca" not in drawn


def test_the_temperatures_of_a_unit_leave_out_what_was_not_read() -> None:
    drawn = figures.temperature_line({"inlet": 250.0, "outlet": float("nan")}, "light").data[0]
    assert list(drawn.y) == ["inlet"]
