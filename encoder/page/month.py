"""A month of a station at a glance: which flights, how high, which parts missing or late."""

from __future__ import annotations

from calendar import monthrange
from collections import Counter
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any

import numpy as np

from encoder.diagnostics import Severity
from encoder.errors import InputError
from encoder.levels.table import LevelKind
from encoder.page.times import DEADLINES
from encoder.resolution import UPPER_PART_PRESSURE

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from encoder.levels.table import Levels
    from encoder.sounding import Sounding

FORMAT = "aerogram-month-1"
PARTS = "ABCD"
REACHED = (100.0, 30.0, 10.0)
"""Surfaces whose passing is counted, in hPa: the end of parts A and B, two common aims."""
_USUAL = 0.4
"""Share of the days of a month from which an hour counts as one the station flies at."""
Sent = dict[tuple[datetime, str], datetime]
"""When a part was sent, by nominal time and letter."""


@dataclass(frozen=True, slots=True)
class PartState:
    """One part of one sounding.

    Attributes
    ----------
    letter : str
    expected, given : bool
    minutes : float or None
        After the nominal time, when it was sent; None where that is not known.
    late : bool or None
        None where it is not known when it was sent.
    """

    letter: str
    expected: bool
    given: bool
    minutes: float | None
    late: bool | None


@dataclass(frozen=True, slots=True)
class MonthSounding:
    """One sounding of the month.

    Attributes
    ----------
    nominal_time, time : datetime
        UTC; the time is that of release where known, else the nominal time.
    top_pressure, top_height : float
        Least pressure with temperature or wind, in hPa, and the greatest height the report gives
        up to there, in geopotential metres; NaN where there is none.
    height_at_top : bool
        Whether that height is the one of the least pressure; else the flight rose above it.
    levels : int
    parts : tuple of PartState
    errors, warnings, notes : int
        What reading the report found.
    """

    nominal_time: datetime
    time: datetime
    top_pressure: float
    top_height: float
    height_at_top: bool
    levels: int
    parts: tuple[PartState, ...]
    errors: int
    warnings: int
    notes: int


@dataclass(frozen=True, slots=True)
class Month:
    """A month of a station.

    Attributes
    ----------
    name, index : str
        Of the station.
    year, month : int
    hours : tuple of int
        Nominal hours a flight is expected at.
    soundings : tuple of MonthSounding
        In the order of nominal time.
    missing : tuple of datetime
        Expected nominal times without a sounding, between the first and the last day of data.
    replaced : int
        Soundings a correction has taken the place of; they are not among the soundings.
    deadlines : tuple of int
        Minutes after the nominal time for parts A and B, and for C and D.
    sent_known : bool
        Whether it is known when parts were sent.
    """

    name: str
    index: str
    year: int
    month: int
    hours: tuple[int, ...]
    soundings: tuple[MonthSounding, ...]
    missing: tuple[datetime, ...]
    replaced: int
    deadlines: tuple[int, int]
    sent_known: bool

    @property
    def days(self) -> int:
        """Return how many days the month has."""
        return monthrange(self.year, self.month)[1]

    def totals(self) -> dict[str, int]:
        """Return the counts of the month by name."""
        parts = [part for item in self.soundings for part in item.parts]
        return {
            "soundings": len(self.soundings),
            "missing": len(self.missing),
            **{
                f"reached_{pressure:g}_hpa": sum(
                    1 for item in self.soundings if item.top_pressure <= pressure
                )
                for pressure in REACHED
            },
            "parts_missing": sum(1 for part in parts if part.expected and not part.given),
            "parts_late": sum(1 for part in parts if part.late),
            "errors": sum(item.errors for item in self.soundings),
            "warnings": sum(item.warnings for item in self.soundings),
            "replaced": self.replaced,
        }

    def as_json(self) -> dict[str, Any]:
        """Return a dictionary that validates against ``month.schema.json``."""
        return {
            "format": FORMAT,
            "station": {"name": self.name, "index": self.index},
            "month": f"{self.year:04d}-{self.month:02d}",
            "hours": list(self.hours),
            "deadlines": list(self.deadlines),
            "sent_known": self.sent_known,
            "totals": self.totals(),
            "missing": [f"{time:%Y-%m-%dT%H:%MZ}" for time in self.missing],
            "soundings": [_as_json(item) for item in self.soundings],
        }


def _as_json(item: MonthSounding) -> dict[str, Any]:
    return {
        "nominal_time": f"{item.nominal_time:%Y-%m-%dT%H:%MZ}",
        "time": f"{item.time:%Y-%m-%dT%H:%M:%SZ}",
        "top_pressure": None if np.isnan(item.top_pressure) else item.top_pressure,
        "top_height": None if np.isnan(item.top_height) else item.top_height,
        "height_at_top": item.height_at_top,
        "levels": item.levels,
        "parts": [
            {
                "letter": part.letter,
                "expected": part.expected,
                "given": part.given,
                "minutes": part.minutes,
                "late": part.late,
            }
            for part in item.parts
        ],
        "errors": item.errors,
        "warnings": item.warnings,
        "notes": item.notes,
    }


