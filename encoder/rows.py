"""Rows spoken of together: stretches of neighbouring rows, and how a message names them."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

Mask = NDArray[np.bool_]
"""Which rows are meant, one truth value a row."""

MOST_STRETCHES = 10
"""Stretches a message names one by one before it counts the others."""
MOST_ROWS = 20
"""Rows a diagnostic lists one by one; of more it gives the first and the last."""


def stretches(mask: Mask) -> list[tuple[int, int]]:
    """Return the first and last index of every run of true values.

    Parameters
    ----------
    mask : ndarray of bool, shape (row,)

    Returns
    -------
    list of tuple of int
        Both ends belong to the run.
    """
    padded = np.concatenate(([False], mask, [False])).astype(np.int8)
    steps = np.diff(padded)
    firsts = np.flatnonzero(steps == 1)
    lasts = np.flatnonzero(steps == -1) - 1
    return [(int(first), int(last)) for first, last in zip(firsts, lasts, strict=True)]


def rows_as_text(source_row: NDArray[Any], mask: Mask) -> str:
    """Return the picked rows as text, by their line in the profile file.

    Parameters
    ----------
    source_row : ndarray of int, shape (row,)
        Line of each row; 0 is the surface observation.
    mask : ndarray of bool, shape (row,)
        The rows meant.

    Returns
    -------
    str
        For example ``"lines 12-40, 77 (30 rows)"``, in the order of the file.
    """
    order = np.argsort(source_row, kind="stable")
    source_row, mask = source_row[order], mask[order]
    runs = stretches(mask)
    words = []
    for first, last in runs[:MOST_STRETCHES]:
        low, high = int(source_row[first]), int(source_row[last])
        words.append(str(low) if low == high else f"{low}-{high}")
    text = ", ".join(words)
    if len(runs) > MOST_STRETCHES:
        more = len(runs) - MOST_STRETCHES
        text += f" and {more} more stretches up to line {int(source_row[runs[-1][1]])}"
    count = int(np.count_nonzero(mask))
    if count == 1:
        return "the surface observation" if text == "0" else f"line {text}"
    return f"lines {text} ({count} rows)"


def rows_counted(count: int) -> str:
    """Return a number of rows in words, such as ``"1 row"`` or ``"12 rows"``."""
    return "1 row" if count == 1 else f"{count} rows"


def rows_named(source_row: NDArray[Any], mask: Mask) -> tuple[int, ...]:
    """Return the lines for ``Diagnostic.rows``: all of a few, first and last of many."""
    rows = sorted(int(row) for row in source_row[mask])
    return tuple(rows) if len(rows) <= MOST_ROWS else (rows[0], rows[-1])
