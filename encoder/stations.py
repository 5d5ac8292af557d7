"""The station catalogue: where a land station is, and since and until when it was there.

Land reports carry a station number and no position. A catalogue gives the position at the date of
the report; a station it does not know stays without one. Catalogues come from lists
(:mod:`encoder.formats.station_list`); a small one of invented stations is built in.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import cached_property
from typing import TYPE_CHECKING

from encoder.diagnostics import Diagnostic, Result, diagnostic

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

BUILT_IN = "built in"
"""``source`` of the invented stations."""

_DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class StationRecord:
    """A station as it was over one period.

    Attributes
    ----------
    wmo_index : str
        Block and station number, five figures.
    name : str
    latitude, longitude : float
        Degrees, north and east positive.
    elevation : float
        m above mean sea level, NaN where unknown.
    valid_from, valid_to : date or None
        First and last day the entry holds for; None where open.
    source : str
        Name of the list it came from.
    """

    wmo_index: str
    name: str
    latitude: float
    longitude: float
    elevation: float
    valid_from: date | None = None
    valid_to: date | None = None
    source: str = ""

    @property
    def first(self) -> date:
        """First day, the earliest there is where open."""
        return self.valid_from or date.min

    @property
    def last(self) -> date:
        """Last day, the latest there is where open."""
        return self.valid_to or date.max

    def holds(self, day: date) -> bool:
        """Tell whether the entry holds on a day."""
        return self.first <= day <= self.last

    def same_place(self, other: StationRecord) -> bool:
        """Tell whether name, position and elevation are the same."""
        own = (self.wmo_index, self.name, self.latitude, self.longitude)
        others = (other.wmo_index, other.name, other.latitude, other.longitude)
        unknown = self.elevation != self.elevation and other.elevation != other.elevation
        return own == others and (unknown or self.elevation == other.elevation)

    def period(self) -> str:
        """Return the period in words."""
        if self.valid_from is None and self.valid_to is None:
            return "always"
        begin = self.valid_from.isoformat() if self.valid_from else "the beginning"
        end = self.valid_to.isoformat() if self.valid_to else "now"
        return f"{begin} to {end}"


@dataclass(frozen=True)
class StationCatalogue:
    """Stations by number and date.

    Attributes
    ----------
    records : tuple of StationRecord
        In the order of number and first day; periods of one station do not overlap after
        :func:`merge_stations`.
    """

    records: tuple[StationRecord, ...] = ()

    @cached_property
    def _by_index(self) -> Mapping[str, tuple[StationRecord, ...]]:
        table: dict[str, list[StationRecord]] = {}
        for record in self.records:
            table.setdefault(record.wmo_index, []).append(record)
        return {index: tuple(records) for index, records in table.items()}

    def __len__(self) -> int:
        return len(self.records)

    def periods(self, wmo_index: str) -> tuple[StationRecord, ...]:
        """Return every entry of a station, the earliest first."""
        return self._by_index.get(wmo_index, ())

    def find(self, wmo_index: str, day: date | None = None) -> Result[StationRecord | None]:
        """Look a station up.

        Parameters
        ----------
        wmo_index : str
            Five figures.
        day : date, optional
            Day of the report; without it the latest entry is taken.

        Returns
        -------
        Result of StationRecord or None
            None with "station-not-in-catalogue" where there is no entry, or none for that day:
            no position is ever taken from another period.
        """
        records = self.periods(wmo_index)
        if not records:
            return Result(None, (_unknown(f"Station {wmo_index} is not in the catalogue."),))
        if day is None:
            return Result(records[-1])
        for record in reversed(records):
            if record.holds(day):
                return Result(record)
        known = "; ".join(record.period() for record in records)
        return Result(
            None,
            (_unknown(f"Station {wmo_index} is in the catalogue for {known}, not for {day}."),),
        )


def _unknown(message: str) -> Diagnostic:
    return diagnostic("station-not-in-catalogue", f"{message} Its reports stay without a position.")


NORRELAND = StationCatalogue(
    (
        StationRecord("90122", "Saltmere Point", 57.7338, -16.9046, 4.0, source=BUILT_IN),
        StationRecord("90417", "Harrow Tarn", 53.4127, -18.2751, 412.0, source=BUILT_IN),
        StationRecord("90731", "Halden Dome", 56.0843, -20.6392, 2835.0, source=BUILT_IN),
    )
)
"""The stations of the invented Norreland Weather Service."""


def merge_stations(
    catalogue: StationCatalogue, added: Iterable[StationRecord]
) -> Result[StationCatalogue]:
    """Add entries to a catalogue by their periods.

    Parameters
    ----------
    catalogue : StationCatalogue
        Not changed.
    added : iterable of StationRecord
        Entries to add; each holds over its whole period, whatever was there before.

    Returns
    -------
    Result of StationCatalogue
        Periods that overlap and say the same become one. Where they differ the older entry keeps
        the days before and after the new one, with "station-overlap".
    """
    table: dict[str, list[StationRecord]] = {}
    for record in catalogue.records:
        table.setdefault(record.wmo_index, []).append(record)
    found: list[Diagnostic] = []
    fresh: dict[int, StationRecord] = {}  # kept, so that no other gets the same identity
    for record in added:
        records = table.setdefault(record.wmo_index, [])
        kept: list[StationRecord] = []
        new = record
        for old in records:
            if old.same_place(new) and _touch(old, new):
                new = _joined(old, new)
                continue
            if old.first <= new.last and new.first <= old.last:
                if old.source != BUILT_IN and id(old) not in fresh:
                    found.append(_overlap(old, new))
                kept.extend(_without(old, new))
            else:
                kept.append(old)
        table[record.wmo_index] = [*kept, new]
        fresh[id(new)] = new
    merged = [one for records in table.values() for one in records]
    merged.sort(key=lambda one: (one.wmo_index, one.first))
    return Result(StationCatalogue(tuple(merged)), tuple(found))


def _touch(one: StationRecord, other: StationRecord) -> bool:
    """Tell whether two periods overlap or follow each other without a gap."""
    earlier, later = (one, other) if one.first <= other.first else (other, one)
    return earlier.last >= later.first or earlier.last + _DAY == later.first


def _joined(one: StationRecord, other: StationRecord) -> StationRecord:
    open_begin = one.valid_from is None or other.valid_from is None
    open_end = one.valid_to is None or other.valid_to is None
    return replace(
        other,
        valid_from=None if open_begin else min(one.first, other.first),
        valid_to=None if open_end else max(one.last, other.last),
    )


def _without(old: StationRecord, new: StationRecord) -> list[StationRecord]:
    """Return what is left of an old entry outside the period of a new one."""
    left = []
    if new.valid_from is not None and old.first < new.valid_from:
        left.append(replace(old, valid_to=new.valid_from - _DAY))
    if new.valid_to is not None and new.valid_to < old.last:
        left.append(replace(old, valid_from=new.valid_to + _DAY))
    return left


def _overlap(old: StationRecord, new: StationRecord) -> Diagnostic:
    return diagnostic(
        "station-overlap",
        f"Station {new.wmo_index} {new.name} ({new.period()}) takes the place of {old.name} "
        f"({old.period()}, from {old.source or 'an unnamed list'}) where both hold.",
        value=new.wmo_index,
    )
