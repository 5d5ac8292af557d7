"""Choosing levels where the rebuilt curve is farthest off, until it is within the limits.

The method of successive approximation recommended for winds (note to WMO-No. 306, 35.3.2.1) and,
in the order temperature, humidity, pressure ratio, for section 5 (35.3.1.3). Segments do not
depend on each other, so the work is that of sorting: each pass halves them, more or less.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from encoder.levels.segments import excess, misfits, no_plain_way

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from encoder.levels.segments import Section
    from encoder.profile import FloatArray, IntArray


@dataclass(frozen=True, slots=True)
class Insertion:
    """One chosen node and what it was chosen for.

    Attributes
    ----------
    node : int
    curve : str or None
        Name of the curve that was too far off; None where a level had to come in between for
        another reason (pressure ratio, a level asked for in a layer).
    row : int
        Row with the greatest misfit; -1 where there was none.
    misfit, limit : float
        There, in the unit of the curve; NaN where there was none.
    lower, upper : int
        Nodes of the segment that was divided.
    """

    node: int
    curve: str | None
    row: int
    misfit: float
    limit: float
    lower: int
    upper: int


def insert_levels(
    section: Section, forced: Sequence[int], order: Sequence[Sequence[int]]
) -> list[Insertion]:
    """Insert levels between given ones until every judged row is within its limit.

    Parameters
    ----------
    section : Section
    forced : sequence of int
        Nodes that are chosen anyway, rising; the first and the last bound the work.
    order : sequence of sequence of int
        Indexes of the curves in the order they are seen to; those in one inner sequence are
        weighed against each other by their share of the limit.

    Returns
    -------
    list of Insertion
        In rising order of nodes. Where no node is left between two levels that share a misfit,
        the misfit stays.

    References
    ----------
    WMO-No. 306, 35.3.1.3 and the note to 35.3.2.1.
    """
    inserted: list[Insertion] = []
    waiting = list(itertools.pairwise(forced))
    while waiting:
        lower, upper = waiting.pop()
        found = _divide(section, int(lower), int(upper), order)
        if found is not None:
            inserted.append(found)
            waiting += [(lower, found.node), (found.node, upper)]
    return sorted(inserted, key=lambda item: item.node)


def _divide(
    section: Section, lower: int, upper: int, order: Sequence[Sequence[int]]
) -> Insertion | None:
    """Return the node that has to come between two nodes, or None."""
    falling = -section.coded_pressure
    first = int(np.searchsorted(falling, falling[lower], side="right"))
    last = int(np.searchsorted(falling, falling[upper], side="left")) - 1
    if first > last:
        return None
    start, stop = int(section.first_row[lower]), int(section.first_row[upper])
    nodes = section.node_of_row[start:stop]
    free = (nodes >= first) & (nodes <= last)
    shares: list[FloatArray] = []
    for group in order:
        pairs = [misfits(section, section.curves[number], lower, upper) for number in group]
        share = np.array([excess(misfit, limit) for misfit, limit in pairs])
        shares.append(share)
        if share.size == 0 or share.max() <= 1.0:
            continue
        worst = share.max(axis=0)
        ranked = np.where(free, worst, -1.0)
        row = int(np.argmax(ranked))
        if ranked[row] > 1.0:
            node = int(nodes[row])
        else:
            row = int(np.argmax(worst))
            node = _nearest(section, section.pressure[start + row], first, last)
        which = int(np.argmax(share[:, row]))
        if no_plain_way(section, section.curves[group[which]], lower, upper):
            row, node = _middle(nodes, free & (share[which] > 0.0), row, node)
        misfit, limit = pairs[which]
        name = section.curves[group[which]].name
        return Insertion(
            node, name, start + row, float(misfit[row]), float(limit[row]), lower, upper
        )
    if upper > section.next_last[lower]:
        low = max(first, int(section.next_first[lower]))
        high = min(last, int(section.next_last[lower]))
        if low <= high:
            node = _within(nodes, shares, low, high)
            return Insertion(node, None, -1, np.nan, np.nan, lower, upper)
    return None


def _middle(nodes: IntArray, wanted: NDArray[np.bool_], row: int, node: int) -> tuple[int, int]:
    """Return the middle one of the wanted rows with its node, or what was found before."""
    rows = np.flatnonzero(wanted)
    if len(rows) == 0:
        return row, node
    middle = int(rows[len(rows) // 2])
    return middle, int(nodes[middle])


def _nearest(section: Section, pressure: float, first: int, last: int) -> int:
    """Return the node from first to last that is nearest in ln p; the lower one of two."""
    distance = np.abs(np.log(section.coded_pressure[first : last + 1]) - np.log(pressure))
    return first + int(np.argmin(distance))


def _within(nodes: IntArray, shares: list[FloatArray], low: int, high: int) -> int:
    """Return the node of a range whose row is farthest off, seeing to the curves in order."""
    inside = (nodes >= low) & (nodes <= high)
    for share in shares:
        if share.size:
            ranked = np.where(inside, share.max(axis=0), -1.0)
            row = int(np.argmax(ranked))
            if ranked[row] > 0.0:
                return int(nodes[row])
    return low
