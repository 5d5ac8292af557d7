"""What the archive keeps: a flight with all that came of it, one sounding, a station's history.

Writing and reading files of them is the business of :mod:`encoder.formats.netcdf`.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from encoder.columns import LEVEL_COLUMNS
from encoder.diagnostics import Diagnostic, diagnostic
from encoder.profile import Station
from encoder.sounding import STATUS_COLUMNS, Sounding, StatusArray, same_station

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from encoder.levels.table import Levels
    from encoder.profile import Flight
    from encoder.report import Report

__all__ = [
    "FlightArchive",
    "History",
    "Service",
    "Sounding",
    "history_of",
    "joined",
]


@dataclass(frozen=True, slots=True)
class Service:
    """Who makes and publishes the files; every field may be left unknown.

    The names are those of the Attribute Convention for Data Discovery 1.3.
    """

    institution: str | None = None
    naming_authority: str | None = None
    project: str | None = None
    program: str | None = None
    license: str | None = None
    acknowledgement: str | None = None
    creator_name: str | None = None
    creator_email: str | None = None
    creator_url: str | None = None
    creator_type: str | None = None
    creator_institution: str | None = None
    publisher_name: str | None = None
    publisher_email: str | None = None
    publisher_url: str | None = None
    publisher_type: str | None = None
    publisher_institution: str | None = None
    contributor_name: str | None = None
    contributor_role: str | None = None
    metadata_link: str | None = None
    references: str | None = None

    def missing(self) -> tuple[str, ...]:
        """Return the names of the fields that are not known."""
        return tuple(item.name for item in fields(self) if getattr(self, item.name) is None)


@dataclass(frozen=True, slots=True)
class FlightArchive:
    """A flight and everything made of it.

    Attributes
    ----------
    flight : Flight
    levels : Levels or None
        The levels selected from it.
    reports : tuple of Report
        The coded reports as sent.
    diagnostics : tuple of Diagnostic
        What selecting and encoding had to say; those of the flight are in the flight.
    """

    flight: Flight
    levels: Levels | None = None
    reports: tuple[Report, ...] = ()
    diagnostics: tuple[Diagnostic, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class History:
    """Many soundings of one station, in flat arrays.

    Attributes
    ----------
    station : Station
        Identifier and name; position of the latest sounding.
    time, nominal_time : ndarray of float, shape (sounding,)
        Seconds since 1970, UTC.
    latitude, longitude, elevation : ndarray of float, shape (sounding,)
        A station may have moved.
    row_size : ndarray of int, shape (sounding,)
        Levels of each sounding; may be 0.
    superseded : ndarray of bool, shape (sounding,)
        Whether a corrected sounding has taken the place.
    texts : tuple of str
        Coded reports, empty where there was none; an empty tuple where no sounding has one.
    columns : mapping of str to ndarray, shape (level,)
        Levels of all soundings one after another, NaN for missing.
    kinds : ndarray of int, shape (level,)
        Bits of :class:`encoder.levels.table.LevelKind`.
    status : mapping of str to ndarray of int8, shape (level,)
    formula : str
        Vapour-pressure formula of computed humidities.
    remarks : tuple of str
        One line for every change of the file.
    """

    station: Station
    time: NDArray[np.float64]
    nominal_time: NDArray[np.float64]
    latitude: NDArray[np.float64]
    longitude: NDArray[np.float64]
    elevation: NDArray[np.float64]
    row_size: NDArray[np.int64]
    superseded: NDArray[np.bool_]
    columns: Mapping[str, NDArray[np.float64]]
    kinds: NDArray[np.int64]
    status: Mapping[str, StatusArray]
    texts: tuple[str, ...] = ()
    formula: str = "wmo-49"
    remarks: tuple[str, ...] = ()

    def __len__(self) -> int:
        return len(self.row_size)

    @property
    def offsets(self) -> NDArray[np.int64]:
        """First level of each sounding, and the number of levels; shape (sounding + 1,)."""
        return np.concatenate(([0], np.cumsum(self.row_size))).astype(np.int64)

    def current(self) -> NDArray[np.intp]:
        """Return the indexes of the soundings that no correction has replaced."""
        return np.flatnonzero(~self.superseded)

    def __getitem__(self, index: int) -> Sounding:
        return self.soundings([index])[0]

    def soundings(self, indexes: Sequence[int] | None = None) -> tuple[Sounding, ...]:
        """Return soundings of their own, all or the ones of the indexes."""
        from encoder.levels.table import Levels

        offsets = self.offsets
        made = []
        for index in range(len(self)) if indexes is None else indexes:
            place = index + len(self) if index < 0 else index
            part = slice(int(offsets[place]), int(offsets[place + 1]))
            said = self.texts[place] if self.texts else ""
            station = Station(
                self.station.name,
                float(self.latitude[place]),
                float(self.longitude[place]),
                float(self.elevation[place]),
                self.station.wmo_index,
                self.station.wigos_id,
                self.station.wmo_region,
                self.station.call_sign,
            )
            made.append(
                Sounding(
                    station,
                    datetime.fromtimestamp(float(self.time[place]), UTC),
                    datetime.fromtimestamp(float(self.nominal_time[place]), UTC),
                    Levels(
                        {name: self.columns[name][part] for name in LEVEL_COLUMNS},
                        self.kinds[part],
                        attributes={"decoded": True} if said else {},
                    ),
                    {name: self.status[name][part] for name in STATUS_COLUMNS},
                    said,
                    None,
                    (),
                    self.formula,
                    bool(self.superseded[place]),
                )
            )
        return tuple(made)

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, History):
            return NotImplemented
        arrays = ("time", "nominal_time", "latitude", "longitude", "elevation", "row_size")
        return (
            same_station(self.station, other.station)
            and all(
                np.array_equal(getattr(self, name), getattr(other, name), equal_nan=True)
                for name in arrays
            )
            and np.array_equal(self.superseded, other.superseded)
            and np.array_equal(self.kinds, other.kinds)
            and all(
                np.array_equal(self.columns[n], other.columns[n], equal_nan=True)
                for n in LEVEL_COLUMNS
            )
            and all(np.array_equal(self.status[n], other.status[n]) for n in STATUS_COLUMNS)
            and (self.texts, self.formula, self.remarks)
            == (other.texts, other.formula, other.remarks)
        )

    __hash__ = None  # type: ignore[assignment]  # holds arrays


def history_of(soundings: Sequence[Sounding], remarks: Sequence[str] = ()) -> History:
    """Return the history of soundings of one station, in the order given.

    Raises
    ------
    InputError
        If there is none, or they are of several stations or vapour-pressure formulas.
    """
    from encoder.errors import InputError

    if not soundings:
        msg = "Expected at least one sounding."
        raise InputError(msg)
    names = sorted({item.station_id for item in soundings})
    if len(names) > 1:
        msg = f"Expected soundings of one station, got those of {', '.join(names)}."
        raise InputError(msg, (diagnostic("archive-other-station", msg, value=names[1]),))
    formulas = sorted({item.formula for item in soundings})
    if len(formulas) > 1:
        msg = f"Expected one vapour-pressure formula, got {', '.join(formulas)}."
        raise InputError(msg, (diagnostic("archive-other-formula", msg, value=formulas[1]),))

    def each(value: Any) -> NDArray[np.float64]:
        return np.array([value(item) for item in soundings], dtype=np.float64)

    return History(
        soundings[-1].station,
        each(lambda item: item.time.timestamp()),
        each(lambda item: item.nominal_time.timestamp()),
        each(lambda item: item.station.latitude),
        each(lambda item: item.station.longitude),
        each(lambda item: item.station.elevation),
        np.array([len(item.levels) for item in soundings], dtype=np.int64),
        np.array([item.superseded for item in soundings], dtype=np.bool_),
        {name: np.concatenate([item.levels[name] for item in soundings]) for name in LEVEL_COLUMNS},
        np.concatenate([item.levels.kinds for item in soundings]),
        {
            name: np.concatenate([item.status[name] for item in soundings])
            for name in STATUS_COLUMNS
        },
        tuple(item.text for item in soundings) if any(item.text for item in soundings) else (),
        soundings[0].formula,
        tuple(remarks),
    )


def joined(before: History, added: History, remarks: Sequence[str] = ()) -> History:
    """Return two histories of one station as one, in the order of nominal time.

    Parameters
    ----------
    before, added : History
        Soundings of equal nominal time stay in this order.
    remarks : sequence of str
        One line for every change of the file.
    """
    nominal = np.concatenate((before.nominal_time, added.nominal_time))
    order = np.argsort(nominal, kind="stable")
    row_size = np.concatenate((before.row_size, added.row_size))
    offsets = np.concatenate(([0], np.cumsum(row_size)))
    starts = offsets[:-1][order]
    sizes = row_size[order]
    ends = np.cumsum(sizes)
    levels = np.arange(int(sizes.sum())) + np.repeat(starts - (ends - sizes), sizes)

    def each(name: str) -> Any:
        return np.concatenate((getattr(before, name), getattr(added, name)))[order]

    texts: tuple[str, ...] = ()
    if before.texts or added.texts:
        both = [*(before.texts or [""] * len(before)), *(added.texts or [""] * len(added))]
        texts = tuple(both[place] for place in order)
    return History(
        added.station,
        nominal_time=nominal[order],
        row_size=sizes,
        columns={
            name: np.concatenate((values, added.columns[name]))[levels]
            for name, values in before.columns.items()
        },
        kinds=np.concatenate((before.kinds, added.kinds))[levels],
        status={
            name: np.concatenate((values, added.status[name]))[levels]
            for name, values in before.status.items()
        },
        texts=texts,
        formula=before.formula,
        remarks=tuple(remarks),
        **{
            name: each(name)
            for name in ("time", "latitude", "longitude", "elevation", "superseded")
        },
    )
