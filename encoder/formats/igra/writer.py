"""Writing IGRA sounding data: the bytes of the source, from the whole numbers alone."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from encoder.formats.igra.layout import FLAG_COLUMNS, HEADER_WIDTH, LEVEL_FIELDS, LEVEL_WIDTH
from encoder.formats.igra.soundings import ENDINGS, NO_LAST_LINE_END

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from encoder.formats.igra.soundings import IgraSoundings

PIECE = 1 << 15
"""Levels made at a time."""


def write_igra(soundings: IgraSoundings) -> Iterator[bytes]:
    """Return soundings as text of the layout.

    Parameters
    ----------
    soundings : IgraSoundings

    Yields
    ------
    bytes
        Sounding after sounding. Joined they are the text the soundings were read from, provided
        nothing of it was refused and no sounding had lines of several endings: those get the
        usual one.
    """
    offsets = soundings.offsets
    headers = soundings.headers
    heads = _header_lines(headers)
    first = 0
    while first < len(soundings):
        last = int(np.searchsorted(offsets, offsets[first] + PIECE, side="right")) - 1
        last = min(max(last, first + 1), len(soundings))
        part = slice(int(offsets[first]), int(offsets[last]))
        lines = _level_lines({name: values[part] for name, values in soundings.levels.items()})
        made: list[bytes] = []
        for place in range(first, last):
            code = int(headers["ending"][place])
            ending = ENDINGS[code & 3] if code & 4 == 0 else ENDINGS[0]
            begin, end = int(offsets[place]) - part.start, int(offsets[place + 1]) - part.start
            own = lines[begin:end]
            if ending != ENDINGS[0]:
                tails = np.tile(np.frombuffer(ending, np.uint8), (len(own), 1))
                own = np.concatenate((own[:, :LEVEL_WIDTH], tails), axis=1)
            text = heads[place] + ending.lstrip(b" ") + own.tobytes()
            if code & NO_LAST_LINE_END:
                text = text.removesuffix(b"\n")
            made.append(text)
        yield b"".join(made)
        first = last


def _level_lines(columns: dict[str, NDArray[Any]]) -> NDArray[np.uint8]:
    """Return level lines with the usual ending, shape (line, 53)."""
    count = len(columns["kind"])
    turned = np.full((LEVEL_WIDTH + 2, count), 32, dtype=np.uint8)
    turned[LEVEL_WIDTH + 1] = 10
    turned[0] = columns["kind"] // 10 + 48
    turned[1] = columns["kind"] % 10 + 48
    for name, place in FLAG_COLUMNS.items():
        turned[place] = columns[name]
    for field in LEVEL_FIELDS:
        _put(turned[field.begin : field.end], columns[field.name])
    return np.ascontiguousarray(turned.T)


def _put(rows: NDArray[np.uint8], values: NDArray[Any]) -> None:
    """Write numbers right-justified into rows of blanks, one row a column of the text."""
    negative = values < 0
    rest = np.abs(values.astype(np.int32))
    width = len(rows)
    signed = np.zeros(len(values), dtype=bool)
    for place in range(width - 1, -1, -1):
        there = rest > 0 if place < width - 1 else np.ones(len(values), dtype=bool)
        sign = negative & ~there & ~signed
        rows[place] = np.where(there, rest % 10 + 48, np.where(sign, 45, 32))
        signed |= sign
        rest //= 10


def _header_lines(headers: Any) -> list[bytes]:
    lines = []
    names = ("station", "year", "month", "day", "hour", "release", "announced")
    more = ("pressure_source", "other_source", "latitude", "longitude")
    for row in zip(*(headers[name].tolist() for name in (*names, *more)), strict=True):
        line = b"#%-11b %04d %02d %02d %02d %04d %4d %-8b %-8b %7d %8d" % row
        lines.append(line[:HEADER_WIDTH])
    return lines
