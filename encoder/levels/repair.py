"""Mending a set of levels where inserting at the largest deviation got stuck.

Choosing the row that is farthest off favours rows that stand out, and once such a row is chosen
its neighbours with the same coded pressure are no longer free. Where that leaves rows beyond
their limits the levels round about are chosen again, as the fewest that keep every row within.
"""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from encoder.levels.fewest_levels import ShortestPath
from encoder.levels.fewest_misfits import fewest_nodes
from encoder.levels.segments import SLACK, misfits

if TYPE_CHECKING:
    from collections.abc import Sequence

    from encoder.levels.segments import Section

_REACH = (1, 2, 4, 8)
"""Levels on either side of a misfit that are chosen again, one try after the other."""
_MOST_FAILURES = 12
"""After this many misfits that no choice of levels removes, the rest is left as it is."""
_MOST_NODES = 600
"""A further try is made only on this many nodes: a misfit among more is not one of crowding."""


def mended(section: Section, nodes: Sequence[int]) -> tuple[list[int], set[int]]:
    """Return the levels with those chosen again that leave rows beyond their limits.

    Parameters
    ----------
    section : Section
    nodes : sequence of int
        Chosen nodes, rising. The first and the last are kept.

    Returns
    -------
    nodes : list of int
        Chosen nodes, rising. A misfit is left only where the levels on either side cannot be
        chosen so that there is none; then as few are left as can be. That costs time, and is
        done at twelve places at most.
    again : set of int
        Those that were chosen again.
    """
    chosen = list(nodes)
    again: set[int] = set()
    place = failures = 0
    while place < len(chosen) - 1 and failures < _MOST_FAILURES:
        if _broken(section, chosen[place : place + 2]) == 0:
            place += 1
            continue
        low, high, path = _once_more(section, chosen, place)
        failures += int(path is None or _broken(section, path) > 0)
        if path is None:
            place += 1
            continue
        again |= set(path[1:-1])
        chosen[low : high + 1] = path
        place = low + len(path) - 1
    return chosen, again & set(chosen)


def _once_more(
    section: Section, chosen: list[int], place: int
) -> tuple[int, int, list[int] | None]:
    """Return the stretch of levels around a misfit and a better set for it, None if none is."""
    search = ShortestPath(section)
    low, high = place, place + 1
    for reach in _REACH:
        wider = max(place - reach, 0), min(place + 1 + reach, len(chosen) - 1)
        if reach > 1 and chosen[wider[1]] - chosen[wider[0]] > _MOST_NODES:
            break
        low, high = wider
        path, _ = search.between(chosen[low], chosen[high])
        if path:
            return low, high, path
    least = fewest_nodes(section, chosen[low], chosen[high])
    if least is None or _broken(section, least) >= _broken(section, chosen[low : high + 1]):
        return low, high, None
    return low, high, least


def _broken(section: Section, nodes: Sequence[int]) -> int:
    """Return the number of values beyond their limits."""
    total = 0
    for lower, upper in pairwise(nodes):
        for curve in section.curves:
            misfit, limit = misfits(section, curve, lower, upper)
            total += int(np.count_nonzero(misfit > limit + SLACK))
    return total
