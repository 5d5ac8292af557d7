"""The smallest set of levels that keeps every row within its limit.

Two nodes may follow each other if the straight line between them is within the limits at every
row of the segment. The smallest set is then a shortest path from the first node to the last, and
breadth-first search finds it: nodes reached with one level more are looked at only after all that
need one less, so the first path to arrive is a shortest one.

Whether a segment is within the limits follows from slopes. Seen from its lower node, every row
allows the slopes of a narrow sector; the slopes all rows up to some height allow are the running
maximum of the lower bounds to the running minimum of the upper ones. One pass over the rows above
a node thus judges every segment that starts there, and the pass ends where no slope is left. The
idea is that of the cone (or fan) of line simplification; here it runs between coded values, for
several quantities at once.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from encoder.levels.segments import SLACK, shorter_turn

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from encoder.levels.segments import Curve, Section
    from encoder.profile import FloatArray, IntArray

_ROWS_AT_ONCE = 192
_NODES_AT_ONCE = 64
_TINY = 1e-300


@dataclass(frozen=True, slots=True, eq=False)
class _Fan:
    """One curve prepared for passes over the rows above many nodes.

    Rows that are not judged have the value 0 and an infinite limit; the rows are padded at the
    end so that a window may start at the last one. For each node, ``judged_before`` counts the
    judged rows below its segments and ``next_judged`` is the first value judged in them.
    """

    curve: Curve
    observed: FloatArray
    limit: FloatArray
    limit_above: FloatArray
    judged_before: IntArray
    next_judged: FloatArray


def _fan(curve: Curve, first_row: IntArray) -> _Fan:
    judged = ~np.isnan(curve.observed)
    pad = _ROWS_AT_ONCE
    filled = np.where(judged, curve.observed, 0.0)
    known = np.concatenate((judged, [True]))
    following = np.minimum.accumulate(np.where(known, np.arange(len(known)), len(known))[::-1])
    return _Fan(
        curve,
        np.pad(filled, (0, pad)),
        np.pad(np.where(judged, curve.limit + SLACK, np.inf), (0, pad), constant_values=np.inf),
        np.pad(
            np.where(judged, curve.limit_above + SLACK, np.inf), (0, pad), constant_values=np.inf
        ),
        np.concatenate(([0], np.cumsum(judged)))[first_row],
        np.append(filled, 0.0)[following[::-1]][first_row],
    )


class ShortestPath:
    """Search for the smallest set of nodes of one section.

    Parameters
    ----------
    section : Section
        What is to be rebuilt, and from which nodes.
    """

    def __init__(self, section: Section) -> None:
        self._section = section
        self._fans = [_fan(curve, section.first_row) for curve in section.curves]
        self._rise = np.pad(-np.log(section.pressure), (0, _ROWS_AT_ONCE), constant_values=np.inf)
        self._node_rise = -np.log(section.coded_pressure)

    def between(self, start: int, end: int) -> tuple[list[int], int]:
        """Return the smallest set of nodes from one node to another.

        Parameters
        ----------
        start, end : int
            Nodes; both belong to the set.

        Returns
        -------
        path : list of int
            Nodes, rising; empty if there is no set that keeps every row within its limit.
        farthest : int
            Highest node that could be reached.

        Notes
        -----
        Of several smallest sets the one is taken whose levels, from the top downward, lie lowest.
        """
        parent = np.full(len(self._section), -1, dtype=np.int64)
        parent[start] = start
        frontier = np.array([start], dtype=np.int64)
        while len(frontier) and parent[end] < 0:
            lowest = np.full(len(parent), len(parent), dtype=np.int64)
            for chunk in self._chunks(frontier):
                for source, target in self._segments(chunk, end, parent):
                    np.minimum.at(lowest, target, source)
            frontier = np.flatnonzero(lowest < len(parent))
            parent[frontier] = lowest[frontier]
        if parent[end] < 0:
            return [], int(np.flatnonzero(parent >= 0)[-1])
        path = [end]
        while path[-1] != start:
            path.append(int(parent[path[-1]]))
        return path[::-1], end

    def _chunks(self, nodes: IntArray) -> Iterator[IntArray]:
        """Yield nodes in groups that share one zone of limits."""
        zone = self._section.lower_zone[nodes]
        for part in (nodes[zone], nodes[~zone]):
            for begin in range(0, len(part), _NODES_AT_ONCE):
                yield part[begin : begin + _NODES_AT_ONCE]

    def _segments(
        self, nodes: IntArray, end: int, parent: IntArray
    ) -> Iterator[tuple[IntArray, IntArray]]:
        """Yield the segments within the limits from nodes to nodes not reached so far."""
        section = self._section
        first_row = section.first_row
        count = len(section.pressure)
        last = np.minimum(section.next_last[nodes], end)
        bounds = [self._open(fan, len(nodes)) for fan in self._fans]
        done = 0
        while len(nodes):
            start = first_row[nodes] + done
            lows, highs = [], []
            for fan, (low, high) in zip(self._fans, bounds, strict=True):
                below, above = self._slopes(fan, nodes, np.minimum(start, count))
                below = np.concatenate((low[:, None], below), axis=1)
                above = np.concatenate((high[:, None], above), axis=1)
                lows.append(np.maximum.accumulate(below, axis=1))
                highs.append(np.minimum.accumulate(above, axis=1))
            left = nodes + 1
            if done:
                left = np.searchsorted(first_row, start, side="right").astype(np.int64)
            right = np.searchsorted(first_row, start + _ROWS_AT_ONCE, side="right")
            right = np.minimum(right, last + 1)
            yield from self._targets(nodes, (left, right), start, (lows, highs), parent)
            done += _ROWS_AT_ONCE
            row = first_row[nodes] + done
            alive = (row < count) & (row <= first_row[last])
            for low, high in zip(lows, highs, strict=True):
                alive &= low[:, -1] <= high[:, -1]
            bounds = [
                (low[alive, -1], high[alive, -1]) for low, high in zip(lows, highs, strict=True)
            ]
            nodes, last = nodes[alive], last[alive]

    @staticmethod
    def _open(fan: _Fan, count: int) -> tuple[FloatArray, FloatArray]:
        """Return bounds that allow every slope."""
        return np.full(count, -np.inf), np.full(count, np.inf)

    def _base(self, fan: _Fan, nodes: IntArray) -> tuple[FloatArray, NDArray[np.bool_]]:
        """Return the values the slopes start from and which nodes have none of their own."""
        base = fan.curve.coded[nodes]
        absent = np.isnan(base)
        stand_in = fan.next_judged[nodes] if fan.curve.turning else 0.0
        return np.where(absent, stand_in, base), absent

    def _slopes(self, fan: _Fan, nodes: IntArray, start: IntArray) -> tuple[FloatArray, FloatArray]:
        """Return the bounds of slope that each row of a window allows."""
        base, absent = self._base(fan, nodes)
        limits = fan.limit if self._section.lower_zone[nodes[0]] else fan.limit_above
        depth = sliding_window_view(self._rise, _ROWS_AT_ONCE)[start]
        depth = np.maximum(depth - self._node_rise[nodes][:, None], _TINY)
        off = sliding_window_view(fan.observed, _ROWS_AT_ONCE)[start] - base[:, None]
        limit = sliding_window_view(limits, _ROWS_AT_ONCE)[start]
        if fan.curve.turning:
            off = shorter_turn(off)
            depth[absent] = 1.0
        elif absent.any():
            limit = np.where(absent[:, None], np.inf, limit)
        unbounded = np.isinf(depth)
        if unbounded.any():
            depth[unbounded] = 1.0
        return (off - limit) / depth, (off + limit) / depth

    def _targets(
        self,
        nodes: IntArray,
        window: tuple[IntArray, IntArray],
        start: IntArray,
        bounds: tuple[list[FloatArray], list[FloatArray]],
        parent: IntArray,
    ) -> Iterator[tuple[IntArray, IntArray]]:
        """Yield the pairs of nodes whose line is within the bounds."""
        section = self._section
        left, right = window
        width = int((right - left).max())
        if width <= 0:
            return
        target = left[:, None] + np.arange(width)
        inside = target < right[:, None]
        target = np.minimum(target, len(section) - 1)
        inside &= section.coded_pressure[target] < section.coded_pressure[nodes][:, None]
        inside &= parent[target] < 0
        place = np.clip(section.first_row[target] - start[:, None], 0, _ROWS_AT_ONCE)
        depth = self._node_rise[target] - self._node_rise[nodes][:, None]
        depth = np.where(depth > 0.0, depth, 1.0)
        for fan, lows, highs in zip(self._fans, *bounds, strict=True):
            base, absent = self._base(fan, nodes)
            change = fan.curve.coded[target] - base[:, None]
            run = depth
            if fan.curve.turning:
                judged = fan.judged_before[target] > fan.judged_before[nodes][:, None]
                change = shorter_turn(change)
                calm = np.isnan(change)
                plain = absent[:, None] | (np.abs(change) <= section.largest_turn + SLACK)
                inside &= ~judged | np.where(calm, ~absent[:, None], plain)
                change = np.where(calm, 0.0, change)
                run = np.where(absent[:, None], 1.0, depth)
            slope = change / run
            inside &= ~(slope < np.take_along_axis(lows, place, axis=1))
            inside &= ~(slope > np.take_along_axis(highs, place, axis=1))
        source, column = np.nonzero(inside)
        if len(source):
            yield nodes[source], target[source, column]
