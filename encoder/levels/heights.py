"""Levels made from the rows of an ascent at given heights."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from encoder.columns import LEVEL_COLUMNS
from encoder.levels.altitudes import LONGEST_GAP
from encoder.levels.stretches import wind_rows
from encoder.levels.table import LevelKind, Levels
from encoder.physics import wind_components, wind_from_components

if TYPE_CHECKING:
    from collections.abc import Sequence

    from encoder.levels.table import Reason
    from encoder.profile import FloatArray, Profile


def wind_at_heights(ascent: Profile, heights: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return direction and speed of the wind at heights.

    Parameters
    ----------
    ascent : Profile
        Rows with geopotential height increasing.
    heights : ndarray, shape (wanted,)
        Geopotential heights in m.

    Returns
    -------
    direction, speed : ndarray, shape (wanted,)
        Linear in height by components; NaN outside the rows with wind, and inside a layer of
        1500 m or more without one (WMO-No. 306 Volume I.2, B/C20.7.5).
    """
    wanted = np.asarray(heights, dtype=np.float64)
    nothing = np.full(len(wanted), np.nan)
    usable = wind_rows(ascent) & np.isfinite(ascent["geopotential_height"])
    known = ascent["geopotential_height"][usable]
    if len(known) == 0:
        return nothing, nothing.copy()
    u, v = wind_components(ascent["wind_from_direction"], ascent["wind_speed"])
    outside = {"left": np.nan, "right": np.nan}
    east = np.interp(wanted, known, u[usable], **outside)
    north = np.interp(wanted, known, v[usable], **outside)
    above = np.clip(np.searchsorted(known, wanted), 1, max(len(known) - 1, 1))
    if len(known) > 1:
        inside = (wanted > known[above - 1]) & (wanted < known[above])
        lost = inside & (known[above] - known[above - 1] >= LONGEST_GAP)
        east[lost] = north[lost] = np.nan
    direction, speed = wind_from_components(east, north)
    return np.atleast_1d(direction), np.atleast_1d(speed)


def levels_at_heights(
    ascent: Profile,
    heights: FloatArray,
    kinds: Sequence[int] | None = None,
    reasons: Sequence[Sequence[Reason]] | None = None,
) -> Levels:
    """Return the wind of an ascent at heights as levels.

    Parameters
    ----------
    ascent : Profile
        Rows with geopotential height strictly increasing.
    heights : ndarray, shape (level,)
        Geopotential heights in m, rising.
    kinds : sequence of int, optional
    reasons : sequence of sequence of Reason, optional

    Returns
    -------
    Levels
        With time, position and wind, linear in height between two rows; without pressure.
    """
    wanted = np.asarray(heights, dtype=np.float64)
    rows = ascent["geopotential_height"]
    columns = {name: np.full(len(wanted), np.nan) for name in LEVEL_COLUMNS}
    columns["geopotential_height"] = wanted
    for name in ("time", "latitude", "longitude"):
        if name not in ascent:
            continue
        values = ascent[name]
        known = np.isfinite(values) & np.isfinite(rows)
        if np.count_nonzero(known) == 0:
            continue
        given = values[known]
        if name == "longitude":
            given = np.unwrap(given, period=360.0)
        columns[name] = np.interp(wanted, rows[known], given, left=np.nan, right=np.nan)
    columns["longitude"] = np.mod(columns["longitude"] + 180.0, 360.0) - 180.0
    columns["wind_from_direction"], columns["wind_speed"] = wind_at_heights(ascent, wanted)
    around: list[tuple[int, ...]] = []
    for value in wanted.tolist():
        upper = int(np.searchsorted(rows, value))
        if upper == len(rows):
            around.append(())
        elif rows[upper] == value or upper == 0:
            around.append((upper,))
        else:
            around.append((upper - 1, upper))
    bits = np.zeros(len(wanted), dtype=np.int64) if kinds is None else np.array(kinds, np.int64)
    why = () if reasons is None else tuple(tuple(item) for item in reasons)
    return Levels(columns, bits.reshape(-1), why, tuple(around))


def highest_only(levels: Levels) -> Levels:
    """Return levels of which the highest with wind alone is marked as the top of the winds."""
    top = int(LevelKind.TOP_OF_WIND_SOUNDING)
    marked = levels.having(top)
    if len(marked) < 2:
        return levels
    kinds = levels.kinds.copy()
    kinds[marked[:-1]] &= ~top
    return Levels(levels.columns, kinds, levels.reasons, levels.rows, levels.attributes)
