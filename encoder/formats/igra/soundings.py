"""Soundings of the IGRA layout in flat arrays, as the whole numbers the file has."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from encoder.formats.igra.layout import HEADER_FIELDS, LEVEL_FIELDS, MISSING, REMOVED

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from encoder.diagnostics import Diagnostic

HEADER_COLUMNS: dict[str, str] = {
    "station": "S11",
    "pressure_source": "S8",
    "other_source": "S8",
    **{item.name: item.dtype for item in HEADER_FIELDS},
    "row_size": "i8",
    "offset": "i8",
    "length": "i8",
    "ending": "u1",
}
"""Columns of one value a sounding, with their types."""
LEVEL_COLUMNS: dict[str, str] = {
    "kind": "i1",
    **{item.name: item.dtype for item in LEVEL_FIELDS},
    "pressure_flag": "u1",
    "height_flag": "u1",
    "temperature_flag": "u1",
}
"""Columns of one value a level, with their types."""

ENDINGS = (b" \n", b"\n", b" \r\n", b"\r\n")
"""What may follow the 51 columns of a level; ``ending`` is the place in this list."""
MIXED = 4
"""``ending`` of a sounding whose lines end in several ways."""
NO_LAST_LINE_END = 8
"""Added to ``ending`` where the last line of the text has no line end."""
VALUES = tuple(item.name for item in LEVEL_FIELDS)


@dataclass(frozen=True, slots=True)
class Refused:
    """Bytes of a source that were not taken.

    Attributes
    ----------
    offset : int
        Of the first byte.
    data : bytes
        Verbatim.
    diagnostics : tuple of Diagnostic
        Why.
    soundings, levels, values : int
        What they would have been, as far as that can be told.
    """

    offset: int
    data: bytes
    diagnostics: tuple[Diagnostic, ...]
    soundings: int = 1
    levels: int = 0
    values: int = 0


@dataclass(frozen=True, slots=True, eq=False)
class IgraSoundings:
    """Soundings in the order of the file.

    Attributes
    ----------
    headers : mapping of str to ndarray, shape (sounding,)
        By :data:`HEADER_COLUMNS`. ``latitude`` and ``longitude`` are 1e-4 degrees, ``offset`` and
        ``length`` the bytes of the sounding in the text, ``announced`` the number of levels the
        header gives and ``row_size`` the number there is.
    levels : mapping of str to ndarray, shape (level,)
        By :data:`LEVEL_COLUMNS`; -9999 missing, -8888 removed.
    refused : tuple of Refused
    found : tuple of Diagnostic
        What was noticed of soundings that were taken.
    size : int
        Bytes of the text.
    verbatim : mapping of int to bytes
        Soundings whose lines end in several ways, by offset: the columns do not say how.
    """

    headers: Mapping[str, NDArray[Any]]
    levels: Mapping[str, NDArray[Any]]
    refused: tuple[Refused, ...] = ()
    found: tuple[Diagnostic, ...] = ()
    size: int = 0
    verbatim: Mapping[int, bytes] = field(default_factory=dict, repr=False)
    _offsets: list[NDArray[np.int64]] = field(default_factory=list, repr=False)

    def __len__(self) -> int:
        return len(self.headers["row_size"])

    @property
    def offsets(self) -> NDArray[np.int64]:
        """First level of each sounding, and the number of levels; shape (sounding + 1,)."""
        if not self._offsets:
            sizes = self.headers["row_size"]
            self._offsets.append(np.concatenate(([0], np.cumsum(sizes))).astype(np.int64))
        return self._offsets[0]

    def number_of_values(self) -> int:
        """Return how many values there are: neither missing nor removed."""
        count = 0
        for name in VALUES:
            column = self.levels[name]
            count += int(((column != MISSING) & (column != REMOVED)).sum())
        return count

    def picked(self, places: Any) -> IgraSoundings:
        """Return the soundings of a boolean mask or an index array, in that order."""
        order = np.arange(len(self))[places]
        sizes = self.headers["row_size"][order]
        starts = self.offsets[:-1][order]
        ends = np.cumsum(sizes)
        total = int(ends[-1]) if len(ends) else 0
        rows = np.arange(total) + np.repeat(starts - (ends - sizes), sizes)
        return IgraSoundings(
            {name: column[order] for name, column in self.headers.items()},
            {name: column[rows] for name, column in self.levels.items()},
            size=self.size,
        )


def empty_columns(declared: Mapping[str, str]) -> dict[str, NDArray[Any]]:
    """Return columns of no rows."""
    return {name: np.empty(0, dtype=dtype) for name, dtype in declared.items()}


def joined_soundings(batches: Sequence[IgraSoundings], *, size: int | None = None) -> IgraSoundings:
    """Return several batches as one, in the order given."""
    if len(batches) == 1 and size is None:
        return batches[0]
    headers, levels = empty_columns(HEADER_COLUMNS), empty_columns(LEVEL_COLUMNS)
    if batches:
        headers = {n: np.concatenate([item.headers[n] for item in batches]) for n in headers}
        levels = {n: np.concatenate([item.levels[n] for item in batches]) for n in levels}
    return IgraSoundings(
        headers,
        levels,
        tuple(part for item in batches for part in item.refused),
        tuple(one for item in batches for one in item.found),
        sum(item.size for item in batches) if size is None else size,
    )
