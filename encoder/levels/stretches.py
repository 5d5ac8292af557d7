"""Stretches of rows without data."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from encoder.physics import wind_components

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from encoder.profile import FloatArray, Profile


def missing_stretches(
    pressure: FloatArray, valid: NDArray[np.bool_], limit: float
) -> list[tuple[int, int]]:
    """Return the stretches of rows without data that are at least a given thickness.

    Parameters
    ----------
    pressure : ndarray, shape (row,)
        hPa, strictly decreasing.
    valid : ndarray of bool, shape (row,)
        Whether the row has data.
    limit : float
        Least thickness in hPa, between the nearest rows with data below and above.

    Returns
    -------
    list of tuple of int
        Index of the last row with data below and of the first one above. The first is -1 when
        data are missing from the lowest row on (the thickness counts from that row), the second
        is the number of rows when they never come back (it counts to the highest row). Empty
        when no row or every row has data.
    """
    count = len(pressure)
    if count == 0 or not np.any(valid):
        return []
    edges = np.flatnonzero(np.diff(np.concatenate(([True], valid, [True])).astype(np.int8)))
    begins, ends = edges[0::2] - 1, edges[1::2]
    thickness = pressure[np.maximum(begins, 0)] - pressure[np.minimum(ends, count - 1)]
    thick = thickness >= limit
    return [(int(b), int(e)) for b, e in zip(begins[thick], ends[thick], strict=True)]


def wind_rows(ascent: Profile) -> NDArray[np.bool_]:
    """Return which rows have a wind: a speed and a direction, or a calm.

    Parameters
    ----------
    ascent : Profile

    Returns
    -------
    ndarray of bool, shape (row,)
    """
    u, v = wind_components(ascent["wind_from_direction"], ascent["wind_speed"])
    return np.isfinite(u) & np.isfinite(v)