def month_of(
    soundings: Sequence[Sounding],
    *,
    year: int | None = None,
    month: int | None = None,
    hours: Sequence[int] | None = None,
    sent: Mapping[tuple[datetime, str], datetime] | None = None,
    deadlines: tuple[int, int] = DEADLINES,
) -> Month:
    """Return a month of a station's soundings.

    Parameters
    ----------
    soundings : sequence of Sounding
        Of one station, of any months.
    year, month : int, optional
        The month of the latest sounding by default.
    hours : sequence of int, optional
        Nominal hours a flight is expected at; by default those met on at least four days in ten.
    sent : mapping of (datetime, str) to datetime, optional
        When each part was sent, by nominal time and letter.
    deadlines : tuple of int
        Minutes after the nominal time for parts A and B, and for C and D.

    Raises
    ------
    InputError
        If there is no sounding in that month.
    """
    if not soundings:
        msg = "Expected at least one sounding."
        raise InputError(msg)
    latest = max(soundings, key=lambda item: item.nominal_time)
    year = latest.nominal_time.year if year is None else year
    month = latest.nominal_time.month if month is None else month
    own = [
        item
        for item in soundings
        if (item.nominal_time.year, item.nominal_time.month) == (year, month)
    ]
    if not own:
        first = min(item.nominal_time for item in soundings)
        msg = (
            f"There is no sounding in {year:04d}-{month:02d}; the history holds "
            f"{first:%Y-%m} to {latest.nominal_time:%Y-%m}."
        )
        raise InputError(msg)
    current = sorted(
        (item for item in own if not item.superseded), key=lambda item: item.nominal_time
    )
    flown = tuple(sorted(hours)) if hours is not None else _usual_hours(current)
    return Month(
        latest.station.name,
        latest.station_id,
        year,
        month,
        flown,
        tuple(_sounding(item, sent, deadlines) for item in current),
        _missing(current, flown),
        len(own) - len(current),
        deadlines,
        bool(sent),
    )


def _usual_hours(soundings: Sequence[Sounding]) -> tuple[int, ...]:
    days = len({item.nominal_time.date() for item in soundings})
    counts = Counter(item.nominal_time.hour for item in soundings)
    return tuple(sorted(hour for hour, count in counts.items() if count >= _USUAL * days))


def _missing(soundings: Sequence[Sounding], hours: Sequence[int]) -> tuple[datetime, ...]:
    if not soundings:
        return ()
    have = {item.nominal_time for item in soundings}
    first, last = soundings[0].nominal_time, soundings[-1].nominal_time
    day = first.replace(hour=0, minute=0, second=0, microsecond=0)
    found: list[datetime] = []
    while day <= last:
        found.extend(
            time
            for hour in hours
            if (time := day.replace(hour=hour)) not in have and first <= time <= last
        )
        day += timedelta(days=1)
    return tuple(found)


def _sounding(
    item: Sounding,
    sent: Mapping[tuple[datetime, str], datetime] | None,
    deadlines: tuple[int, int],
) -> MonthSounding:
    levels = item.levels
    given, counts = _reading(item)
    top = _top_pressure(levels)
    height, at_top = _top_height(levels, top)
    parts = []
    for letter in PARTS:
        when = None if sent is None else sent.get((item.nominal_time, letter))
        minutes = None if when is None else (when - item.nominal_time).total_seconds() / 60.0
        limit = deadlines[0] if letter in "AB" else deadlines[1]
        parts.append(
            PartState(
                letter,
                letter in "AB" or top < UPPER_PART_PRESSURE,
                letter in given,
                minutes,
                None if minutes is None else minutes > limit,
            )
        )
    return MonthSounding(
        item.nominal_time.astimezone(UTC),
        item.time.astimezone(UTC),
        top,
        height,
        at_top,
        len(levels),
        tuple(parts),
        counts[Severity.ERROR],
        counts[Severity.WARNING],
        counts[Severity.NOTE],
    )


def _reading(item: Sounding) -> tuple[set[str], Counter[Severity]]:
    """Return the letters of the parts a sounding has, and counts of what reading them found."""
    from encoder.report import decode_reports

    if not item.text:
        upper = bool(np.any(item.levels["air_pressure"] < UPPER_PART_PRESSURE))
        return set(PARTS if upper else "AB"), Counter(d.severity for d in item.diagnostics)
    on = item.nominal_time.date()
    reports, found = decode_reports(item.text, formula=item.formula, on=on)
    letters = {part.content.letter for report in reports for part in report.parts}
    return letters, Counter(diagnostic.severity for diagnostic in found)


def _top_pressure(levels: Levels) -> float:
    """Return the least pressure with temperature or wind, NaN for none."""
    has = np.isfinite(levels["air_temperature"]) | np.isfinite(levels["wind_speed"])
    has &= (levels.kinds & int(LevelKind.SURFACE)) == 0
    pressures = levels["air_pressure"][has]
    return float(np.min(pressures)) if len(pressures) else float("nan")


def _top_height(levels: Levels, top: float) -> tuple[float, bool]:
    """Return the greatest height up to a pressure, and whether that pressure has it.

    Of winds by height, without any pressure, the greatest height with a wind.
    """
    pressures, heights = levels["air_pressure"], levels["geopotential_height"]
    flown = np.isfinite(levels["wind_speed"]) if np.isnan(top) else pressures >= top
    known = np.flatnonzero(flown & np.isfinite(heights))
    if not len(known):
        return float("nan"), False
    highest = known[np.argmax(heights[known])]
    return float(heights[highest]), bool(np.isnan(top) or pressures[highest] == top)
