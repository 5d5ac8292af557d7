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
        summed = np.concatenate(([0], np.cumsum(wrong, dtype=np.int64)))
        plain &= summed[ends] - summed[begins] == allowed
    inside = kind == _GROUP
    edge = np.flatnonzero(np.diff(inside.view(np.int8), prepend=0, append=0))
    starts, stops = edge[::2], edge[1::2]
    first = np.searchsorted(starts, begins).astype(np.int32)
    last = np.searchsorted(starts, ends).astype(np.int32)
    odd = np.concatenate(([0], np.cumsum(stops - starts != 5, dtype=np.int64)))
    plain &= odd[last] == odd[first]
    figure = data[starts[:, None] + np.arange(5)].astype(np.int32) - 48  # a solidus is -1
    bad = figure < 0
    digit = np.where(bad, 0, figure)

    def number(begin: int, end: int) -> Ints:
        """Return figures as a number, -1 for solidi, -2 for some of each."""
        value = np.zeros(len(figure), dtype=np.int32)
        for place in range(begin, end):
            value = value * 10 + digit[:, place]
        wrong = bad[:, begin:end]
        some = wrong.any(axis=1)
        every = wrong.all(axis=1)
        return np.where(every, -1, np.where(some, -2, value)).astype(np.int32)

    return Groups(
        first,
        last,
        plain,
        two=number(0, 2),
        three=number(2, 5),
        front=number(0, 3),
        back=number(3, 5),
        whole=number(0, 5),
        lead=figure[:, 0],
        hour=number(2, 4),
    )
