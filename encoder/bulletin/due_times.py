"""When a sounding is due: the window of release and the limits of transmission, as data."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any

import numpy as np

from encoder.diagnostics import Result, diagnostic
from encoder.levels.altitudes import UPPER_PART_ALTITUDE
from encoder.resolution import UPPER_PART_PRESSURE

if TYPE_CHECKING:
    from encoder.profile import Flight

_PRACTICE = "common practice, no source"
_WINDOW = "WMO practice as taught: near 30 minutes before the nominal time, not before 45"


@dataclass(frozen=True, slots=True)
class Due:
    """One limit of a region.

    Attributes
    ----------
    name : str
        ``"release"``, ``"parts A and B"`` or ``"parts C and D"``.
    earliest, latest : int or None
        Minutes from the nominal time; None where open.
    source : str
    """

    name: str
    earliest: int | None
    latest: int | None
    source: str


_GENERAL = (
    Due("release", -45, 0, _WINDOW),
    Due("parts A and B", None, 120, _PRACTICE),
    Due("parts C and D", None, 240, _PRACTICE),
)
DUE: dict[int | None, tuple[Due, ...]] = {
    None: _GENERAL,
    4: (Due("release", -60, 29, "FCM-H3-1997, from memory"), *_GENERAL[1:]),
    6: (
        _GENERAL[0],
        Due("parts A and B", None, 75, _PRACTICE),
        Due("parts C and D", None, 120, _PRACTICE),
    ),
}
"""Limits by WMO Region; None for every other region."""


@dataclass(frozen=True, slots=True)
class DueTime:
    """A limit against the times of one flight.

    Attributes
    ----------
    name : str
    earliest, latest : datetime or None
        UTC; None where open.
    ready : datetime or None
        When the flight was there: released, past 100 hPa, ended. None where it never was.
    source : str
    """

    name: str
    earliest: datetime | None
    latest: datetime | None
    ready: datetime | None
    source: str

    @property
    def state(self) -> str:
        """``"in time"``, ``"early"``, ``"late"`` or ``"not reached"``."""
        if self.ready is None:
            return "not reached"
        if self.earliest is not None and self.ready < self.earliest:
            return "early"
        if self.latest is not None and self.ready > self.latest:
            return "late"
        return "in time"

    @property
    def minutes_left(self) -> float | None:
        """Minutes from the flight's own time to the latest one, negative where late."""
        if self.ready is None or self.latest is None:
            return None
        return (self.latest - self.ready).total_seconds() / 60.0

    def as_json(self) -> dict[str, Any]:
        """Return a dictionary for a page or table, times as text in UTC."""
        times = {
            name: value.strftime("%Y-%m-%dT%H:%M:%SZ") if value is not None else None
            for name, value in (
                ("earliest", self.earliest),
                ("latest", self.latest),
                ("ready", self.ready),
            )
        }
        return {"name": self.name, **times, "state": self.state, "source": self.source}


def passed_100_hpa(flight: Flight) -> datetime | None:
    """Return when the balloon passed 100 hPa, None where it did not.

    Parameters
    ----------
    flight : Flight

    Notes
    -----
    Linear in the logarithm of pressure between the two rows around it; by height, where there is
    no pressure, when it passed the altitude that stands for 100 hPa.
    """
    if flight.ascent.by_height:
        return _passed_altitude(flight)
    pressures, times = flight.ascent["air_pressure"], flight.ascent["time"]
    known = np.isfinite(pressures) & np.isfinite(times)
    pressures, times = pressures[known], times[known]
    above = np.flatnonzero(pressures <= UPPER_PART_PRESSURE)
    if not len(above):
        return None
    place = int(above[0])
    seconds = float(times[place])
    if place:
        low, high = float(pressures[place - 1]), float(pressures[place])
        share = np.log(low / UPPER_PART_PRESSURE) / np.log(low / high)
        seconds = float(times[place - 1]) + float(share) * (seconds - float(times[place - 1]))
    return flight.release_time + timedelta(seconds=seconds)


def _passed_altitude(flight: Flight) -> datetime | None:
    heights, times = flight.ascent["geopotential_height"], flight.ascent["time"]
    if heights[-1] < UPPER_PART_ALTITUDE:
        return None
    seconds = float(np.interp(UPPER_PART_ALTITUDE, heights, times))
    return flight.release_time + timedelta(seconds=seconds)


def end_of_ascent(flight: Flight) -> datetime | None:
    """Return when the sounding ended, None where no row has a time."""
    times = flight.ascent["time"]
    times = times[np.isfinite(times)]
    if not len(times):
        return None
    return flight.release_time + timedelta(seconds=float(times.max()))


def is_falling(flight: Flight) -> bool:
    """Tell whether the sonde fell from an aircraft: its time falls from the surface upward."""
    times = flight.ascent["time"]
    times = times[np.isfinite(times)]
    return len(times) > 1 and bool(times[-1] < times[0])


def due_times(flight: Flight, *, region: int | None = None) -> Result[tuple[DueTime, ...]]:
    """Return when the parts of a flight are due, against the flight's own times.

    Parameters
    ----------
    flight : Flight
    region : int, optional
        WMO Region; that of the station by default.

    Returns
    -------
    Result of tuple of DueTime
        Release, parts A and B (ready at 100 hPa, or at the end of an ascent that did not get
        there), parts C and D (ready at the end; not reached below 100 hPa). With
        "released-outside-window".
    """
    region = flight.station.wmo_region if region is None else region
    passed, ended = passed_100_hpa(flight), end_of_ascent(flight)
    if is_falling(flight):  # the lower air comes last
        passed = None if passed is None else ended
    ready = {
        "release": flight.release_time,
        "parts A and B": passed if passed is not None else ended,
        "parts C and D": ended if passed is not None else None,
    }
    times = tuple(
        DueTime(
            limit.name,
            _after(flight.nominal_time, limit.earliest),
            _after(flight.nominal_time, limit.latest),
            ready[limit.name],
            limit.source,
        )
        for limit in DUE.get(region, DUE[None])
    )
    release = times[0]
    if release.state == "in time":
        return Result(times)
    return Result(
        times,
        (
            diagnostic(
                "released-outside-window",
                f"Released at {flight.release_time:%H:%M} UTC; the window is "
                f"{release.earliest:%H:%M} to {release.latest:%H:%M} UTC.",
                path=("release_time",),
                value=f"{flight.release_time:%H:%M}",
                source=release.source,
            ),
        ),
    )


def _after(nominal: datetime, minutes: int | None) -> datetime | None:
    return None if minutes is None else nominal + timedelta(minutes=minutes)
