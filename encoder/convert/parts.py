"""Parts of coded soundings, and how those of one sounding come together across files and days.

Of a part that came several times, equal texts are one. Of differing ones the one under a heading
with the latest correction indicator stands (CCA, CCB, ...: WMO-No. 386), then the later one in the
order of source name and offset; the others are kept aside and told.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from encoder.convert.shard import pack_arrays, unpack_arrays

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

PART_COLUMNS = {
    "nominal_time": "f8",
    "time": "f8",
    "latitude": "f8",
    "longitude": "f8",
    "elevation": "f8",
    "letters": "S4",
    "correction": "i2",
    "far_from_heading": "i1",
    "source_index": "i4",
    "offset": "i8",
    "length": "i8",
}
"""Columns of one value a part; positions are NaN where the report gives none, and
``far_from_heading`` is 1 where its day and hour are not those of its heading."""


@dataclass(frozen=True, slots=True, eq=False)
class Parts:
    """Parts of soundings of one station, as received.

    Attributes
    ----------
    station : str
    columns : mapping of str to ndarray, shape (part,)
        By :data:`PART_COLUMNS`.
    texts : sequence of bytes
        Verbatim, from the letters to ``=`` where there is one.
    """

    station: str
    columns: Mapping[str, NDArray[Any]]
    texts: Sequence[bytes]

    def __len__(self) -> int:
        return len(self.texts)


def parts_of_rows(station: str, rows: Sequence[tuple[Any, ...]], texts: Sequence[bytes]) -> Parts:
    """Return parts of rows in the order of :data:`PART_COLUMNS`."""
    columns = {
        name: np.array([row[place] for row in rows], dtype=dtype)
        for place, (name, dtype) in enumerate(PART_COLUMNS.items())
    }
    return Parts(station, columns, texts)


def parts_bytes(parts: Parts) -> bytes:
    """Return parts as the bytes of a shard."""
    lengths = np.array([len(text) for text in parts.texts], dtype=np.int64)
    text = np.frombuffer(b"".join(parts.texts), np.uint8)
    arrays = {**parts.columns, "lengths": lengths, "text": text}
    return pack_arrays({"station": parts.station}, arrays)


def parts_of_bytes(data: bytes) -> Parts:
    """Return the parts of a shard; inverse of :func:`parts_bytes`."""
    facts, arrays = unpack_arrays(data)
    text = arrays["text"].tobytes()
    ends = np.cumsum(arrays["lengths"])
    begins = (ends - arrays["lengths"]).tolist()
    texts = [text[begin:end] for begin, end in zip(begins, ends.tolist(), strict=True)]
    return Parts(facts["station"], {name: arrays[name] for name in PART_COLUMNS}, texts)


def joined_parts(several: Sequence[Parts]) -> Parts:
    """Return the parts of several sources as one, in the order given."""
    if len(several) == 1:
        return several[0]
    return Parts(
        several[0].station,
        {name: np.concatenate([item.columns[name] for item in several]) for name in PART_COLUMNS},
        [text for item in several for text in item.texts],
    )


class Grouped(NamedTuple):
    """Parts put together.

    Attributes
    ----------
    soundings : list of list of int
        Places of the parts of each sounding, in the order A to D.
    repeated : list of int
        Places of parts that another one says too.
    replaced : list of int
        Places of parts that a later or corrected one takes the place of.
    """

    soundings: list[list[int]]
    repeated: list[int]
    replaced: list[int]


def group_parts(parts: Parts) -> Grouped:
    """Put the parts of one station together by nominal time and code form.

    Parameters
    ----------
    parts : Parts
        In the order of sources.
    """
    columns = parts.columns
    family = columns["letters"].astype("S2")
    order = np.lexsort(
        (
            np.arange(len(parts)),
            columns["offset"],
            columns["source_index"],
            columns["correction"],
            columns["letters"],
            family,
            columns["nominal_time"],
        )
    ).tolist()
    nominal = columns["nominal_time"].tolist()
    letters = columns["letters"].tolist()
    result = Grouped([], [], [])
    last: tuple[float, bytes] | None = None
    for place in order:
        own = (nominal[place], letters[place][:2])
        if own != last:
            result.soundings.append([place])
            last = own
            continue
        members = result.soundings[-1]
        before = members[-1]
        if letters[before] != letters[place]:
            members.append(place)
            continue
        members[-1] = place
        same = parts.texts[before] == parts.texts[place] or _words(parts.texts[before]) == _words(
            parts.texts[place]
        )
        (result.repeated if same else result.replaced).append(before)
    return result


def _words(text: bytes) -> list[bytes]:
    return text.upper().rstrip(b"=\r\n ").split()
