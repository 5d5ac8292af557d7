"""Parts of many reports divided into groups of five figures, as columns of numbers."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from collections.abc import Sequence

Ints = NDArray[np.int32]
Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

_SEPARATOR, _GROUP, _END, _LETTER, _OTHER = range(5)
_CLASS = np.full(256, _OTHER, dtype=np.uint8)
for _sign in b" \r\n":
    _CLASS[_sign] = _SEPARATOR
for _sign in b"0123456789/":
    _CLASS[_sign] = _GROUP
_CLASS[ord("=")] = _END
for _sign in b"TABCD":
    _CLASS[_sign] = _LETTER


class Groups(NamedTuple):
    """Groups of five figures of all parts, one after another."""

    first: Ints
    last: Ints
    plain: Mask
    two: Ints
    three: Ints
    front: Ints
    back: Ints
    whole: Ints
    lead: Ints
    hour: Ints


def divide(parts: Sequence[bytes], letters: NDArray[np.bytes_]) -> Groups:
    """Divide parts into groups; parts with anything but letters, groups of five and = are odd."""
    text = b" ".join(parts) + b" " * 8
    data = np.frombuffer(text, np.uint8)
    lengths = np.fromiter((len(item) for item in parts), np.int64, len(parts))
    begins = np.concatenate(([0], np.cumsum(lengths[:-1] + 1))).astype(np.int64)
    ends = begins + lengths
    kind = _CLASS[data]
    plain = lengths > 16
    safe_end = np.maximum(ends - 1, 0)
    plain &= (kind[safe_end] == _END) & (kind[begins + 4] == _SEPARATOR)
    own = data[begins[:, None] + np.arange(4)]
    given = np.ascontiguousarray(letters).view(np.uint8).reshape(-1, 4)
    plain &= (own == given).all(axis=1)
    for wrong, allowed in ((kind == _OTHER, 0), (kind == _END, 1), (kind == _LETTER, 4)):
        places = np.flatnonzero(wrong)
        plain &= np.searchsorted(places, ends) - np.searchsorted(places, begins) == allowed
    inside = kind == _GROUP  # never the last sign, which is a blank
    edge = np.flatnonzero(inside[1:] != inside[:-1]) + 1
    if inside[0]:
        edge = np.concatenate(([0], edge))
    starts, stops = edge[::2], edge[1::2]
    first = np.searchsorted(starts, begins).astype(np.int32)
    last = np.searchsorted(starts, ends).astype(np.int32)
    odd = np.concatenate(([0], np.cumsum(stops - starts != 5, dtype=np.int64)))
    plain &= odd[last] == odd[first]
    figure = [data[starts + place].astype(np.int32) - 48 for place in range(5)]
    bad = [column < 0 for column in figure]  # a solidus is -1
    digit = [np.where(wrong, 0, column) for wrong, column in zip(bad, figure, strict=True)]

    def number(begin: int, end: int) -> Ints:
        """Return figures as a number, -1 for solidi, -2 for some of each."""
        value, some, every = digit[begin], bad[begin], bad[begin]
        for place in range(begin + 1, end):
            value = value * 10 + digit[place]
            some, every = some | bad[place], every & bad[place]
        return np.where(every, -1, np.where(some, -2, value)).astype(np.int32, copy=False)

    return Groups(
        first,
        last,
        plain,
        two=number(0, 2),
        three=number(2, 5),
        front=number(0, 3),
        back=number(3, 5),
        whole=number(0, 5),
        lead=figure[0],
        hour=number(2, 4),
    )
