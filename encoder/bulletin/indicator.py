"""The indicator BBB of a heading: late, corrected and amended bulletins, and segments."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence


@dataclass(frozen=True, slots=True)
class Indicator:
    """One kind of the group BBB: its first letters and what it says."""

    letters: str
    title: str
    source: str = "WMO-No. 386, instructions for the indicator BBB"


INDICATORS: dict[str, Indicator] = {
    "RR": Indicator("RR", "additional or late reports"),
    "CC": Indicator("CC", "corrected reports"),
    "AA": Indicator("AA", "amended information"),
    "P": Indicator("P", "segment of a large bulletin"),
}
"""The forms RRx, CCx, AAx (x from A to X) and Pxx."""

_SEQUENCE = "ABCDEFGHIJKLMNOPQRSTUVWX"
_LAST_WORDS = {
    "Y": "whose place in the sequence was lost",
    "Z": "more than 24 hours late",
}
"""The letters after X; from memory."""


def next_indicator(kind: str, used: Sequence[str]) -> str:
    """Return the indicator BBB of the next bulletin under a heading used before.

    Parameters
    ----------
    kind : {"RR", "CC", "AA"}
        Additional, corrected or amended.
    used : sequence of str
        Indicators sent so far under the same T1T2A1A2ii CCCC YYGGgg.

    Returns
    -------
    str
        Kind and letter, from A to X; after X it stays X (from memory).

    Raises
    ------
    KeyError
        If there is no such kind.
    """
    letters = INDICATORS[kind].letters
    places = [
        _SEQUENCE.index(text[2:]) for text in used if text[:2] == letters and text[2:] in _SEQUENCE
    ]
    return letters + _SEQUENCE[min(max(places, default=-1) + 1, len(_SEQUENCE) - 1)]


def segment_indicator(place: int, count: int) -> str:
    """Return the indicator of one segment of a large bulletin.

    Parameters
    ----------
    place : int
        Number of the segment, from 0.
    count : int
        How many segments there are.

    Returns
    -------
    str
        PAA, PAB, ... PAZ, PBA, ...; the last one begins with PZ and goes on counting with its third
        letter (from memory).

    Raises
    ------
    ValueError
        If there is no such segment, or more than 650.
    """
    if not 0 <= place < count <= 25 * 26:
        msg = f"Expected a segment from 0 to {count - 1} of at most 650, got {place}."
        raise ValueError(msg)
    second, third = divmod(place, 26)
    return "P" + ("Z" if place == count - 1 else chr(65 + second)) + chr(65 + third)


def explain_indicator(text: str) -> str:
    """Return what an indicator BBB says, in words."""
    for item in INDICATORS.values():
        if len(text) == 3 and text.startswith(item.letters):
            last = text[-1]
            if item.letters == "P":
                return item.title + (", the last one" if text[1] == "Z" else f", {text[1:]}")
            return f"{item.title}, {_LAST_WORDS.get(last, f'number {ord(last) - 64}')}"
    return f"{text}: no indicator of the form RRx, CCx, AAx or Pxx"
