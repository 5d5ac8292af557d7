"""Where and when a decoded report was made: its position and its full date, each with its source.

A land report carries a station number and a day of the month, no more. The position comes from a
station catalogue, year and month from the caller, a file name or a neighbouring report.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple

from encoder.bulletin.dates import DateHint, DateSource, resolve_time
from encoder.bulletin.heading import parse_heading
from encoder.diagnostics import Diagnostic, Result, Severity, diagnostic

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date, datetime

    from encoder.bulletin.heading import Heading
    from encoder.report import Report
    from encoder.stations import StationCatalogue

_DROP = "FM 37"
OF_REPORT = "report"
"""Source of a position that the report itself gives."""


@dataclass(frozen=True, slots=True)
class Located:
    """Where and when a report was made, as far as known.

    Attributes
    ----------
    station : str or None
        IIiii, or the call sign of a ship or mobile station.
    name : str or None
        Name in the catalogue.
    latitude, longitude, elevation : float or None
        Degrees, north and east positive, and m; None where unknown.
    position_source : str or None
        ``"report"``, or the list in the catalogue; None without position.
    nominal_time, release_time : datetime or None
        UTC; None where year and month, or the release, are unknown.
    date_source : str or None
        Who gave year and month: given, file name, heading or neighbour.
    day_source : str or None
        Who gave day and hour: report, or heading where those of the report cannot be read.
    """

    station: str | None = None
    name: str | None = None
    latitude: float | None = None
    longitude: float | None = None
    elevation: float | None = None
    position_source: str | None = None
    nominal_time: datetime | None = None
    release_time: datetime | None = None
    date_source: str | None = None
    day_source: str | None = None

    def as_json(self) -> dict[str, Any]:
        """Return a dictionary that validates against ``report.schema.json``, times in UTC."""
        return {
            "station": self.station,
            "name": self.name,
            "latitude": self.latitude,
            "longitude": self.longitude,
            "elevation": self.elevation,
            "position_source": self.position_source,
            "nominal_time": _utc(self.nominal_time),
            "release_time": _utc(self.release_time),
            "date_source": self.date_source,
            "day_source": self.day_source,
        }

    def as_text(self) -> str:
        """Return place and time as one line, "" where neither is known."""
        words = []
        if self.latitude is not None and self.longitude is not None:
            north = f"{abs(self.latitude):.4g} {'S' if self.latitude < 0 else 'N'}"
            east = f"{abs(self.longitude):.4g} {'W' if self.longitude < 0 else 'E'}"
            height = "" if self.elevation is None else f", {self.elevation:g} m"
            name = f"{self.name}, " if self.name else ""
            words.append(f"{name}{north} {east}{height} ({self.position_source})")
        if self.nominal_time is not None:
            day = ", day and hour: heading" if self.day_source == "heading" else ""
            words.append(f"{self.nominal_time:%Y-%m-%d %H} UTC (month: {self.date_source}{day})")
        return "; ".join(words)


def _utc(moment: datetime | None) -> str | None:
    return None if moment is None else moment.strftime("%Y-%m-%dT%H:%M:%SZ")


def locate(
    reports: Sequence[Report],
    *,
    catalogue: StationCatalogue,
    hints: Sequence[DateHint] = (),
    names: Sequence[str | date | None] = (),
    date_needed: bool = False,
) -> Result[tuple[Located, ...]]:
    """Return where and when reports were made.

    Parameters
    ----------
    reports : sequence of Report
        As decoded, in the order of the input.
    catalogue : StationCatalogue
        Gives the position of land stations on the day of the report.
    hints : sequence of DateHint
        What the caller knows of the date.
    names : sequence of str, date or None
        Name of the file of each report, or the date an archive keeps of it; None where it came
        from elsewhere.
    date_needed : bool
        Whether a report without full date is an error; a note otherwise.

    Returns
    -------
    Result of tuple of Located
        One a report. A station is told once with "station-not-in-catalogue"; "date-unknown" and
        the other findings on dates.
    """
    found: list[Diagnostic] = []
    times = [_NO_TIME] * len(reports)
    neighbour: DateHint | None = None
    waiting: list[int] = []
    for place, report in enumerate(reports):
        name = names[place] if place < len(names) else None
        of_name = None
        if isinstance(name, str):
            of_name = DateHint.of_name(name)
        elif name is not None:
            of_name = DateHint.of_time(name, DateSource.ARCHIVE)
        own = [*hints, *((of_name,) if of_name else ())]
        if not own:
            waiting.append(place)
            continue
        times[place] = _time(report, own, found)
        nominal = times[place].nominal
        if nominal is not None and neighbour is None:
            neighbour = DateHint.of_time(nominal.date(), DateSource.NEIGHBOUR)
    for place in waiting:
        if neighbour is not None:
            times[place] = _time(reports[place], [neighbour], found)
    if waiting and neighbour is None and any(_form_has_day(reports[place]) for place in waiting):
        found.append(
            diagnostic(
                "date-unknown",
                "Nothing gives year and month; the reports carry the day of the month alone."
                if len(reports) > 1
                else "Nothing gives year and month; the report carries the day of the month alone.",
                severity=Severity.ERROR if date_needed else Severity.NOTE,
            )
        )
    told: set[str] = set()
    located = [
        _place(report, catalogue, times[place], found, told) for place, report in enumerate(reports)
    ]
    return Result(tuple(located), tuple(found))


def _form_has_day(report: Report) -> bool:
    return "day" in report.parts[0].content.identification


class _Time(NamedTuple):
    """When a report was made, and who gave year and month, and day and hour."""

    nominal: datetime | None
    release: datetime | None
    source: str | None
    day_source: str | None


_NO_TIME = _Time(None, None, None, None)


def heading_of(report: Report) -> Heading | None:
    """Return the heading of a report: that of its first part that has a readable one."""
    texts = (part.heading for part in report.parts if part.heading is not None)
    return next((one for text in texts if (one := parse_heading(text).value) is not None), None)


def _heading_for_time(report: Report, whole: bool) -> Heading | None:
    """Return the heading that may tell the time of a report.

    A heading of dropped soundings gives the time it was made at, so it is no check on them.
    """
    return None if whole and report.form == _DROP else heading_of(report)


def _time(report: Report, hints: Sequence[DateHint], found: list[Diagnostic]) -> _Time:
    if not _form_has_day(report):
        return _NO_TIME
    said = report.parts[0].content.identification
    day, hour = said.get("day"), said.get("hour")
    resolved, faults = resolve_time(
        day=day if isinstance(day, int) else None,
        hour=hour if isinstance(hour, int) else None,
        hints=hints,
        release=_release(report),
        heading=_heading_for_time(report, isinstance(day, int) and isinstance(hour, int)),
        path=(report.parts[0].letters,),
    )
    found.extend(faults)
    if resolved is None:
        return _NO_TIME
    return _Time(
        resolved.nominal_time, resolved.release_time, str(resolved.source), resolved.day_source
    )


def _release(report: Report) -> tuple[int, int] | None:
    for part in report.parts:
        for record in part.content.records("7"):
            hour, minute = record.get("release_hour"), record.get("release_minute")
            if isinstance(hour, int) and isinstance(minute, int):
                return hour, minute
    return None


def _place(
    report: Report,
    catalogue: StationCatalogue,
    time: _Time,
    found: list[Diagnostic],
    told: set[str],
) -> Located:
    said = report.parts[0].content.identification
    nominal, release, source, day_source = time
    latitude, longitude = said.get("latitude"), said.get("longitude")
    if isinstance(latitude, float) and isinstance(longitude, float):
        sign, elevation = said.get("call_sign"), said.get("elevation")
        return Located(
            sign if isinstance(sign, str) else None,
            None,
            latitude,
            longitude,
            elevation if isinstance(elevation, float) else None,
            OF_REPORT,
            nominal,
            release,
            source,
            day_source,
        )
    index = said.get("station")
    if not isinstance(index, str):
        return Located(
            None,
            nominal_time=nominal,
            release_time=release,
            date_source=source,
            day_source=day_source,
        )
    day: date | None = None if nominal is None else nominal.date()
    record, faults = catalogue.find(index, day)
    if record is None:
        if index not in told:
            found.extend(faults)
        told.add(index)
        return Located(
            index,
            nominal_time=nominal,
            release_time=release,
            date_source=source,
            day_source=day_source,
        )
    known = record.elevation == record.elevation
    return Located(
        index,
        record.name,
        record.latitude,
        record.longitude,
        record.elevation if known else None,
        record.source or "station catalogue",
        nominal,
        release,
        source,
        day_source,
    )
