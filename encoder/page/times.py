"""The times of a sounding against the release window and the times of transmission."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

import numpy as np

from encoder.levels.altitudes import UPPER_PART_ALTITUDE
from encoder.resolution import UPPER_PART_PRESSURE
from encoder.rounding import whole

if TYPE_CHECKING:
    from encoder.profile import Flight

WINDOWS: dict[str, tuple[int, int, int | None, str]] = {
    "wmo": (-45, 0, -30, "WMO practice: as near as possible to 30 min before, from memory"),
    "fmh-3": (-60, 29, None, "practice of the FMH-3 network, from memory"),
}
"""Release window by criteria: first and last minute after the nominal time, aim, source."""

DEADLINES: tuple[int, int] = (120, 240)
"""Minutes after the nominal time for parts A and B, and for C and D: common practice, no source."""
DEADLINE_SOURCE = "common practice, no source; the plan of the responsible service prevails"


@dataclass(frozen=True, slots=True)
class Moment:
    """One moment on the time line.

    Attributes
    ----------
    name : str
        Stable name.
    label : str
        Words for people.
    minutes : float
        After the nominal time.
    time : datetime
        UTC.
    """

    name: str
    label: str
    minutes: float
    time: datetime


@dataclass(frozen=True, slots=True)
class Timeliness:
    """When things happened, and when they should.

    Attributes
    ----------
    nominal : datetime
    moments : tuple of Moment
        Release, 100 hPa, end of the ascent, as far as reached, and the deadlines.
    window : tuple of int
        First and last minute of the release window after the nominal time.
    aim : int or None
        Minute the release is aimed at.
    window_source, deadline_source : str
    release_in_window : bool
    sentences : tuple of (str, bool)
        What there is to say, and whether it is as it should be.
    """

    nominal: datetime
    moments: tuple[Moment, ...]
    window: tuple[int, int]
    aim: int | None
    window_source: str
    deadline_source: str
    release_in_window: bool
    sentences: tuple[tuple[str, bool], ...]


def timeliness(flight: Flight, deadlines: tuple[int, int] = DEADLINES) -> Timeliness:
    """Return the times of a flight.

    Parameters
    ----------
    flight : Flight
    deadlines : tuple of int
        Minutes after the nominal time by which parts A and B, and parts C and D, are to be sent.

    Returns
    -------
    Timeliness
    """
    first, last, aim, source = WINDOWS[flight.reporting.criteria]
    release = flight.release_time
    start = (release - flight.nominal_time).total_seconds() / 60.0
    moments = [Moment("release", "release", start, release)]
    times, pressures = flight.ascent["time"], flight.ascent["air_pressure"]
    above = np.flatnonzero(pressures <= UPPER_PART_PRESSURE)
    words = "100 hPa reached"
    if flight.ascent.by_height:
        above = np.flatnonzero(flight.ascent["geopotential_height"] >= UPPER_PART_ALTITUDE)
        words = f"{UPPER_PART_ALTITUDE:.0f} m reached"
    falls = len(times) > 1 and bool(times[-1] < times[0])
    end = 0 if falls else len(times) - 1
    for name, label, row in (
        ("100-hpa", words, int(above[0]) if len(above) and not falls else None),
        ("end", f"end of the {'drop' if falls else 'ascent'}", end if len(times) else None),
    ):
        if row is None or not np.isfinite(times[row]):
            continue
        moment = release + timedelta(seconds=float(times[row]))
        moments.append(
            Moment(name, label, (moment - flight.nominal_time).total_seconds() / 60.0, moment)
        )
    for name, label, after in (
        ("deadline-ab", "A and B due", deadlines[0]),
        ("deadline-cd", "C and D due", deadlines[1]),
    ):
        if name == "deadline-cd" and not len(above):
            continue
        moments.append(
            Moment(name, label, float(after), flight.nominal_time + timedelta(minutes=after))
        )
    within = first <= start <= last
    sentences = [_release_sentence(start, first, last, within=within)]
    sentences.extend(_margins({item.name: item for item in moments}))
    return Timeliness(
        flight.nominal_time,
        tuple(moments),
        (first, last),
        aim,
        source,
        DEADLINE_SOURCE,
        within,
        tuple(sentences),
    )


def _release_sentence(start: float, first: int, last: int, *, within: bool) -> tuple[str, bool]:
    word = "inside" if within else "OUTSIDE"
    return (
        (
            f"Released {_minutes(abs(start))} {'before' if start <= 0 else 'after'} the nominal "
            f"time, {word} the window {signed(first)} to {signed(last)} min."
        ),
        within,
    )


def _margins(moments: dict[str, Moment]) -> list[tuple[str, bool]]:
    found = []
    for parts, ready, due in (
        ("A and B", moments.get("100-hpa") or moments.get("end"), moments["deadline-ab"]),
        ("C and D", moments.get("end"), moments.get("deadline-cd")),
    ):
        if ready is None or due is None:
            continue
        margin = due.minutes - ready.minutes
        side = "before" if margin >= 0 else "AFTER"
        found.append(
            (
                (
                    f"Parts {parts} could be made from {ready.time:%H:%M} UTC, "
                    f"{_minutes(abs(margin))} {side} they are due ({due.time:%H:%M})."
                ),
                margin >= 0,
            )
        )
    return found


def signed(minutes: int) -> str:
    """Return minutes with their sign, zero without."""
    return f"{minutes:+d}".replace("-", "\u2212") if minutes else "0"


def _minutes(minutes: float) -> str:
    count = whole(minutes)
    hours, rest = divmod(count, 60)
    return f"{hours} h {rest:02d} min" if hours else f"{rest} min"
