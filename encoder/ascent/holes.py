"""Holes in an ascent: neighbouring rows so far apart that nothing is known between them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from encoder.profile import Profile

if TYPE_CHECKING:
    from encoder.profile import FloatArray, IntArray

GAP_SECONDS, GAP_STEPS = 60.0, 10.0
"""Rows are missing where a step is longer than both: seconds, and median steps of the ascent.
Common practice, no source."""
_INSIDE = 0.05
"""Where in a hole, as a share of its thickness from either side, it is shown as without data."""


def steps_of(time: FloatArray) -> FloatArray:
    """Return the time between neighbouring rows in s, 0 where it is not known.

    Parameters
    ----------
    time : ndarray, shape (row,)
        s, rising, or falling for a sonde that falls.

    Returns
    -------
    ndarray, shape (row - 1,)
    """
    steps: FloatArray = np.nan_to_num(np.abs(np.diff(time)), nan=0.0)
    return steps


def longest_step(time: FloatArray) -> float:
    """Return the time between neighbouring rows, in s, beyond which rows are missing.

    Parameters
    ----------
    time : ndarray, shape (row,)
        s, rising or falling.

    Returns
    -------
    float
        Infinite for fewer than three rows. Coarse rows, such as the levels of a report, are far
        apart everywhere and have no holes.
    """
    steps = steps_of(time)
    if len(steps) < 2:
        return float("inf")
    return max(GAP_SECONDS, GAP_STEPS * float(np.median(steps)))


def with_holes_shown(ascent: Profile, least: float) -> tuple[Profile, IntArray]:
    """Return an ascent with two rows without data in every hole, and where its rows come from.

    Parameters
    ----------
    ascent : Profile
        Prepared rows, pressure strictly decreasing.
    least : float
        Thickness in hPa from which a layer without data is shown as such.

    Returns
    -------
    tuple of Profile and ndarray of int, shape (row,)
        The rows, and for each the index of the row of `ascent` it is, or for a row of a hole the
        row on its side. Without holes `ascent` itself.

    Notes
    -----
    A hole is longer than :func:`longest_step` and at least as thick as `least`. Rows that were
    lost on the way are then treated like rows whose values are missing.
    """
    count = len(ascent)
    rows: IntArray = np.arange(count)
    pressure = ascent["air_pressure"]
    wide = steps_of(ascent["time"]) > longest_step(ascent["time"])
    below = np.flatnonzero(wide & (pressure[:-1] - pressure[1:] >= least)) if count else rows
    if not len(below):
        return ascent, rows
    edges = np.stack([pressure[below], pressure[below + 1]], axis=1)
    inside = edges @ np.array([[1.0 - _INSIDE, _INSIDE], [_INSIDE, 1.0 - _INSIDE]])
    places = np.repeat(below + 1, 2)
    columns = {
        name: np.insert(values, places, inside.ravel() if name == "air_pressure" else np.nan)
        for name, values in ascent.columns.items()
    }
    beside = np.stack([below, below + 1], axis=1).ravel()
    source = np.insert(ascent.source_row, places, ascent.source_row[beside])
    return Profile(columns, source, ascent.computed), np.insert(rows, places, beside)
