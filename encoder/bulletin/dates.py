"""From the day of the month in a report to its date: year and month, and who gave them."""

from __future__ import annotations

from calendar import monthrange
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from enum import StrEnum
from typing import TYPE_CHECKING

from encoder.diagnostics import Diagnostic, Result, diagnostic
from encoder.rounding import whole

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from encoder.bulletin.heading import Heading

_DAY = timedelta(days=1)
_EARLIEST_RELEASE = timedelta(minutes=-90)
_LATEST_RELEASE = timedelta(minutes=59)
"""Usual limits of the release against the nominal time (common practice, no source)."""


class DateSource(StrEnum):
    """Who gave year and month, the most trusted first."""

    GIVEN = "given"
    ARCHIVE = "archive"
    FILE_NAME = "file name"
    HEADING = "heading"
    NEIGHBOUR = "neighbour"


_TRUST = tuple(DateSource)


@dataclass(frozen=True, slots=True)
class DateHint:
    """What one source says about the date.

    Attributes
    ----------
    source : DateSource
    year, month : int
    day : int or None
        With a day, the report is taken to be of the nearest day with its own day of the month, in
        that month or one beside it; without, of that very month.
    """

    source: DateSource
    year: int
    month: int
    day: int | None = None

    def nearest(self, day: int) -> date | None:
        """Return the date with that day of the month, None where there is none."""
        if self.day is None:
            return _date(self.year, self.month, day)
        own = _date(self.year, self.month, self.day)
        if own is None:
            return None
        months = [divmod(12 * self.year + self.month - 1 + step, 12) for step in (0, -1, 1)]
        dates = [one for year, month in months if (one := _date(year, month + 1, day)) is not None]
        return min(dates, key=lambda one: abs(one - own), default=None)

    @classmethod
    def of_name(cls, name: str) -> DateHint | None:
        """Return what a file name says, None if it says nothing."""
        from encoder.bulletin.file_names import date_in_name

        found = date_in_name(name)
        return None if found is None else cls(DateSource.FILE_NAME, *found)

    @classmethod
    def of_time(cls, time: date, source: DateSource = DateSource.NEIGHBOUR) -> DateHint:
        """Return what the known time of a neighbouring report says."""
        return cls(source, time.year, time.month, time.day)


def _date(year: int, month: int, day: int) -> date | None:
    inside = 1 < year < 9999 and 1 <= month <= 12
    return date(year, month, day) if inside and 1 <= day <= monthrange(year, month)[1] else None


@dataclass(frozen=True, slots=True)
class ResolvedTime:
    """When a sounding was made, and how that is known.

    Attributes
    ----------
    nominal_time : datetime
        UTC.
    source : DateSource
        Who gave year and month.
    day_source : str
        ``"report"``, or ``"heading"`` where the report's own day or hour is missing.
    release_time : datetime or None
        UTC; None where the report has no 8GGgg.
    """

    nominal_time: datetime
    source: DateSource
    day_source: str = "report"
    release_time: datetime | None = None


def resolve_time(
    *,
    day: int | None,
    hour: int | None,
    hints: Iterable[DateHint],
    release: tuple[int, int] | None = None,
    heading: Heading | None = None,
    path: Sequence[str | int] = (),
) -> Result[ResolvedTime | None]:
    """Return the date and time of a report.

    Parameters
    ----------
    day, hour : int or None
        YY (without the 50 of knots) and GG of the report, None where unreadable.
    hints : iterable of DateHint
        What is known of year and month, from any sources.
    release : tuple of int, optional
        Hour and minute of 8GGgg.
    heading : Heading, optional
        Heading the report stands under: gives day and hour where the report's own are missing.
    path : sequence, optional
        Place of the report, for diagnostics.

    Returns
    -------
    Result of ResolvedTime or None
        None with "date-unknown" where no source gives year and month, and with "date-impossible"
        where the month has no such day. The release is at the time nearest to the nominal time, so
        2321 with a nominal time of 00 UTC is on the day before.
    """
    found: list[Diagnostic] = []
    own_day, own_hour, day_source = day, hour, "report"
    if heading is not None:
        if day is None or hour is None:
            own_day, own_hour, day_source = heading.day, heading.hour, "heading"
        elif (day, hour) != (heading.day, heading.hour):
            found.append(
                diagnostic(
                    "heading-day-mismatch",
                    f"The report is of day {day:02d} {hour:02d} UTC, its heading of day "
                    f"{heading.day:02d} {heading.hour:02d} UTC.",
                    path=path,
                    value=f"{day:02d}{hour:02d}",
                    expected=f"{heading.day:02d}{heading.hour:02d}",
                )
            )
    ordered = sorted(hints, key=lambda hint: _TRUST.index(hint.source))
    if own_day is None or own_hour is None or not ordered:
        lacking = "the report's day or hour" if ordered else "year and month"
        found.append(
            diagnostic(
                "date-unknown", f"Nothing gives {lacking}; the report has no date.", path=path
            )
        )
        return Result(None, tuple(found))
    dates = [(hint, hint.nearest(own_day)) for hint in ordered]
    best, when = dates[0]
    if when is None:
        found.append(
            diagnostic(
                "date-impossible",
                f"{best.year:04d}-{best.month:02d} ({best.source}) has no day {own_day:02d}.",
                path=path,
                value=f"{own_day:02d}",
            )
        )
        return Result(None, tuple(found))
    for hint, other in dates[1:]:
        if other != when:
            said = other.isoformat() if other is not None else f"no day {own_day:02d}"
            found.append(
                diagnostic(
                    "date-sources-disagree",
                    f"{best.source.capitalize()}: {when.isoformat()}; {hint.source}: {said}.",
                    path=path,
                    value=said,
                    expected=when.isoformat(),
                )
            )
    nominal = datetime(when.year, when.month, when.day, own_hour, tzinfo=UTC)
    launched = None if release is None else _release(nominal, *release)
    if launched is not None and not _EARLIEST_RELEASE <= launched - nominal <= _LATEST_RELEASE:
        minutes = whole((launched - nominal).total_seconds() / 60.0)
        found.append(
            diagnostic(
                "launch-far-from-nominal",
                f"The release at {launched:%H:%M} UTC is {abs(minutes)} minutes "
                f"{'before' if minutes < 0 else 'after'} {nominal:%H} UTC.",
                path=path,
                value=f"8{release[0]:02d}{release[1]:02d}" if release else None,
            )
        )
    return Result(ResolvedTime(nominal, best.source, day_source, launched), tuple(found))


def _release(nominal: datetime, hour: int, minute: int) -> datetime:
    """Return the time of release nearest to the nominal time; the earlier one if two are."""
    same = nominal.replace(hour=hour, minute=minute)
    return min((same - _DAY, same, same + _DAY), key=lambda one: abs(one - nominal))
