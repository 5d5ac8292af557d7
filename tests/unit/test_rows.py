"""Stretches of rows and how messages name them."""

from __future__ import annotations

import numpy as np

from encoder.rows import rows_as_text, rows_counted, rows_named, stretches


def test_stretches_are_runs_of_true_values():
    """Both ends belong to a stretch; runs at the edges count."""
    mask = np.array([True, True, False, True, False, False, True])
    assert stretches(mask) == [(0, 1), (3, 3), (6, 6)]
    assert stretches(np.zeros(3, dtype=bool)) == []


def test_rows_are_named_by_their_line():
    """The line in the file is named, not the position in the profile."""
    rows = np.arange(12, 22)
    mask = np.zeros(10, dtype=bool)
    mask[[0, 1, 2, 7]] = True
    assert rows_as_text(rows, mask) == "lines 12-14, 19 (4 rows)"
    assert rows_as_text(rows, rows == 15) == "line 15"
    assert rows_as_text(np.array([0, 5]), np.array([True, False])) == "the surface observation"


def test_rows_in_another_order_are_named_in_the_order_of_the_file():
    """Rows sorted by time are still named by their lines from top to bottom."""
    rows = np.array([2, 5, 4, 3, 6])
    mask = np.array([False, True, True, False, True])
    assert rows_as_text(rows, mask) == "lines 4-6 (3 rows)"
    assert rows_named(rows, mask) == (4, 5, 6)


def test_many_stretches_are_counted():
    """A message names ten stretches and counts the others, so that it stays readable."""
    rows = np.arange(2, 42)
    assert rows_as_text(rows, rows % 2 == 0) == (
        "lines 2, 4, 6, 8, 10, 12, 14, 16, 18, 20 and 10 more stretches up to line 40 (20 rows)"
    )


def test_rows_of_a_diagnostic_are_all_of_a_few_or_the_ends_of_many():
    """Up to twenty rows are listed, of more the first and the last."""
    rows = np.arange(2, 42)
    assert rows_named(rows, rows < 5) == (2, 3, 4)
    assert rows_named(rows, rows > 0) == (2, 41)


def test_numbers_of_rows_are_in_words():
    """One row is no rows."""
    assert [rows_counted(count) for count in (0, 1, 2)] == ["0 rows", "1 row", "2 rows"]
