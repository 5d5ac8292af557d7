"""What to do where no set of levels keeps every row within its limit.

Some rows cannot be rebuilt from coded levels at all: a step between two neighbouring rows that
share a coded pressure, for example. Around such a place the levels are chosen that leave the
fewest misfits, and of those the fewest levels.
"""

from __future__ import annotations

import itertools
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from encoder.levels.fewest_levels import ShortestPath
from encoder.levels.segments import SLACK, misfits, no_plain_way, shorter_turn

if TYPE_CHECKING:
    from encoder.levels.segments import Curve, Section
    from encoder.profile import FloatArray, IntArray

_NODES_AROUND = 60
_MOST_ROUNDS = 16


def fewest_nodes(section: Section, start: int, end: int) -> list[int] | None:
    """Return the smallest set of nodes between two, leaving out rows that cannot be rebuilt.

    Parameters
    ----------
    section : Section
    start, end : int
        Nodes that belong to the set.

    Returns
    -------
    list of int or None
        Nodes, rising. If every row can be brought within its limits the set is a smallest one
        that does so. If not, and there are at most 120 nodes, it leaves the fewest misfits
        possible and is the smallest set that does. On a longer stretch the places where the
        search is stopped are treated one by one in that manner, and the set is a smallest one
        for all other rows. None if that does not end.
    """
    path, farthest = ShortestPath(section).between(start, end)
    if path:
        return path
    if end - start <= 2 * _NODES_AROUND:
        return least_misfits(section, start, end)
    reduced = section
    around = _NODES_AROUND
    for _ in range(_MOST_ROUNDS):
        low, high = max(start, farthest - around), min(end, farthest + around)
        part = least_misfits(reduced, low, high)
        spared = reduced if part is None else _without_misfits(reduced, part)
        if spared is reduced:
            around *= 2
            if around > 8 * _NODES_AROUND:
                return None
            continue
        reduced = spared
        path, farthest = ShortestPath(reduced).between(start, end)
        if path:
            return path
    return None


def _without_misfits(section: Section, path: list[int]) -> Section:
    """Return the section without the rows that a set of nodes leaves out of their limits."""
    curves = []
    found = False
    for curve in section.curves:
        observed = curve.observed.copy()
        for lower, upper in itertools.pairwise(path):
            misfit, limit = misfits(section, curve, lower, upper)
            rows = int(section.first_row[lower]) + np.flatnonzero(misfit > limit + SLACK)
            observed[rows] = np.nan
            found |= len(rows) > 0
        curves.append(replace(curve, observed=observed))
    return replace(section, curves=tuple(curves)) if found else section


def least_misfits(section: Section, start: int, end: int) -> list[int] | None:
    """Return the nodes that leave the fewest misfits, and of those sets the smallest.

    Parameters
    ----------
    section : Section
    start, end : int
        Nodes that belong to the set. The time grows with the third power of their distance.

    Returns
    -------
    list of int or None
        Nodes, rising; of several equal sets the one whose levels, from the top downward, lie
        lowest. None if the nodes cannot be joined at all.
    """
    count = end - start + 1
    cost = np.full(count, np.iinfo(np.int64).max, dtype=np.int64)
    cost[0] = 0
    parent = np.full(count, -1, dtype=np.int64)
    unreached = int(cost[-1]) if count > 1 else 0
    for lower in range(start, end):
        if lower > start and cost[lower - start] == unreached:
            continue
        last = min(int(section.next_last[lower]), end)
        targets = np.arange(lower + 1, last + 1)
        below = section.coded_pressure[targets] < section.coded_pressure[lower]
        targets = targets[below]
        if len(targets) == 0:
            continue
        total = cost[lower - start] + _misfit_counts(section, lower, targets) * count + 1
        better = total < cost[targets - start]
        cost[targets[better] - start] = total[better]
        parent[targets[better] - start] = lower
    if parent[-1] < 0:
        return None if count > 1 else [start]
    path = [end]
    while path[-1] != start:
        path.append(int(parent[path[-1] - start]))
    return path[::-1]


def _misfit_counts(section: Section, lower: int, targets: IntArray) -> IntArray:
    """Return how many values are out of their limits in each segment that starts at a node."""
    first = int(section.first_row[lower])
    stop = int(section.first_row[targets[-1]])
    bottom = np.log(section.coded_pressure[lower])
    depth = bottom - np.log(section.coded_pressure[targets])
    share = (bottom - np.log(section.pressure[first:stop])) / depth[:, None]
    inside = np.arange(first, stop) < section.first_row[targets][:, None]
    total = np.zeros(len(targets), dtype=np.int64)
    for curve in section.curves:
        observed = curve.observed[first:stop]
        limit = (curve.limit if section.lower_zone[lower] else curve.limit_above)[first:stop]
        off = observed - _lines(curve, lower, targets, share)
        off = np.abs(shorter_turn(off) if curve.turning else off)
        wrong = off > limit + SLACK
        for place, upper in enumerate(targets if curve.turning else ()):
            if no_plain_way(section, curve, lower, int(upper)):
                wrong[place] = ~np.isnan(observed)
        total += np.count_nonzero(wrong & inside, axis=1)
    return total


def _lines(curve: Curve, lower: int, targets: IntArray, share: FloatArray) -> FloatArray:
    """Return the straight lines from a node to others, shape (target, row)."""
    start, ends = curve.coded[lower], curve.coded[targets][:, None]
    change = ends - start
    if curve.turning:
        start = ends if np.isnan(start) else start
        change = np.where(np.isnan(change), 0.0, shorter_turn(change))
    values: FloatArray = start + share * change
    return values
