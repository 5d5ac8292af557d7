"""What the winds of a station say of the reports they came in: units mixed up, fives lost."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

from encoder.convert.batch import TENTHS, fill_of, sums_of_soundings
from encoder.levels.table import LevelKind

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from encoder.convert.batch import Batch

UNIT_RATIO = 1.5
"""Median speed against the neighbouring soundings of the station from which, or below the inverse
of which, m s-1 and knots (ratio 1.94) are suspected of having been mixed up."""
UNIT_NEIGHBOURS = 30
UNIT_LEAST = 10
"""Levels with wind a sounding needs, and soundings on each side, for that comparison."""

UNIT_OF_PARTS = (1.55, 2.4)
"""Speeds of standard levels against those between significant winds, as a ratio or its inverse,
from which to which the two are suspected of different units (1.94)."""
UNIT_SPREAD = 0.3
UNIT_LEVELS = 3
"""Most spread of the logarithm of that ratio in a sounding, and standard levels it needs."""

_WIND = ("wind_from_direction", "wind_speed")
LEAST_IN_TENS = 12
"""Winds from which it is no chance that every direction is a whole ten degrees; with less than half
of the soundings around like that, the fives were lost on the way (common practice, no source)."""


def present(batch: Batch, name: str) -> NDArray[np.bool_]:
    """Tell which levels have a value."""
    values = batch.levels[name]
    if batch.tenths:
        return np.asarray(values != fill_of(name))
    return np.asarray(~np.isnan(values))


def figures(batch: Batch, name: str, rows: Any) -> NDArray[np.float32]:
    """Return values in package units; float32 is exact enough for checks."""
    values = batch.levels[name][rows].astype(np.float32)
    if batch.tenths:
        packing = TENTHS[name]
        values *= np.float32(packing.factor / packing.steps)
    return np.asarray(values)


def unit_suspect(batch: Batch) -> NDArray[np.bool_]:
    """Tell which soundings have winds about twice or half those of their neighbours in time."""
    count = len(batch)
    there = present(batch, "wind_speed")
    speed = np.where(there, figures(batch, "wind_speed", slice(None)), 0.0)
    number = sums_of_soundings(there, batch.profiles["row_size"], np.int32)
    total = sums_of_soundings(speed, batch.profiles["row_size"], np.float64)
    usable = np.flatnonzero(number >= UNIT_LEAST)
    marked = np.zeros(count, dtype=bool)
    if len(usable) < 2 * UNIT_NEIGHBOURS:
        return marked
    # one wrong sounding is weather; a run of them beside runs of another level is a unit
    mean = np.log(np.maximum(total[usable] / number[usable], 0.1))
    summed = np.concatenate(([0.0], np.cumsum(mean)))
    place = np.arange(len(usable))
    left, right = place - UNIT_NEIGHBOURS, place + UNIT_NEIGHBOURS
    inside = (left >= 0) & (right <= len(usable))
    before = summed[place[inside]] - summed[left[inside]]
    after = summed[right[inside]] - summed[place[inside]]
    step = (after - before) / UNIT_NEIGHBOURS
    limit = np.log(UNIT_RATIO)
    peaks = np.flatnonzero(np.abs(step) > limit)
    if not len(peaks):
        return marked
    groups = np.split(peaks, np.flatnonzero(np.diff(peaks) > UNIT_NEIGHBOURS) + 1)
    edges = [int(group[np.argmax(np.abs(step[group]))]) for group in groups]
    borders = [0, *(int(place[inside][edge]) for edge in edges), len(usable)]
    usual = float(np.median(mean))
    for begin, end in pairwise(borders):
        if abs(float(mean[begin:end].mean()) - usual) > limit * 0.75:
            marked[usable[begin:end]] = True
    return marked


def fives_lost(batch: Batch) -> NDArray[np.bool_]:
    """Tell which soundings have directions in whole tens where those around give fives as well.

    The five degrees of a direction stand in the hundreds of the speed; who codes a report anew
    without knowing that loses them all.
    """
    offsets = batch.offsets
    columns = [batch.levels[name] for name in _WIND]
    missing = [fill_of(name) if batch.tenths else np.nan for name in _WIND]

    def gives_fives(rows: Any) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
        direction, speed = (column[rows] for column in columns)
        there = (direction != missing[0]) & (speed != missing[1]) & (speed > 0)  # calm has none
        there &= np.isfinite(direction)
        return there, there & (direction % 10 != 0)

    long = np.flatnonzero(batch.profiles["row_size"] >= LEAST_IN_TENS)
    # most give a five among their first levels, and need no look at the others
    first = offsets[:-1][long][:, None] + np.arange(LEAST_IN_TENS)
    tens = np.asarray(~gives_fives(first)[1].any(axis=1))
    known = np.ones(len(long), dtype=bool)
    for one in np.flatnonzero(tens).tolist():
        there, fives = gives_fives(slice(offsets[long[one]], offsets[long[one] + 1]))
        tens[one] = not fives.any()
        known[one] = fives.any() or np.count_nonzero(there) >= LEAST_IN_TENS
    judged, tens = long[known], tens[known]
    summed = np.concatenate(([0], np.cumsum(tens)))
    place = np.arange(len(judged))
    left, right = np.maximum(place - UNIT_NEIGHBOURS, 0), place + UNIT_NEIGHBOURS + 1
    right = np.minimum(right, len(judged))
    seldom = summed[right] - summed[left] < 0.5 * (right - left)
    marked = np.zeros(len(batch), dtype=bool)
    marked[judged[tens & seldom]] = True
    return marked


def units_of_parts(batch: Batch) -> NDArray[np.bool_]:
    """Tell in which soundings standard levels and significant winds differ like m s-1 and knots.

    Standard levels are in parts A and C, significant winds in B and D, and each part says its unit
    by itself. The sources in tenths have no such parts.
    """
    count = len(batch)
    marked = np.zeros(count, dtype=bool)
    kinds = batch.levels["kinds"]
    significant = (kinds & int(LevelKind.SIGNIFICANT_WIND)) != 0
    standard = ((kinds & int(LevelKind.STANDARD)) != 0) & ~significant
    if not significant.any() or not standard.any():
        return marked
    windy = present(batch, "wind_speed") & present(batch, "air_pressure")
    points, levels = np.flatnonzero(windy & significant), np.flatnonzero(windy & standard)
    owner = np.repeat(np.arange(count), batch.profiles["row_size"])
    after = np.searchsorted(points, levels)
    inside = (after > 0) & (after < len(points))
    levels, after = levels[inside], after[inside]
    below, above = points[after - 1], points[after]
    inside = (owner[below] == owner[levels]) & (owner[above] == owner[levels])
    levels, below, above = levels[inside], below[inside], above[inside]
    depth, speed = np.full(len(kinds), np.nan), np.full(len(kinds), np.nan)
    for rows in (levels, points):
        depth[rows] = np.log(np.maximum(figures(batch, "air_pressure", rows), np.float32(0.01)))
        speed[rows] = figures(batch, "wind_speed", rows)
    layer = depth[below] - depth[above]
    share = np.where(layer > 0, (depth[below] - depth[levels]) / np.where(layer > 0, layer, 1), 0)
    between = speed[below] + share * (speed[above] - speed[below])
    strong = (between > 2.0) & (speed[levels] > 1.0)
    ratio = np.log(speed[levels][strong] / between[strong])
    own = owner[levels][strong]
    number = np.bincount(own, minlength=count)
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = np.bincount(own, ratio, count) / number
        spread = np.sqrt(np.maximum(np.bincount(own, ratio**2, count) / number - mean**2, 0.0))
    low, high = np.log(UNIT_OF_PARTS)
    enough = (number >= UNIT_LEVELS) & (spread < UNIT_SPREAD)
    marked[enough] = (np.abs(mean[enough]) > low) & (np.abs(mean[enough]) < high)
    return marked
