"""The soundings of a month for ``aerogram climat``, from text, JSON, BUFR and flights."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import click
import numpy as np

from encoder.cli.output import NotUsable
from encoder.diagnostics import Diagnostic, diagnostic

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date, datetime

    from encoder.climat import MonthlySounding
    from encoder.levels.table import Levels
    from encoder.stations import StationCatalogue

_SHIP_FORM = "FM 36"
MOST_DRIFT = 1.0
"""Degrees within which the soundings of an ocean weather station lie (common practice)."""


@dataclass(frozen=True, slots=True)
class Given:
    """One sounding of the month, and who made it where.

    Attributes
    ----------
    station : str
        WMO index, or call sign.
    ship : bool
    sounding : MonthlySounding
    position : tuple of float
        Latitude, longitude in degrees and height in m, NaN where not known.
    """

    station: str
    ship: bool
    sounding: MonthlySounding
    position: tuple[float, float, float]


@dataclass(slots=True)
class Gathered:
    """What was found for a month.

    Attributes
    ----------
    month : date
        First day.
    soundings : list of Given
    found : list of Diagnostic
    """

    month: date
    soundings: list[Given] = field(default_factory=list)
    found: list[Diagnostic] = field(default_factory=list)
    others: dict[str, int] = field(default_factory=dict)
    undated: int = 0

    def add(
        self,
        who: tuple[str, bool],
        when: tuple[datetime | None, int | None, int | None],
        levels: Levels,
        position: tuple[float, float, float],
    ) -> None:
        """Take a sounding if it is of the month, or may be.

        Parameters
        ----------
        who : tuple of (str, bool)
            Station or call sign, and whether it is a ship.
        when : tuple
            Nominal time where known in full, else day and hour.
        levels : Levels
        position : tuple of float
        """
        from calendar import monthrange

        from encoder.climat import MonthlySounding

        time, day, hour = when
        if time is not None:
            if (time.year, time.month) != (self.month.year, self.month.month):
                name = f"{time:%Y-%m}"
                self.others[name] = self.others.get(name, 0) + 1
                return
            day, hour = time.day, time.hour
        elif day is None or hour is None:
            self.others["no readable day and hour"] = (
                self.others.get("no readable day and hour", 0) + 1
            )
            return
        elif not 1 <= day <= monthrange(self.month.year, self.month.month)[1]:
            name = f"day {day:02d}, which the month does not have"
            self.others[name] = self.others.get(name, 0) + 1
            return
        else:
            self.undated += 1
        self.soundings.append(Given(*who, MonthlySounding(day, hour, levels), position))

    def finish(self) -> None:
        """Tell what was left out, and what was taken to be of the month."""
        for name, count in sorted(self.others.items()):
            self.found.append(
                diagnostic(
                    "month-of-another",
                    f"{count} sounding(s) of {name} were left out of {self.month:%Y-%m}.",
                    value=name,
                    expected=f"{self.month:%Y-%m}",
                )
            )
        if self.undated:
            self.found.append(
                diagnostic(
                    "month-not-given",
                    f"{self.undated} report(s) name no month; they are taken to be of "
                    f"{self.month:%Y-%m}.",
                )
            )


def gather(files: Sequence[str], month: date, catalogue: StationCatalogue, least: str) -> Gathered:
    """Read the soundings of a month.

    Parameters
    ----------
    files : sequence of str
        Reports as text, JSON or BUFR ("-" is standard input), and flights.
    month : date
    catalogue : StationCatalogue
        Gives the position of land stations whose reports have none.
    least : str
        Least severity shown.
    """
    from encoder.cli.load import looks_like_flight

    gathered = Gathered(month)
    flights = [name for name in files if looks_like_flight(name)]
    _add_reports(tuple(name for name in files if name not in flights), catalogue, gathered)
    for name in flights:
        _add_flight(name, gathered, least)
    gathered.finish()
    return gathered


def _add_reports(names: tuple[str, ...], catalogue: StationCatalogue, gathered: Gathered) -> None:
    from encoder.cli.bufr_stream import BufrInputs
    from encoder.cli.load import reports_in
    from encoder.formats.bufr.sounding import BufrSounding
    from encoder.located import locate

    inputs = BufrInputs(names)
    for content in inputs.contents(gathered.found.extend):
        if isinstance(content, BufrSounding) and not content.nil:
            ship = content.wmo_index is None and content.call_sign is not None
            spot = (content.latitude, content.longitude, content.barometer_height)
            time = (content.nominal_time, None, None)
            gathered.add((content.station, ship), time, content.levels, spot)
    if not inputs.others and inputs.text is None:
        return
    origins: dict[int, str | date] = {}
    reports, told = reports_in(inputs.others, inputs.text, on=gathered.month, origins=origins)
    gathered.found.extend(told)
    located, faults = locate(
        reports, catalogue=catalogue, names=[origins.get(id(report)) for report in reports]
    )
    gathered.found.extend(item for item in faults if item.code != "date-unknown")
    for report, place in zip(reports, located, strict=True):
        said = report.parts[0].content.identification
        day, hour = said.get("day"), said.get("hour")
        known = (
            place.nominal_time,
            day if isinstance(day, int) else None,
            hour if isinstance(hour, int) else None,
        )
        if place.station is not None and "day" in said:
            position = (place.latitude, place.longitude, place.elevation)
            given = tuple(np.nan if value is None else value for value in position)
            who = (place.station, report.form == _SHIP_FORM)
            gathered.add(who, known, report.levels, (given[0], given[1], given[2]))


def _add_flight(name: str, gathered: Gathered, least: str) -> None:
    from encoder.cli.load import load_flight, select

    flight = load_flight(name, least=least)
    table, chosen = select(flight, "largest-deviation")
    gathered.found.extend(chosen)
    station, document = flight.station, flight.document.get("station", {})
    ship = document.get("platform") == "ship"
    sign = document.get("call_sign")
    who = (str(sign) if ship and sign else station.wmo_index or "", ship)
    place = (station.latitude, station.longitude, station.elevation)
    gathered.add(who, (flight.nominal_time, None, None), table, place)


def place_of(
    soundings: Sequence[Given], given: tuple[float, float] | None
) -> tuple[float, float, float]:
    """Return where a month of soundings was made: as given, else the mean of their positions.

    Raises
    ------
    NotUsable
        If it is not known, or the soundings lie apart.
    """
    places = np.array([one.position for one in soundings], dtype=np.float64)
    known = places[np.all(np.isfinite(places[:, :2]), axis=1)]
    heights = places[np.isfinite(places[:, 2]), 2]
    height = float(np.mean(heights)) if len(heights) else np.nan
    if given is not None:
        return given[0], given[1], height
    if len(known) == 0:
        msg = "The position is not known; add the station (aerogram stations add) or --position."
        raise NotUsable(msg)
    if float(np.max(np.ptp(known[:, :2], axis=0))) > MOST_DRIFT:
        msg = "The soundings lie more than a degree apart; give --position LATITUDE,LONGITUDE."
        raise NotUsable(msg)
    latitude, longitude = (float(value) for value in np.mean(known[:, :2], axis=0))
    return latitude, longitude, height


def of_station(
    soundings: Sequence[Given], station: str | None, hours: Sequence[int]
) -> list[Given]:
    """Return the soundings of one station at the hours wanted.

    Raises
    ------
    UsageError
        If there are several stations and none is chosen.
    """
    stations = sorted({one.station for one in soundings})
    if station is None and len(stations) > 1:
        msg = f"There are soundings of {', '.join(stations)}; choose with --station."
        raise click.UsageError(msg)
    wanted = station or next(iter(stations), None)
    return [
        one
        for one in soundings
        if one.station == wanted and (not hours or one.sounding.hour in hours)
    ]
