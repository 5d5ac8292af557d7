"""Where reading takes up again after groups of section 2 that could not be read."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

REACH = 4
"""Groups looked ahead for the next level; a level has at most three."""
_DEPTH = 4
_AFTER = ("88", "77", "66")


def resumption(
    words: Sequence[str], place: int, standard: Mapping[str, float], previous: float
) -> int:
    """Return the place at which the levels go on in the best rhythm.

    Parameters
    ----------
    words : sequence of str
        Groups of the part.
    place : int
        The first one that has the look of a level.
    standard : mapping of str to float
        Figures of the standard levels with their pressure in hPa.
    previous : float
        Pressure of the last level read, in hPa.

    Returns
    -------
    int
        ``place``, or a later one from which more levels follow each other at the distance of two
        or three groups, or from which fewer levels are lost.

    Notes
    -----
    A temperature or a wind may have the look of a level; what follows it has not the rhythm.
    """
    best, merit = place, (0, 0.0)
    for at in range(place, min(place + REACH, len(words))):
        pressure = standard.get(words[at][:2])
        if pressure is None or pressure >= previous or len(words[at]) != 5:
            continue
        own = (_chain(words, at, standard, previous, _DEPTH), pressure)
        if own > merit:
            best, merit = at, own
    return best


def _chain(
    words: Sequence[str], at: int, standard: Mapping[str, float], previous: float, depth: int
) -> int:
    """Return how many levels follow each other from a place on, up to a depth."""
    if at >= len(words):
        return 0
    word = words[at]
    if len(word) == 5 and word.startswith(_AFTER):
        return 1
    pressure = standard.get(word[:2])
    if len(word) != 5 or pressure is None or pressure >= previous:
        return 0
    if depth == 1:
        return 1
    return 1 + max(_chain(words, at + step, standard, pressure, depth - 1) for step in (3, 2))
