"""What to mend first."""

from __future__ import annotations

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from survey.losses.ranking import add_rank

ROW = st.tuples(
    st.sampled_from(["working", "leaking", "failed_open", "cold", "undecided"]),
    st.sampled_from([0.0, 10.0, 250.0]),
)


def ranked(rows: list[tuple[str, str, float]]) -> pd.Series:
    """Return ranks by tag of rows (tag, state, cost)."""
    frame = pd.DataFrame(rows, columns=["tag", "state", "annual_cost"])
    return add_rank(frame).set_index("tag")["rank"]


def test_dearest_first_and_ties_by_tag() -> None:
    rank = ranked(
        [
            ("T-3", "leaking", 100.0),
            ("T-9", "failed_open", 900.0),
            ("T-1", "leaking", 100.0),
            ("T-2", "failed_closed", 0.0),
            ("T-0", "cold", 0.0),
        ]
    )
    assert rank.to_dict() == {"T-9": 1, "T-1": 2, "T-3": 3, "T-0": 4, "T-2": 5}


def test_ranks_are_by_the_cent() -> None:
    # A part of a cent is rounding, and then the tag decides; a whole cent is not.
    rank = ranked([
        ("T-1", "cold", 10.0),
        ("T-2", "cold", 10.004),
        ("T-3", "cold", 10.01),
        ("T-4", "cold", 9.99),
    ])
    assert rank.to_dict() == {"T-3": 1, "T-1": 2, "T-2": 3, "T-4": 4}


def test_blank_where_nothing_is_to_be_done() -> None:
    rank = ranked([("T-1", "working", 50.0), ("T-2", "leaking", 10.0), ("V-1", "working", 0.0)])
    assert rank["T-2"] == 1
    assert rank[["T-1", "V-1"]].isna().all()


def test_a_round_without_rows_or_without_faults_has_no_rank() -> None:
    assert len(ranked([])) == 0
    assert ranked([("T-1", "working", 0.0)]).isna().all()


@settings(max_examples=60)
@given(st.lists(ROW, max_size=12), st.randoms(use_true_random=False))
def test_ranks_count_up_without_gaps_whatever_the_order(
    rows: list[tuple[str, float]], random: object
) -> None:
    tagged = [(f"T-{n:02d}", *row) for n, row in enumerate(rows)]
    rank = ranked(tagged)
    due = rank.dropna().sort_values()
    assert due.tolist() == list(range(1, len(due) + 1))
    assert len(due) == sum(state != "working" for state, _ in rows)
    cost = {tag: cost for tag, _, cost in tagged}
    keys = [(-cost[tag], tag) for tag in due.index]
    assert keys == sorted(keys)
    mixed = list(tagged)
    random.shuffle(mixed)  # type: ignore[attr-defined]
    again = ranked(mixed)
    pd.testing.assert_series_equal(again.reindex(rank.index), rank)


def test_tags_tie_as_text() -> None:
    rank = ranked([("10", "cold", 0.0), ("9", "cold", 0.0), ("é", "cold", 0.0)])
    assert rank.to_dict() == {"10": 1, "9": 2, "é": 3}


@pytest.mark.parametrize("columns", [["tag", "state", "annual_cost", "note"]])
def test_ranking_adds_a_column_and_edits_none(columns: list[str]) -> None:
    frame = pd.DataFrame([["T-1", "cold", 1.0, "x"]], columns=columns)
    before = frame.copy(deep=True)
    result = add_rank(frame)
    pd.testing.assert_frame_equal(frame, before)
    assert list(result.columns) == [*columns, "rank"]
