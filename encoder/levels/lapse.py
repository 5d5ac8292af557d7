"""The temperature curve of an ascent, with lapse rates that do not depend on single rows."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from encoder.profile import FloatArray, IntArray, Profile

LOCAL_LAYER = 200.0
"""Depth in m of the layer a local lapse rate is taken over: common practice, no source."""

_DENSE = 5
"""Fewest rows in the local layer for a bend to be looked for among them (our own)."""

_MOST_KNOTS = 64


@dataclass(frozen=True, slots=True, eq=False)
class LapseCurve:
    """Rows with temperature and height, and the curve smoothed through them.

    Attributes
    ----------
    rows : ndarray of int, shape (level,)
        Indexes of the ascent rows, height strictly rising.
    pressure, height, temperature : ndarray, shape (level,)
        hPa, geopotential m, degC of the rows.
    gap_above : ndarray of bool, shape (level,)
        Whether a layer without data follows.
    lapse : ndarray, shape (level,)
        Lapse rate just above each level, K km-1; NaN for the highest.
    foot : ndarray, shape (level,)
        Temperature at each level of the line the lapse rate is taken from, degC.
    local_top : ndarray of int, shape (level,)
        Position of the highest level that line was fitted to.
    node_height, node_temperature : ndarray, shape (level,)
        Mean height and temperature of the rows around each level.
    layer : float
        Depth of the local layer in m.
    """

    rows: IntArray
    pressure: FloatArray
    height: FloatArray
    temperature: FloatArray
    gap_above: NDArray[np.bool_]
    lapse: FloatArray
    foot: FloatArray
    local_top: IntArray
    node_height: FloatArray
    node_temperature: FloatArray
    layer: float

    def complete(self, depth: float) -> NDArray[np.bool_]:
        """Return at which levels data cover a depth, in m, above without a gap."""
        target = self.height + depth
        reached = np.searchsorted(self.height, target - 1e-6)
        gaps = np.concatenate(([0], np.cumsum(self.gap_above)))
        inside = np.minimum(reached, len(self.height) - 1)
        whole = gaps[inside] == gaps[np.arange(len(self.height))]
        covered: NDArray[np.bool_] = whole & (reached < len(self.height))
        return covered

    def never_above(self, limit: float, depth: float) -> NDArray[np.bool_]:
        """Return where the average lapse to every higher level within a depth is <= a limit."""
        levels = self._lowest(limit, depth, sign=1.0)
        start: FloatArray = self.foot + limit * self.height / 1000.0
        return np.less_equal(start, levels + 1e-9)

    def always_above(self, limit: float, depth: float) -> NDArray[np.bool_]:
        """Return where the average lapse to every higher level within a depth is > a limit."""
        levels = -self._lowest(limit, depth, sign=-1.0)
        start: FloatArray = self.foot + limit * self.height / 1000.0
        return np.greater(start, levels + 1e-9)

    def _lowest(self, limit: float, depth: float, *, sign: float) -> FloatArray:
        """Return the lowest of sign * (temperature + limit * height) within the depth above.

        An average lapse rate between two levels exceeds the limit exactly where this sum, which
        is constant along a line of that lapse rate, decreases.
        """
        values = sign * (self.node_temperature + limit * self.node_height / 1000.0)
        target = self.height + depth
        at_depth = np.interp(target, self.node_height, self.node_temperature)
        end = sign * (at_depth + limit * target / 1000.0)
        end = np.where(target <= self.height[-1] + 1e-6, end, np.inf)
        last = np.searchsorted(self.node_height, target, side="right") - 1
        return np.minimum(_range_minimum(values, self.local_top + 1, last), end)

    def average_over(self, depth: float) -> FloatArray:
        """Return the average lapse rate over a depth above each level, NaN where data end."""
        lower, upper = (
            np.interp(self.height + offset, self.node_height, self.node_temperature)
            for offset in (0.0, depth)
        )
        return np.where(self.complete(depth), (lower - upper) / depth * 1000.0, np.nan)

    def greatest_average(self, level: int, depth: float) -> float:
        """Return the greatest average lapse rate from one level to any within a depth above."""
        higher = self.node_height > self.height[self.local_top[level]]
        higher &= self.node_height <= self.height[level] + depth
        heights = np.append(self.node_height[higher], self.height[level] + depth)
        there = np.interp(heights, self.node_height, self.node_temperature)
        averages = (self.foot[level] - there) / (heights - self.height[level]) * 1000.0
        return float(max(np.max(averages), self.lapse[level]))


def lapse_curve(ascent: Profile, *, gap: float) -> LapseCurve:
    """Return the temperature curve of an ascent.

    Parameters
    ----------
    ascent : Profile
        Prepared rows, pressure strictly decreasing.
    gap : float
        Thickness in hPa from which rows without temperature or height break the curve.

    Returns
    -------
    LapseCurve
        Of the rows that have temperature and a height above all rows before.
    """
    pressure, height = ascent["air_pressure"], ascent["geopotential_height"]
    temperature = ascent["air_temperature"]
    rows = np.flatnonzero(np.isfinite(height) & np.isfinite(temperature))
    highest = np.maximum.accumulate(height[rows])
    rows = rows[height[rows] > np.concatenate(([-np.inf], highest))[: len(rows)]]
    p, z, t = pressure[rows], height[rows], temperature[rows]
    gap_above = np.zeros(len(rows), dtype=np.bool_)
    gap_above[:-1] = (np.diff(rows) > 1) & (p[:-1] - p[1:] >= gap)
    count = len(rows)
    position = np.arange(count)
    top = np.searchsorted(z, z + LOCAL_LAYER, side="right") - 1
    top = np.minimum(np.maximum(top, position + 1), max(count - 1, 0))
    lapse, foot = _local_lines(z, t, position, top)
    low = np.searchsorted(z, z - LOCAL_LAYER / 2.0)
    high = np.searchsorted(z, z + LOCAL_LAYER / 2.0, side="right")
    return LapseCurve(
        rows=rows.astype(np.int64),
        pressure=p,
        height=z,
        temperature=t,
        gap_above=gap_above,
        lapse=lapse,
        foot=foot,
        local_top=top.astype(np.int64),
        node_height=_means(z, low, high),
        node_temperature=_means(t, low, high),
        layer=LOCAL_LAYER,
    )


def _means(values: FloatArray, low: NDArray[np.intp], high: NDArray[np.intp]) -> FloatArray:
    """Return means of slices; of a slice of one value, that value exactly."""
    sums = np.concatenate(([0.0], np.cumsum(values)))
    return np.where(high - low == 1, values, (sums[high] - sums[low]) / (high - low))


def _local_lines(
    height: FloatArray, temperature: FloatArray, first: IntArray, last: IntArray
) -> tuple[FloatArray, FloatArray]:
    """Return lapse rate (K km-1) and temperature at the lowest point of least-squares lines."""
    if len(height) < 2:
        return np.full(len(height), np.nan), temperature
    centre = float(np.mean(height))
    x = (height - centre) / 1000.0
    sums = [
        np.concatenate(([0.0], np.cumsum(values)))
        for values in (x, temperature, x * x, x * temperature)
    ]
    n = (last - first + 1).astype(np.float64)
    sx, st, sxx, sxt = (total[last + 1] - total[first] for total in sums)
    spread = n * sxx - sx * sx
    with np.errstate(invalid="ignore", divide="ignore"):
        slope = (n * sxt - sx * st) / spread
        direct = (temperature[last] - temperature[first]) / (x[last] - x[first])
    slope = np.where(n == 2.0, direct, slope)
    slope[last == first] = np.nan
    foot = np.where(n > 2.0, st / n + slope * (x - sx / n), temperature)
    return -slope, foot


def _range_minimum(values: FloatArray, first: IntArray, last: IntArray) -> FloatArray:
    """Return the minimum of each slice first..last (inclusive), infinity for an empty one."""
    tables = [values]
    while 2 ** len(tables) <= len(values):
        half = 2 ** (len(tables) - 1)
        tables.append(np.minimum(tables[-1][:-half], tables[-1][half:]))
    length = last - first + 1
    result = np.full(len(first), np.inf)
    filled = length > 0
    power = np.zeros(len(first), dtype=np.int64)
    power[filled] = np.floor(np.log2(length[filled])).astype(np.int64)
    for exponent, table in enumerate(tables):
        some = filled & (power == exponent)
        result[some] = np.minimum(table[first[some]], table[last[some] + 1 - 2**exponent])
    return result


def kink_row(curve: LapseCurve, start: int, limit: float) -> int:
    """Return the level near a start at which the curve bends to a lapse rate within a limit.

    Parameters
    ----------
    curve : LapseCurve
    start : int
        Position of the level at which the local lapse rate first meets the limit.
    limit : float
        K km-1.

    Returns
    -------
    int
        Position, among the levels within the local layer above the start, of the knot of the
        two straight lines that fit the rows around best, if the lower line is steeper than the
        limit and the upper one is not; otherwise the start. Where fewer than five rows lie in
        the local layer, the start.
    """
    height = curve.height
    base = height[start]
    knots = np.flatnonzero((height >= base) & (height <= base + curve.layer))
    if len(knots) < _DENSE:
        return start
    knots = knots[:: max(1, len(knots) // _MOST_KNOTS)]
    around = (height >= base - curve.layer) & (height <= base + 2.0 * curve.layer)
    x = (height[around] - base) / 1000.0
    t = curve.temperature[around]
    offset = x[None, :] - ((height[knots] - base) / 1000.0)[:, None]
    design = np.stack(
        [np.ones_like(offset), np.minimum(offset, 0.0), np.maximum(offset, 0.0)], axis=-1
    )
    enough = (np.sum(offset < 0.0, axis=1) >= _DENSE) & (np.sum(offset > 0.0, axis=1) >= _DENSE)
    design, knots = design[enough], knots[enough]
    if len(knots) == 0:
        return start
    normal = np.einsum("kpi,kpj->kij", design, design)
    moment = np.einsum("kpi,p->ki", design, t)
    lines = np.linalg.solve(normal, moment[..., None])[..., 0]
    misfit = np.sum((np.einsum("kpi,ki->kp", design, lines) - t) ** 2, axis=1)
    lower, upper = -lines[:, 1], -lines[:, 2]
    misfit[(lower <= limit) | (upper > limit)] = np.inf
    best = int(np.argmin(misfit))
    return int(knots[best]) if np.isfinite(misfit[best]) else start
