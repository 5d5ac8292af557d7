"""Levels of maximum wind and the shear below and above them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from encoder.diagnostics import Result
from encoder.levels.ascent_rows import levels_at_rows
from encoder.levels.stretches import missing_stretches, wind_rows
from encoder.levels.table import LevelKind, Levels, Reason
from encoder.physics import wind_components

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from encoder.levels.rules import Rules
    from encoder.profile import FloatArray, IntArray, Profile

_TOP_KINDS = LevelKind.MAXIMUM_WIND | LevelKind.SIGNIFICANT_WIND | LevelKind.TOP_OF_WIND_SOUNDING
_MARGIN_SOURCE = "WMO-No. 306, 35.2.4.1 and 32.2.3.2; B/C25.8.4.4"
_TOP_SOURCE = "WMO-No. 306, 35.2.4.3; B/C25.8.4.5"


def maximum_winds(
    ascent: Profile, significant_rows: Sequence[int] | IntArray, *, rules: Rules, shear: bool = True
) -> Result[Levels]:
    """Return the levels of maximum wind.

    Parameters
    ----------
    ascent : Profile
        Prepared rows, pressure strictly decreasing.
    significant_rows : sequence of int
        Rows that are significant wind levels, first and last level of the wind sounding
        included. Rows without wind are passed over.
    rules : Rules
        Gives the surface, speed and margin.
    shear : bool
        Whether to compute the shear below and above.

    Returns
    -------
    Result of Levels
        MAXIMUM_WIND for a level inside the sounding; MAXIMUM_WIND, SIGNIFICANT_WIND and
        TOP_OF_WIND_SOUNDING for the highest one. Empty when none qualifies.

    Notes
    -----
    A level inside qualifies when it is above the surface of the rule, faster than the speed of
    the rule and faster than the significant levels just below and just above; of equally fast
    neighbours the lowest counts. A level at the limit of a layer without wind has no neighbour
    on that side and does not qualify. The fastest of these is always given, the lowest one of
    equals; the others if they exceed the nearest minimum on either side by the margin of the
    rule. The highest level is given besides if it is faster than every other.

    References
    ----------
    WMO-No. 306, 35.2.4.1, 35.2.4.3, 35.2.4.4 and 32.2.3; B/C25.8.4.
    """
    windy = wind_rows(ascent)
    picked = np.unique(np.asarray(significant_rows, dtype=np.intp))
    rows = picked[windy[picked]] if len(picked) else picked
    speeds, pressure = ascent["wind_speed"][rows], ascent["air_pressure"]
    broken = _breaks(ascent, rows, windy, float(rules.missing_wind))
    fast = (pressure[rows] < float(rules.wind_maximum_surface)) & (
        speeds > float(rules.wind_maximum_speed)
    )
    peaks = [peak for peak in _peaks(speeds, broken) if fast[peak]]
    chosen: dict[int, tuple[int, Reason]] = {}
    if peaks:
        greatest = max(peaks, key=lambda peak: (speeds[peak], -peak))
        for peak in peaks:
            margins = [speeds[peak] - low for low in _minima(speeds, broken, peak)]
            if peak == greatest or min(margins) >= float(rules.wind_maximum_margin):
                reason = _inside(rules, speeds[peak], min(margins), first=peak == greatest)
                chosen[int(rows[peak])] = (int(LevelKind.MAXIMUM_WIND), reason)
    last = len(rows) - 1
    if last > 0 and fast[last] and speeds[last] > np.max(speeds[:last]):
        chosen[int(rows[last])] = (int(_TOP_KINDS), _at_top(float(speeds[last])))
    order = sorted(chosen)
    levels = levels_at_rows(
        ascent, order, [chosen[row][0] for row in order], [(chosen[row][1],) for row in order]
    )
    if shear and order:
        below, above = wind_shear(ascent, order, rules=rules)
        columns = {**levels.columns, "wind_shear_below": below, "wind_shear_above": above}
        levels = Levels(columns, levels.kinds, levels.reasons, levels.rows)
    return Result(levels)


def _inside(rules: Rules, speed: float, margin: float, *, first: bool) -> Reason:
    if first:
        return Reason(
            "maximum-wind",
            "Greatest maximum of the wind above "
            f"{abs(rules.wind_maximum_surface.value):g} {rules.wind_maximum_surface.unit}: "
            f"{speed:.1f} m/s, more than {rules.wind_maximum_speed.value:.3g} m/s.",
            rules.wind_maximum_speed.source,
        )
    return Reason(
        "maximum-wind-further",
        f"A further maximum of the wind: {speed:.1f} m/s, {margin:.1f} m/s above the nearer "
        f"minimum in speed, at least {rules.wind_maximum_margin.value:.3g} m/s needed.",
        _MARGIN_SOURCE,
    )


def _at_top(speed: float) -> Reason:
    return Reason(
        "maximum-wind-top",
        f"The greatest wind of the whole sounding, {speed:.1f} m/s, is at its highest level.",
        _TOP_SOURCE,
    )


def _breaks(
    ascent: Profile, rows: IntArray, windy: NDArray[np.bool_], limit: float
) -> NDArray[np.bool_]:
    """Return, for each significant level, whether a layer without wind follows above it."""
    broken = np.zeros(len(rows), dtype=np.bool_)
    for begin, end in missing_stretches(ascent["air_pressure"], windy, limit):
        inside = np.flatnonzero((rows[:-1] <= begin) & (rows[1:] >= end))
        broken[inside] = True
    return broken


def _peaks(speeds: FloatArray, broken: NDArray[np.bool_]) -> list[int]:
    """Return the positions faster than both neighbours; of a flat peak the lowest."""
    found = []
    for position in range(1, len(speeds) - 1):
        above = position + 1
        while above < len(speeds) - 1 and speeds[above] == speeds[position]:
            above += 1
        faster = speeds[position] > speeds[position - 1] and speeds[position] > speeds[above]
        if faster and not np.any(broken[position - 1 : above]):
            found.append(position)
    return found


def _minima(speeds: FloatArray, broken: NDArray[np.bool_], peak: int) -> tuple[float, float]:
    """Return the nearest minimum of speed below and above a peak."""
    below = peak
    while below > 0 and speeds[below - 1] <= speeds[below] and not broken[below - 1]:
        below -= 1
    above = peak
    while above < len(speeds) - 1 and speeds[above + 1] <= speeds[above] and not broken[above]:
        above += 1
    return float(speeds[below]), float(speeds[above])


def wind_shear(
    ascent: Profile, rows: Sequence[int], *, rules: Rules
) -> tuple[FloatArray, FloatArray]:
    """Return the shear of the wind below and above some rows.

    Parameters
    ----------
    ascent : Profile
        Prepared rows with geopotential height.
    rows : sequence of int
        Indexes of the rows, with wind.
    rules : Rules
        Gives the distance, 1 km, and the thickness from which wind counts as missing.

    Returns
    -------
    below, above : ndarray, shape (level,)
        Size in m s-1 of the vector difference between the wind of the row and the wind that far
        below and above it, interpolated by components linearly in height. NaN where there is no
        height, no wind at that distance, or a layer without wind.

    References
    ----------
    WMO-No. 306, 35.2.4.4, group 4vbvbvava.
    """
    height, pressure = ascent["geopotential_height"], ascent["air_pressure"]
    u, v = wind_components(ascent["wind_from_direction"], ascent["wind_speed"])
    windy = np.isfinite(u) & np.isfinite(v)
    usable = windy & np.isfinite(height)
    rising = np.flatnonzero(usable)
    rising = rising[height[rising] >= np.maximum.accumulate(height[rising])]
    gaps = missing_stretches(pressure, windy, float(rules.missing_wind))
    picked = np.asarray(rows, dtype=np.intp)
    sizes = []
    for distance in (-float(rules.shear_depth), float(rules.shear_depth)):
        wanted = height[picked] + distance
        if len(rising) == 0:
            sizes.append(np.full(len(picked), np.nan))
            continue
        outside = {"left": np.nan, "right": np.nan}
        du = np.interp(wanted, height[rising], u[rising], **outside) - u[picked]
        dv = np.interp(wanted, height[rising], v[rising], **outside) - v[picked]
        size = np.where(np.isnan(wanted), np.nan, np.hypot(du, dv))
        for begin, end in gaps:
            if begin >= 0 and end < len(pressure):
                size[(wanted > height[begin]) & (wanted < height[end])] = np.nan
        sizes.append(size)
    return sizes[0], sizes[1]
