"""Placing the levels a section must have, and dividing it where data are missing."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from encoder.diagnostics import Diagnostic, diagnostic
from encoder.levels.segments import Section, first_rows, limits_of_next
from encoder.levels.table import LevelKind, Reason

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from encoder.levels.candidates import Nodes, Points
    from encoder.levels.segments import Curve
    from encoder.levels.table import Levels
    from encoder.profile import FloatArray

_LIMIT_RULES = {
    LevelKind.BEGIN_MISSING_TEMPERATURE: "begin-missing-temperature",
    LevelKind.END_MISSING_TEMPERATURE: "end-missing-temperature",
    LevelKind.BEGIN_MISSING_HUMIDITY: "begin-missing-humidity",
    LevelKind.END_MISSING_HUMIDITY: "end-missing-humidity",
    LevelKind.BEGIN_MISSING_WIND: "begin-missing-wind",
    LevelKind.END_MISSING_WIND: "end-missing-wind",
}
_BEGINS = (
    LevelKind.BEGIN_MISSING_TEMPERATURE
    | LevelKind.BEGIN_MISSING_HUMIDITY
    | LevelKind.BEGIN_MISSING_WIND
)


@dataclass(frozen=True, slots=True)
class Wanted:
    """A point that must be chosen, and why.

    Attributes
    ----------
    point : int
        Index of the point.
    kinds : int
        Bits of :class:`encoder.levels.table.LevelKind`.
    reason : Reason
    """

    point: int
    kinds: int
    reason: Reason


@dataclass(frozen=True, slots=True, eq=False)
class Plan:
    """A section ready for selection.

    Attributes
    ----------
    section : Section
    nodes : Nodes
    blocks : tuple of tuple of int
        First and last node of every block between layers without data.
    forced : mapping of int to list of Wanted
        Nodes that must be chosen, and everything they were wanted for.
    diagnostics : tuple of Diagnostic
    """

    section: Section
    nodes: Nodes
    blocks: tuple[tuple[int, int], ...]
    forced: dict[int, list[Wanted]]
    diagnostics: tuple[Diagnostic, ...]


@dataclass(slots=True)
class Placing:
    """Wanted points assigned to the nodes that stand for them.

    Attributes
    ----------
    points : Points
    nodes : Nodes
    forced : mapping of int to list of Wanted
        What each node is wanted for.
    diagnostics : list of Diagnostic
    """

    points: Points
    nodes: Nodes
    forced: dict[int, list[Wanted]] = field(default_factory=dict)
    diagnostics: list[Diagnostic] = field(default_factory=list)

    @property
    def coded_pressure(self) -> FloatArray:
        """Return the coded pressure of each node in hPa."""
        return self.points.coded_pressure[self.nodes.point]

    def put(self, node: int, kinds: int, reason: Reason) -> None:
        """Note that a node must be chosen."""
        self.forced.setdefault(node, []).append(
            Wanted(int(self.nodes.point[node]), int(kinds), reason)
        )

    def put_in_place(self, wanted: Wanted) -> None:
        """Note a wanted point at the node that stands for it, and say if another level does."""
        node = int(self.nodes.node_of_point[wanted.point])
        stand_in = int(self.nodes.point[node])
        if stand_in != wanted.point and self.points.standard[stand_in] < 0 and node in self.forced:
            self.diagnostics.append(self._thinned(wanted, stand_in))
        self.put(node, wanted.kinds, wanted.reason)

    def _thinned(self, wanted: Wanted, stand_in: int) -> Diagnostic:
        lost, kept = self.points.pressure[wanted.point], self.points.pressure[stand_in]
        sources = self.points.profile.source_row
        return diagnostic(
            "level-thinned",
            f"The level at {lost:.2f} hPa ({wanted.reason.rule}) and the one at {kept:.2f} hPa "
            f"are both coded {self.points.coded_pressure[stand_in]:g} hPa; the one at "
            f"{kept:.2f} hPa stands for both.",
            rows=[int(sources[wanted.point]), int(sources[stand_in])],
        )

    def nearest(self, point: int, step: int, good: NDArray[np.bool_]) -> int:
        """Return the nearest good node at or beyond a point.

        Parameters
        ----------
        point : int
        step : int
            1 to look upward, -1 to look downward.
        good : ndarray of bool, shape (node,)

        Returns
        -------
        int
            -1 if there is none.
        """
        group, own = self.points.group[self.nodes.point], self.points.group[point]
        same = np.arange(len(group)) == self.nodes.node_of_point[point]
        found = np.flatnonzero((((group - own) * step > 0) | same) & good)
        if len(found) == 0:
            return -1
        return int(found[0] if step > 0 else found[-1])

    def put_limits(
        self,
        limits: Sequence[tuple[int, LevelKind, Reason]],
        good: NDArray[np.bool_],
        kinds: int,
    ) -> list[tuple[int, int]]:
        """Place the limits of layers without data of one element.

        Parameters
        ----------
        limits : sequence of tuple
            Point, BEGIN or END bit, and reason, upward.
        good : ndarray of bool, shape (node,)
            Nodes that have the value.
        kinds : int
            Bits the limits get besides their own.

        Returns
        -------
        list of tuple of int
            Nodes below and above each layer; -1 where there is none.
        """
        layers: list[tuple[int, int]] = []
        for point, kind, reason in limits:
            begins = bool(kind & _BEGINS)
            node = self.nearest(point, -1 if begins else 1, good)
            if node >= 0:
                self.put(node, int(kind) | kinds, reason)
            if begins:
                layers.append((node, -1))
            elif layers and layers[-1][1] < 0:
                layers[-1] = (layers[-1][0], node)
            else:
                layers.append((-1, node))
        return layers

    def shared_pressures(self) -> list[int]:
        """Return points of forced nodes that share their coded pressure with another one."""
        nodes = np.array(sorted(self.forced), dtype=np.int64)
        group = self.points.group[self.nodes.point[nodes]]
        again = np.flatnonzero(np.diff(group) == 0)
        return [int(self.nodes.point[nodes[place]]) for place in again]

    def plan(
        self,
        rows: FloatArray,
        curves: tuple[Curve, ...],
        *,
        zones: tuple[NDArray[np.bool_], FloatArray],
        stops: Sequence[tuple[int, int]],
        layers: Sequence[tuple[int, int]],
        largest_turn: float,
    ) -> Plan:
        """Return the section ready for selection.

        Parameters
        ----------
        rows : ndarray, shape (row,)
            Pressure of the ascent rows in hPa.
        curves : tuple of Curve
        zones : tuple of ndarray, each of shape (node,)
            Whether the limits of the lower zone hold above each node, and the smallest ratio to
            the pressure of the next one.
        stops : sequence of tuple of int
            Ranges of nodes, first and last, of which one has to be chosen.
        layers : sequence of tuple of int
            Nodes below and above the layers that divide the section.
        largest_turn : float
            Degrees.

        Returns
        -------
        Plan
        """
        coded = self.coded_pressure
        blocks = _blocks(len(coded), layers)
        first_row = first_rows(rows, coded)
        for start, _ in blocks:
            first_row[start] = np.searchsorted(-rows, -coded[start], side="left")
        singles = [(node, node) for node in self.forced]
        next_first, next_last = limits_of_next(coded, [*singles, *stops], zones[1])
        section = Section(
            rows,
            coded,
            first_row,
            self.nodes.node_of_point[self.points.row >= 0],
            zones[0],
            next_first,
            next_last,
            curves,
            largest_turn,
        )
        return Plan(section, self.nodes, blocks, self.forced, tuple(self.diagnostics))


def _blocks(count: int, layers: Sequence[tuple[int, int]]) -> tuple[tuple[int, int], ...]:
    """Return the first and last node of each stretch between layers."""
    blocks = []
    start = 0
    for below, above in layers:
        if below < 0 or above < 0:
            continue
        if below >= start:
            blocks.append((start, below))
        start = max(start, above)
    if start < count:
        blocks.append((start, count - 1))
    return tuple(blocks)


def limits_of(
    points: Points, missing: Levels, begin: LevelKind, end: LevelKind
) -> list[tuple[int, LevelKind, Reason]]:
    """Return the limits of layers without one element, as points.

    Parameters
    ----------
    points : Points
    missing : Levels
        The table of :func:`encoder.levels.missing.missing_layers`.
    begin, end : LevelKind
        The bits of the element.

    Returns
    -------
    list of tuple
        Point, bit and reason, upward; at one level END comes before BEGIN.
    """
    found = []
    for level in missing.having(begin | end):
        point = int(point_at(points, float(missing["air_pressure"][level])))
        for kind in (end, begin):
            if int(missing.kinds[level]) & kind:
                rule = _LIMIT_RULES[kind]
                reason = next(item for item in missing.reasons[level] if item.rule == rule)
                found.append((point, kind, reason))
    return found


def point_at(points: Points, pressure: float) -> int:
    """Return the point at exactly a pressure."""
    return int(np.searchsorted(-points.pressure, -pressure))


def points_at(points: Points, levels: Levels) -> list[int]:
    """Return the points at the pressures of levels that were taken from rows."""
    return [point_at(points, float(pressure)) for pressure in levels["air_pressure"]]
