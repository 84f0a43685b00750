"""Words by number: the same text as if it were put together row by row."""

from __future__ import annotations

import math

import numpy as np
import pytest

from survey.diagnosis.phrases import NOTHING, Pieces


@pytest.mark.parametrize("far", [0.0, 5_000.0, 1e7])
def test_each_number_is_said_to_the_nearest_whole_one(far: float) -> None:
    values = np.array([0.5, 1.5, -2.4, 212.4999, far, math.nan, 1.5])
    pieces = Pieces()
    said = pieces.texts(pieces.each("{} °F".format, values)).to_pylist()
    assert said == ["0 °F", "2 °F", "-2 °F", "212 °F", f"{far:.0f} °F", "", "2 °F"]


def test_nothing_is_said_of_no_rows() -> None:
    pieces = Pieces()
    none = pieces.each("{} °F".format, np.array([]))
    assert pieces.texts(none).to_pylist() == []
    assert pieces.joined(np.empty((0, 3), dtype=np.int32)).to_pylist() == []


def test_pieces_are_joined_row_by_row_and_blanks_left_out() -> None:
    pieces = Pieces()
    one = pieces.of(["hot", "cold"], np.array([1, 0, 0]))
    two = np.array([pieces.alike("; "), NOTHING, NOTHING])
    three = np.array([pieces.alike("dry"), pieces.alike(" and dry"), NOTHING])
    joined = pieces.joined(np.stack([one, two, three], axis=1))
    assert joined.to_pylist() == ["cold; dry", "hot and dry", "hot"]
    assert pieces.joined(np.full((2, 3), NOTHING)).to_pylist() == ["", ""]


def test_a_capital_letter_leads_the_piece_and_nothing_else_changes() -> None:
    pieces = Pieces()
    numbers = np.append(pieces.of(["its inlet reads 5 °F", "äther"], np.array([0, 1, 0])), NOTHING)
    said = pieces.texts(pieces.capital(numbers)).to_pylist()
    assert said == ["Its inlet reads 5 °F", "Äther", "Its inlet reads 5 °F", ""]
    assert pieces.texts(numbers).to_pylist()[0] == "its inlet reads 5 °F"
