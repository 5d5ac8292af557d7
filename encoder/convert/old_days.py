"""Coded soundings of former days: the day of each, and the conventions of its time."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING

import numpy as np

from encoder.codes.conventions import HUMIDITY_CONVENTIONS, conventions_of, humidity_remark

if TYPE_CHECKING:
    from collections.abc import Sequence

    from encoder.codes.bulk import ReadParts
    from encoder.convert.decode_many import DecodedSounding


def day_at(days: Sequence[date | None] | None, place: int) -> date:
    """Return the day of a sounding, the last of all where the edition of today is wanted."""
    day = None if days is None else days[place]
    return date.max if day is None else day


def names_new_level(text: bytes) -> bool:
    """Tell whether the figure Id of a part A names 925 hPa, strange in an old one."""
    groups = text.split(None, 2)
    return groups[0][2:4].upper() == b"AA" and len(groups) > 1 and groups[1][4:5] == b"9"


def tell_conventions(
    read: ReadParts,
    letters: Sequence[bytes],
    members: Sequence[tuple[int, date | None]],
    owners: Sequence[int],
    results: list[DecodedSounding | None],
) -> None:
    """Add the notes that the decoder of one report gives on conventions of the time.

    Parameters
    ----------
    read : ReadParts
        What was read of the parts.
    letters : sequence of bytes
        Of each part.
    members : sequence of (int, date or None)
        Place in the results, and day, of each sounding read.
    owners : sequence of int
        Which of the soundings each part is of.
    results : list of DecodedSounding or None
        Changed in place.
    """
    stations = read.identification[:, 2].tolist()
    counts: dict[float, list[int]] = {}
    told_of = {
        place: on
        for place, on in members
        if on is not None and any(one.begins <= on <= one.ends for one in HUMIDITY_CONVENTIONS)
    }
    for part, (letter, owner) in enumerate(zip(letters, owners, strict=True)):
        place = members[owner][0]
        made = results[place]
        if made is None or place not in told_of:
            continue
        for one in conventions_of(f"{stations[part]:05d}", told_of[place]):
            if one.depression not in counts:
                own = read.records.part[read.records.depression == one.depression]
                counts[one.depression] = np.bincount(own, minlength=len(letters)).tolist()
            told = humidity_remark(one, chr(letter[3]), counts[one.depression][part])
            results[place] = made = replace(made, diagnostics=(*made.diagnostics, *told))
