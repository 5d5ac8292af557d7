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

_Bounds = tuple["FloatArray", "FloatArray"]


@dataclass(frozen=True, slots=True, eq=False)
class _Fan:
    """One curve prepared for passes over the rows above many nodes.

    Rows that are not judged have the value 0 and an infinite limit. Values and limits come as
    overlapping windows, one that starts at each row and one beyond the last; the rows are padded
    with rows that are not judged. For each node, ``judged_before`` counts the judged rows below
    its segments and ``next_judged`` is the first value judged in them.
    """

    curve: Curve
    observed: FloatArray
    limit: FloatArray
    limit_above: FloatArray
    judged_before: IntArray
    next_judged: FloatArray


def _windows(values: FloatArray, padding: float) -> FloatArray:
    padded = np.pad(values, (0, _ROWS_AT_ONCE), constant_values=padding)
    return sliding_window_view(padded, _ROWS_AT_ONCE)


def _fan(curve: Curve, first_row: IntArray) -> _Fan:
    judged = ~np.isnan(curve.observed)
    filled = np.where(judged, curve.observed, 0.0)
    known = np.concatenate((judged, [True]))
    following = np.minimum.accumulate(np.where(known, np.arange(len(known)), len(known))[::-1])
    return _Fan(
        curve,
        _windows(filled, 0.0),
        _windows(np.where(judged, curve.limit + SLACK, np.inf), np.inf),
        _windows(np.where(judged, curve.limit_above + SLACK, np.inf), np.inf),
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
        rise = -np.log(section.pressure)
        self._rise = _windows(rise, rise[-1] + 1.0)
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
            unreached = np.flatnonzero(parent[: end + 1] < 0)
            for chunk in self._chunks(frontier):
                for source, target in self._segments(chunk, end, unreached):
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
        self, nodes: IntArray, end: int, unreached: IntArray
    ) -> Iterator[tuple[IntArray, IntArray]]:
        """Yield the segments within the limits from nodes to nodes not reached so far."""
        first_row = self._section.first_row
        count = len(self._section.pressure)
        last = np.minimum(self._section.next_last[nodes], end)
        bounds = [_open(len(nodes)) for _ in self._fans]
        done = 0
        while len(nodes):
            start = first_row[nodes] + done
            bounds = [
                self._slopes(fan, nodes, start, given)
                for fan, given in zip(self._fans, bounds, strict=True)
            ]
            left = nodes + 1
            if done:
                left = np.searchsorted(first_row, start, side="right").astype(np.int64)
            right = np.searchsorted(first_row, start + _ROWS_AT_ONCE, side="right")
            right = np.minimum(right, last + 1)
            low, high = np.searchsorted(unreached, (left.min(), right.max()))
            if low < high:
                targets = unreached[low:high]
                inside = (targets >= left[:, None]) & (targets < right[:, None])
                yield self._within(nodes, targets, inside, start, bounds)
            done += _ROWS_AT_ONCE
            row = first_row[nodes] + done
            alive = (row < count) & (row <= first_row[last])
            for lowest, highest in bounds:
                alive &= lowest[:, -1] <= highest[:, -1]
            bounds = [(lowest[alive], highest[alive]) for lowest, highest in bounds]
            nodes, last = nodes[alive], last[alive]

    def _base(self, fan: _Fan, nodes: IntArray) -> tuple[FloatArray, NDArray[np.bool_]]:
        """Return the values the slopes start from and which nodes have none of their own."""
        base = fan.curve.coded[nodes]
        absent = np.isnan(base)
        stand_in = fan.next_judged[nodes] if fan.curve.turning else 0.0
        return np.where(absent, stand_in, base), absent

    def _slopes(self, fan: _Fan, nodes: IntArray, start: IntArray, given: _Bounds) -> _Bounds:
        """Return the bounds of slope that all rows up to each row of a window allow."""
        base, absent = self._base(fan, nodes)
        limits = fan.limit if self._section.lower_zone[nodes[0]] else fan.limit_above
        depth = self._rise[start]
        depth -= self._node_rise[nodes][:, None]
        np.maximum(depth, _TINY, out=depth)
        off = fan.observed[start]
        off -= base[:, None]
        limit = limits[start]
        if fan.curve.turning:
            off = shorter_turn(off)
            depth[absent] = 1.0
        else:
            limit[absent] = np.inf
        lowest = np.empty((len(nodes), _ROWS_AT_ONCE + 1))
        highest = np.empty((len(nodes), _ROWS_AT_ONCE + 1))
        lowest[:, 0], highest[:, 0] = given[0][:, -1], given[1][:, -1]
        np.divide(off - limit, depth, out=lowest[:, 1:])
        np.divide(off + limit, depth, out=highest[:, 1:])
        np.maximum.accumulate(lowest, axis=1, out=lowest)
        np.minimum.accumulate(highest, axis=1, out=highest)
        return lowest, highest

    def _within(
        self,
        nodes: IntArray,
        targets: IntArray,
        inside: NDArray[np.bool_],
        start: IntArray,
        bounds: list[_Bounds],
    ) -> tuple[IntArray, IntArray]:
        """Return the pairs of a node and a target whose line is within the bounds."""
        section = self._section
        pressure = section.coded_pressure
        inside &= pressure[targets] < pressure[nodes][:, None]
        place = np.clip(section.first_row[targets] - start[:, None], 0, _ROWS_AT_ONCE)
        place += np.arange(len(nodes))[:, None] * (_ROWS_AT_ONCE + 1)
        depth = self._node_rise[targets] - self._node_rise[nodes][:, None]
        depth[~inside] = 1.0
        for fan, (lowest, highest) in zip(self._fans, bounds, strict=True):
            base, absent = self._base(fan, nodes)
            slope = fan.curve.coded[targets] - base[:, None]
            if fan.curve.turning:
                slope = shorter_turn(slope)
                inside &= self._plain(fan, nodes, targets, slope, absent)
                slope[np.isnan(slope)] = 0.0
                slope /= np.where(absent[:, None], 1.0, depth)
            else:
                slope /= depth
            inside &= ~(slope < lowest.ravel()[place])
            inside &= ~(slope > highest.ravel()[place])
        source, target = np.nonzero(inside)
        return nodes[source], targets[target]

    def _plain(
        self,
        fan: _Fan,
        nodes: IntArray,
        targets: IntArray,
        turn: FloatArray,
        calm: NDArray[np.bool_],
    ) -> NDArray[np.bool_]:
        """Return which segments leave no doubt about the way a direction turns."""
        judged = fan.judged_before[targets] > fan.judged_before[nodes][:, None]
        short = np.abs(turn) <= self._section.largest_turn + SLACK
        plain = np.where(np.isnan(turn), ~calm[:, None], calm[:, None] | short)
        result: NDArray[np.bool_] = ~judged | plain
        return result


def _open(count: int) -> _Bounds:
    """Return bounds that allow every slope."""
    return np.full((count, 1), -np.inf), np.full((count, 1), np.inf)
