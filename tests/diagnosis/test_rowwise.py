"""Tables kept column by column: numpy's own answers, in the layout that is quick."""

from __future__ import annotations

import numpy as np

from survey.diagnosis.rowwise import (
    columns_of,
    looked_up,
    plus,
    row_dot,
    row_max,
    row_min,
    row_sum,
    rows_of,
    times,
)

RANDOM = np.random.default_rng(5)
COLUMN, ROW = RANDOM.normal(size=700), RANDOM.normal(size=6)
TABLE = plus(COLUMN, ROW)


def test_made_tables_are_kept_column_by_column() -> None:
    index, code = np.array([5, 5, 690]), np.array([2, -1, 0])
    for made, expected in (
        (TABLE, COLUMN[:, None] + ROW),
        (times(COLUMN, ROW), COLUMN[:, None] * ROW),
        (rows_of(TABLE, index), TABLE[index]),
        (columns_of(TABLE, code), TABLE[:, code]),
        (looked_up(TABLE[:3], code), TABLE[:3][code]),
    ):
        np.testing.assert_array_equal(made, expected)
        assert made.flags.f_contiguous


def test_rows_of_a_box_are_taken_whole() -> None:
    box = np.asfortranarray(RANDOM.normal(size=(50, 2, 3)))
    np.testing.assert_array_equal(rows_of(box, np.array([7, 0])), box[[7, 0]])


def test_rows_are_summed_and_compared_as_numpy_does() -> None:
    np.testing.assert_allclose(row_sum(TABLE), TABLE.sum(axis=1), atol=1e-13)
    np.testing.assert_allclose(row_dot(TABLE, ROW), (TABLE * ROW).sum(axis=1), atol=1e-13)
    np.testing.assert_array_equal(row_max(TABLE), TABLE.max(axis=1))
    np.testing.assert_array_equal(row_min(TABLE), TABLE.min(axis=1))


def test_a_part_of_the_rows_gives_the_bits_of_the_whole() -> None:
    for some in (slice(0, 1), slice(3, 300), slice(699, 700)):
        np.testing.assert_array_equal(row_sum(TABLE)[some], row_sum(TABLE[some]))
        np.testing.assert_array_equal(row_dot(TABLE, ROW)[some], row_dot(TABLE[some], ROW))
