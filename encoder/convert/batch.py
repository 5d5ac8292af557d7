"""Soundings of one station on the way from a source to a station file, in flat arrays.

Two kinds of columns: ``tenths`` keeps the whole numbers of sources that are written in tenths, and
they go into the file as they are; else values are floats in the units of the package.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from encoder.columns import LEVEL_COLUMNS
from encoder.formats.netcdf.declare import MISSING, Packing
from encoder.formats.netcdf.packing import unpacked
from encoder.sounding import STATUS_COLUMNS

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

TENTHS: dict[str, Packing] = {
    "time": Packing("i4", 1, "s"),
    "air_pressure": Packing("i4", 1, "Pa", 0.01),
    "geopotential_height": Packing("i4", 1, "m"),
    "air_temperature": Packing("i2", 10, "degC"),
    "dew_point_depression": Packing("i2", 10, "K"),
    "relative_humidity": Packing("i2", 10, "%"),
    "wind_from_direction": Packing("i2", 1, "degree"),
    "wind_speed": Packing("i2", 10, "m s-1"),
}
"""Level columns of sources in tenths, as they are stored."""

PROFILE_COLUMNS: dict[str, tuple[str, Any]] = {
    "time": ("f8", np.nan),
    "nominal_time": ("f8", np.nan),
    "latitude": ("f8", np.nan),
    "longitude": ("f8", np.nan),
    "elevation": ("f8", np.nan),
    "row_size": ("i8", 0),
    "source_index": ("i4", 0),
    "source_offset": ("i8", 0),
    "source_length": ("i8", 0),
    "source_kind": ("i1", 0),
    "time_source": ("i1", 1),
    "sounding_quality": ("i4", 0),
    "values": ("i8", 0),
    "announced_levels": ("i4", -1),
    "header_hour": ("i1", -1),
    "header_release": ("i2", -1),
    "line_ending": ("i1", -1),
    "header_station": ("S11", b""),
    "pressure_source": ("S8", b""),
    "other_source": ("S8", b""),
}
"""Columns of one value a sounding: type, and value where a source has none."""

STATUSES = (*STATUS_COLUMNS, "relative_humidity", "elapsed_time")
"""What carries a status: the quantities of the archive and two more."""
MARKS = ("pressure_flag", "height_flag", "temperature_flag")
LEVEL_TYPES: dict[str, str] = {
    "kinds": "i4",
    **{f"{name}_status": "i1" for name in STATUSES},
    "source_level_type": "i1",
    **dict.fromkeys(MARKS, "i1"),
    "level_quality": "i2",
}
"""Columns of one value a level that are whole numbers for every source."""
NO_TYPE = -1
"""``source_level_type`` of levels from sources without one."""


@dataclass(frozen=True, slots=True, eq=False)
class Batch:
    """Soundings of one station.

    Attributes
    ----------
    station : str
        Identifier: WMO index, or what the source calls the station.
    tenths : bool
        Whether the level quantities are the whole numbers of :data:`TENTHS`.
    profiles : mapping of str to ndarray, shape (sounding,)
        By :data:`PROFILE_COLUMNS`.
    levels : mapping of str to ndarray, shape (level,)
        Quantities by :data:`TENTHS` or :data:`encoder.columns.LEVEL_COLUMNS`, and
        :data:`LEVEL_TYPES`.
    texts : tuple of str
        Coded reports; empty where there is none at all.
    """

    station: str
    tenths: bool
    profiles: Mapping[str, NDArray[Any]]
    levels: Mapping[str, NDArray[Any]]
    texts: tuple[str, ...] = ()

    def __len__(self) -> int:
        return len(self.profiles["row_size"])

    @property
    def offsets(self) -> NDArray[np.int64]:
        """First level of each sounding, and the number of levels; shape (sounding + 1,)."""
        return np.concatenate(([0], np.cumsum(self.profiles["row_size"]))).astype(np.int64)

    def ordered(self, order: NDArray[np.intp]) -> Batch:
        """Return the soundings of an index array, in its order."""
        if len(order) == len(self) and bool((order == np.arange(len(order))).all()):
            return self
        sizes = self.profiles["row_size"][order]
        starts = self.offsets[:-1][order]
        ends = np.cumsum(sizes)
        total = int(ends[-1]) if len(ends) else 0
        rows = np.arange(total) + np.repeat(starts - (ends - sizes), sizes)
        return Batch(
            self.station,
            self.tenths,
            {name: column[order] for name, column in self.profiles.items()},
            {name: column[rows] for name, column in self.levels.items()},
            tuple(self.texts[place] for place in order) if self.texts else (),
        )

    def between(self, first: int, last: int) -> Batch:
        """Return neighbouring soundings, from one to before another, as views."""
        begin, end = self.offsets[[first, last]].tolist()
        return Batch(
            self.station,
            self.tenths,
            {name: column[first:last] for name, column in self.profiles.items()},
            {name: column[begin:end] for name, column in self.levels.items()},
            self.texts[first:last],
        )

    def as_values(self) -> Batch:
        """Return the same soundings with floats in package units."""
        if not self.tenths:
            return self
        count = len(self.levels["kinds"])
        levels: dict[str, NDArray[Any]] = {}
        for name in LEVEL_COLUMNS:
            packing = TENTHS.get(name)
            levels[name] = (
                np.full(count, np.nan) if packing is None else unpacked(self.levels[name], packing)
            )
        levels |= {name: self.levels[name] for name in LEVEL_TYPES}
        return Batch(self.station, False, self.profiles, levels, self.texts)


def sums_of_soundings(column: NDArray[Any], row_size: NDArray[Any], dtype: Any) -> NDArray[Any]:
    """Return the sum of a column over the levels of each sounding.

    Parameters
    ----------
    column : ndarray, shape (level,)
    row_size : ndarray of int, shape (sounding,)
    dtype : dtype
        To add up in.

    Returns
    -------
    ndarray, shape (sounding,)
    """
    sums = np.zeros(len(row_size), dtype=dtype)
    some = np.flatnonzero(row_size)  # the sum from a place to itself would be its value
    if len(some):
        sizes = row_size[some]
        sums[some] = np.add.reduceat(column, np.cumsum(sizes) - sizes, dtype=dtype)
    return sums


def profile_columns(count: int, **known: Any) -> dict[str, NDArray[Any]]:
    """Return the columns of soundings, those not given as sources have them that say nothing."""
    columns = {}
    for name, (dtype, usual) in PROFILE_COLUMNS.items():
        value = known.pop(name, usual)
        columns[name] = np.array(np.broadcast_to(np.asarray(value), count), dtype=dtype)
    if known:
        msg = f"Unknown columns: {', '.join(known)}."
        raise KeyError(msg)
    return columns


def fill_of(name: str) -> int:
    """Return the figure for missing of a column in tenths."""
    return int(MISSING[TENTHS[name].dtype])


def joined_batches(batches: Sequence[Batch]) -> Batch:
    """Return batches of one station as one, in the order given."""
    first = batches[0]
    if len(batches) == 1:
        return first
    if not all(item.tenths for item in batches):
        batches = [item.as_values() for item in batches]
    texts: tuple[str, ...] = ()
    if any(item.texts for item in batches):
        texts = tuple(text for item in batches for text in (item.texts or ("",) * len(item)))
    return Batch(
        first.station,
        batches[0].tenths,
        _joined_columns([item.profiles for item in batches]),
        _joined_columns([item.levels for item in batches]),
        texts,
    )


def _joined_columns(several: Sequence[Mapping[str, NDArray[Any]]]) -> dict[str, NDArray[Any]]:
    return {name: np.concatenate([item[name] for item in several]) for name in several[0]}


class Gathering:
    """Batches of one station put one after another as they come.

    Columns are made once, as long as the source can fill them, so that what was added is not copied
    again when the last batch is known.

    Parameters
    ----------
    levels : int
        Most levels there will be, as far as that is known; there may be more.
    """

    def __init__(self, levels: int) -> None:
        self._batches: list[Batch] = []
        self._levels: dict[str, NDArray[Any]] = {}
        self._expected = levels
        self._count = 0

    def add(self, batch: Batch) -> None:
        """Add soundings after those that are there."""
        end = self._count + len(batch.levels["kinds"])
        before = self._levels
        if not before or end > len(before["kinds"]):
            room = max(self._expected, 2 * end if before else end)
            self._levels = {n: np.empty(room, dtype=c.dtype) for n, c in batch.levels.items()}
            for name, column in before.items():
                self._levels[name][: self._count] = column[: self._count]
        for name, column in batch.levels.items():
            self._levels[name][self._count : end] = column
        self._count = end
        self._batches.append(replace(batch, levels={}))

    def joined(self) -> Batch:
        """Return all soundings as one batch."""
        first = self._batches[0]
        return Batch(
            first.station,
            first.tenths,
            {
                n: np.concatenate([item.profiles[n] for item in self._batches])
                for n in PROFILE_COLUMNS
            },
            {name: column[: self._count] for name, column in self._levels.items()},
        )
