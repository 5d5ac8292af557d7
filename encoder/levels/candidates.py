"""Which rows and standard levels may be chosen as significant levels.

A report gives a pressure in whole hectopascals, tenths above 100 hPa. Rows that share a coded
pressure exclude each other, and a level that is reported anyway (the surface, a standard level, a
tropopause, a mandatory level) stands for all rows at its coded pressure, so that no two sections
say different things about one pressure.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from encoder.levels.table import Levels
from encoder.profile import Profile
from encoder.resolution import coded_pressure

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from encoder.profile import FloatArray, IntArray


@dataclass(frozen=True, slots=True, eq=False)
class Points:
    """The rows of an ascent and the standard levels between them.

    Attributes
    ----------
    profile : Profile
        Both together in descending pressure; ``source_row`` is -1 for a standard level.
    row : ndarray of int, shape (point,)
        Index of the ascent row; -1 for a standard level between rows.
    standard : ndarray of int, shape (point,)
        Index in the table of standard levels; -1 for any other row.
    coded_pressure : ndarray, shape (point,)
        hPa.
    group : ndarray of int, shape (point,)
        Number of the coded pressure, rising: points with the same one exclude each other.
    """

    profile: Profile
    row: IntArray
    standard: IntArray
    coded_pressure: FloatArray
    group: IntArray

    def __len__(self) -> int:
        return len(self.row)

    @property
    def pressure(self) -> FloatArray:
        """Return the unrounded pressures in hPa."""
        return self.profile["air_pressure"]


def points_of(ascent: Profile, standard: Levels) -> Points:
    """Return the rows of an ascent together with the standard levels between them.

    Parameters
    ----------
    ascent : Profile
        Prepared rows, pressure strictly decreasing.
    standard : Levels
        Standard levels; those below the surface and above the top are left out.

    Returns
    -------
    Points
    """
    rows = ascent["air_pressure"]
    surfaces = standard["air_pressure"]
    place = np.searchsorted(-rows, -surfaces, side="left")
    inside = (place > 0) & (place < len(rows))
    exact = np.zeros(len(surfaces), dtype=np.bool_)
    exact[place < len(rows)] = rows[place[place < len(rows)]] == surfaces[place < len(rows)]
    between = np.flatnonzero(inside & ~exact)
    merged = {
        name: np.insert(
            values,
            place[between],
            standard[name][between] if name in standard.columns else np.nan,
        )
        for name, values in ascent.columns.items()
    }
    row = np.insert(np.arange(len(rows)), place[between], -1)
    number = np.full(len(rows), -1)
    number[place[exact]] = np.flatnonzero(exact)
    number = np.insert(number, place[between], between)
    profile = Profile(merged, np.insert(ascent.source_row, place[between], -1), ascent.computed)
    coded = coded_pressure(merged["air_pressure"])
    group = np.concatenate(([0], np.cumsum(np.diff(coded) != 0.0)))[: len(coded)]
    return Points(profile, row.astype(np.int64), number.astype(np.int64), coded, group)


@dataclass(frozen=True, slots=True, eq=False)
class Nodes:
    """The points that may be chosen.

    Attributes
    ----------
    point : ndarray of int, shape (node,)
        Index of each node's point, rising.
    node_of_point : ndarray of int, shape (point,)
        The node that stands for each point, -1 where none does.
    """

    point: IntArray
    node_of_point: IntArray


def nodes_of(points: Points, usable: NDArray[np.bool_], owners: Sequence[int]) -> Nodes:
    """Return the points that may be chosen.

    Parameters
    ----------
    points : Points
    usable : ndarray of bool, shape (point,)
        Points that have the values the section needs.
    owners : sequence of int
        Points that stand for all others at their coded pressure, the strongest first.

    Returns
    -------
    Nodes
    """
    owner = np.full(int(points.group[-1]) + 1 if len(points) else 0, -1, dtype=np.int64)
    for point in reversed(list(owners)):
        if usable[point]:
            owner[points.group[point]] = point
    stands = owner[points.group] if len(points) else owner
    here = np.arange(len(points))
    chosen = usable & ((stands < 0) | (stands == here))
    node = np.where(chosen, np.cumsum(chosen) - 1, -1)
    node_of_point = np.where(stands >= 0, node[np.maximum(stands, 0)], node)
    return Nodes(np.flatnonzero(chosen).astype(np.int64), node_of_point.astype(np.int64))


def levels_at_points(points: Points, standard: Levels, chosen: Sequence[int]) -> Levels:
    """Return points as levels without kinds or reasons.

    Parameters
    ----------
    points : Points
    standard : Levels
        The table the points were made with.
    chosen : sequence of int
        Points, rising.

    Returns
    -------
    Levels
        Standard levels as in their table, rows with every quantity they have.
    """
    picked = np.asarray(chosen, dtype=np.intp)
    profile = points.profile
    columns = {
        name: np.array(profile[name][picked]) for name in standard.columns if name in profile
    }
    difference = profile["air_temperature"][picked] - profile["dew_point_temperature"][picked]
    columns["dew_point_depression"] = np.maximum(difference, 0.0)
    rows = tuple(
        standard.rows[points.standard[point]]
        if points.row[point] < 0
        else (int(points.row[point]),)
        for point in picked
    )
    return Levels(columns, np.zeros(len(picked), dtype=np.int64), (), rows)
