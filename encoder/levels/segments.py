"""Curves drawn as straight lines in ln p between coded levels, and how far rows lie off them.

A :class:`Section` holds what both selection methods need: the curves observed at the rows, the
values a reader decodes at every level that may be chosen (a node), and which levels may follow
each other. Between two chosen nodes lies a segment; it is judged at every row whose pressure lies
between the two *coded* pressures, the upper one included.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from encoder.profile import FloatArray, IntArray

SLACK = 1e-9
"""Excess over a limit that is put down to binary arithmetic."""


@dataclass(frozen=True, slots=True, eq=False)
class Curve:
    """One quantity to be rebuilt from the levels.

    Attributes
    ----------
    name : str
        Name in :data:`encoder.columns.COLUMNS`.
    observed : ndarray, shape (row,)
        Observed values, NaN where the row is not judged.
    limit : ndarray, shape (row,)
        Largest misfit in a segment that starts in the lower zone.
    limit_above : ndarray, shape (row,)
        Largest misfit in any other segment.
    coded : ndarray, shape (node,)
        Values a reader decodes, NaN where the node has none.
    turning : bool
        Whether the values are directions, interpolated the short way round. A node without a
        direction (calm) then takes the direction of the other end of the segment; a node without
        a value of another quantity leaves its segments unjudged.
    """

    name: str
    observed: FloatArray
    limit: FloatArray
    limit_above: FloatArray
    coded: FloatArray
    turning: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class Section:
    """Everything that decides which levels a section of the report needs.

    Attributes
    ----------
    pressure : ndarray, shape (row,)
        Pressure of the rows in hPa, strictly decreasing.
    coded_pressure : ndarray, shape (node,)
        Pressure a reader decodes at each node in hPa, never increasing.
    first_row : ndarray of int, shape (node,)
        First row above the node, which begins the segments that start there.
    node_of_row : ndarray of int, shape (row,)
        The node that stands for each row, -1 where there is none.
    lower_zone : ndarray of bool, shape (node,)
        Whether segments that start at the node are held to the limits of the lower zone.
    next_first, next_last : ndarray of int, shape (node,)
        A segment that starts at the node may not pass over ``next_last``; where it would, one of
        the nodes from ``next_first`` to ``next_last`` has to be chosen.
    curves : tuple of Curve
    largest_turn : float
        A segment with judged directions may not turn by more than this, in degrees.
    heights : ndarray, shape (node,), optional
        Height of the nodes in m where a sounding goes by height. The pressures are then any
        numbers whose logarithm falls linearly with height, and are told to nobody.
    """

    pressure: FloatArray
    coded_pressure: FloatArray
    first_row: IntArray
    node_of_row: IntArray
    lower_zone: NDArray[np.bool_]
    next_first: IntArray
    next_last: IntArray
    curves: tuple[Curve, ...]
    largest_turn: float
    heights: FloatArray | None = None

    def between(self, lower: int, upper: int) -> str:
        """Return in words where two nodes lie: ``between 850 and 700 hPa``."""
        places, unit = (self.coded_pressure, "hPa") if self.heights is None else (self.heights, "m")
        return f"between {places[lower]:g} and {places[upper]:g} {unit}"

    def __len__(self) -> int:
        return len(self.coded_pressure)

    def allowed(self, lower: int, upper: int) -> bool:
        """Tell whether a segment may join two nodes, whatever its misfits."""
        return bool(
            upper <= self.next_last[lower]
            and self.coded_pressure[upper] < self.coded_pressure[lower]
        )


def shorter_turn(degrees: FloatArray) -> FloatArray:
    """Return turns brought to the range from -180 to 180 degrees, any shape."""
    turns: FloatArray = degrees - 360.0 * np.rint(degrees / 360.0)
    return turns


def rebuilt(section: Section, curve: Curve, lower: int, upper: int, rows: slice) -> FloatArray:
    """Return the straight line of one curve between two nodes.

    Parameters
    ----------
    section : Section
    curve : Curve
    lower, upper : int
        Nodes.
    rows : slice
        Rows at which the line is wanted.

    Returns
    -------
    ndarray, shape (wanted,)
        In the unit of the curve; directions are not brought to 0 to 360.
    """
    bottom = np.log(section.coded_pressure[lower])
    depth = bottom - np.log(section.coded_pressure[upper])
    share = (bottom - np.log(section.pressure[rows])) / depth
    start, end = float(curve.coded[lower]), float(curve.coded[upper])
    change = end - start
    if curve.turning:
        calm_start, calm_end = bool(np.isnan(start)), bool(np.isnan(end))
        start = end if calm_start else start
        change = 0.0 if calm_start or calm_end else float(shorter_turn(np.asarray(change)))
    values: FloatArray = start + share * change
    return values


def misfits(
    section: Section, curve: Curve, lower: int, upper: int
) -> tuple[FloatArray, FloatArray]:
    """Return the misfit of every row of a segment and the largest one allowed.

    Parameters
    ----------
    section : Section
    curve : Curve
    lower, upper : int
        Nodes.

    Returns
    -------
    misfit, limit : ndarray, shape (wanted,)
        For the rows from ``first_row[lower]`` to before ``first_row[upper]``. NaN where the row
        is not judged. Directions in a segment that turns too far, or between two calms, are off
        by 180 degrees: a reader cannot know the way.
    """
    rows = slice(int(section.first_row[lower]), int(section.first_row[upper]))
    observed = curve.observed[rows]
    limit = (curve.limit if section.lower_zone[lower] else curve.limit_above)[rows]
    values = rebuilt(section, curve, lower, upper, rows)
    if not curve.turning:
        return np.abs(observed - values), limit
    if no_plain_way(section, curve, lower, upper):
        return np.where(np.isnan(observed), np.nan, 180.0), limit
    return np.abs(shorter_turn(observed - values)), limit


def no_plain_way(section: Section, curve: Curve, lower: int, upper: int) -> bool:
    """Tell whether a reader cannot know which way a direction turns between two nodes.

    Parameters
    ----------
    section : Section
    curve : Curve
    lower, upper : int
        Nodes.

    Returns
    -------
    bool
        True for directions that turn by more than the largest turn, or between two calms.
    """
    if not curve.turning:
        return False
    start, end = curve.coded[lower], curve.coded[upper]
    calm = int(np.isnan(start)) + int(np.isnan(end))
    if calm:
        return calm == 2
    return bool(abs(shorter_turn(end - start)) > section.largest_turn + SLACK)


def excess(misfit: FloatArray, limit: FloatArray) -> FloatArray:
    """Return misfits as shares of their limits: more than 1 is too much, -1 is not judged."""
    shares = np.full(len(misfit), -1.0)
    judged = ~np.isnan(misfit)
    shares[judged] = misfit[judged] / (limit[judged] + SLACK)
    return shares


def first_rows(pressure: FloatArray, coded_pressure: FloatArray) -> IntArray:
    """Return, for each coded pressure, the index of the first row above it.

    Parameters
    ----------
    pressure : ndarray, shape (row,)
        hPa, strictly decreasing.
    coded_pressure : ndarray, shape (node,)
        hPa.

    Returns
    -------
    ndarray of int, shape (node,)
    """
    return np.searchsorted(-pressure, -coded_pressure, side="right").astype(np.int64)


def limits_of_next(
    coded_pressure: FloatArray,
    stops: list[tuple[int, int]],
    smallest_ratio: FloatArray,
) -> tuple[IntArray, IntArray]:
    """Return which node has to follow each node at the latest.

    Parameters
    ----------
    coded_pressure : ndarray, shape (node,)
        hPa, never increasing.
    stops : list of tuple of int
        Ranges of nodes, first and last; one of each range has to be chosen.
    smallest_ratio : ndarray, shape (node,)
        The next level must lie at more than this share of the pressure; 0 where there is no such
        rule. Two neighbouring pressures may always follow each other: nothing lies between.

    Returns
    -------
    next_first, next_last : ndarray of int, shape (node,)
        See :class:`Section`.
    """
    count = len(coded_pressure)
    nodes = np.arange(count)
    falling = -coded_pressure
    next_first = nodes + 1
    farther = np.searchsorted(falling, falling * smallest_ratio, side="left") - 1
    above = np.minimum(np.searchsorted(falling, falling, side="right"), count - 1)
    neighbours = np.searchsorted(falling, falling[above], side="right") - 1
    next_last = np.where(smallest_ratio > 0.0, np.maximum(farther, neighbours), count - 1)
    for first, last in stops:
        held = (nodes < first) & (next_last > last)
        next_last[held] = last
        next_first[held] = first
    return next_first.astype(np.int64), next_last.astype(np.int64)
