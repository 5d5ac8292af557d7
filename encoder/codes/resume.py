"""Where reading takes up again after groups of section 2 that could not be read."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from encoder.codes.declare import Context, RecordForm

REACH = 4
"""Groups looked ahead for the next level; a level has at most three."""
FAR_REACH = 6
"""The same where the group at hand would skip levels: the very next one may be damaged."""
LOOK = 12
"""Groups beyond those, in which the levels after it are followed."""
_DEPTH = 4
_AFTER = ("88", "77", "66")


def resumption(
    words: Sequence[str], standard: Mapping[str, float], previous: float, *, reach: int = REACH
) -> int:
    """Return the place at which the levels go on in the best rhythm.

    Parameters
    ----------
    words : sequence of str
        Groups of the part, from the first one on that has the look of a level.
    standard : mapping of str to float
        Figures of the standard levels with their pressure in hPa.
    previous : float
        Pressure of the last level read, in hPa.
    reach : int
        Groups looked ahead.

    Returns
    -------
    int
        0, or the place of a later one from which more levels follow each other at the distance of
        two or three groups, or from which fewer levels are lost.

    Notes
    -----
    A temperature or a wind may have the look of a level; what follows it has not the rhythm.
    """
    best, merit = 0, (0, 0.0)
    for at in range(min(reach, len(words))):
        pressure = standard.get(words[at][:2])
        if pressure is None or pressure >= previous or len(words[at]) != 5:
            continue
        if at and 0 < words[at].count("/", 2) < 3:
            continue  # half a height: rather a temperature without humidity
        own = (_chain(words, at, standard, previous, _DEPTH), pressure)
        if own > merit:
            best, merit = at, own
    return best


def skips(text: str, standard: Mapping[str, float], previous: float) -> bool:
    """Tell whether more than one standard level would be lost if this group were the next.

    Parameters
    ----------
    text : str
        Group that begins with the figures of a level.
    standard : mapping of str to float
        Figures of the standard levels with their pressure in hPa, upward.
    previous : float
        Pressure of the last level read, in hPa.
    """
    between = 0
    for figures, pressure in standard.items():
        if figures == text[:2]:
            return between > 1
        between += pressure < previous
    return False


def counts_anew(form: RecordForm, text: str, context: Context) -> bool:
    """Tell whether level numbers begin anew below the level before: a marker was lost there.

    What follows are levels of another section, so none is to be read up to the next marker.

    Parameters
    ----------
    form : RecordForm
        The record that the group would open, in the section that is being read.
    text : str
    context : Context
    """
    if form.numbering != "counted" or text[:2] != "11" or context.number == "11":
        return False
    pressure = form.uses[0].group.decode(text, context).values.get("air_pressure")
    return isinstance(pressure, float) and pressure > context.previous_pressure


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
