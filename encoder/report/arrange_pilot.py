"""From a flight to the wind levels of the PILOT forms.

Winds at standard levels come from the level table; winds at fixed altitudes are read off the
ascent, and significant winds join them at the nearest unit of altitude.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from encoder.codes.content import Record, SectionContent
from encoder.codes.encode import with_places
from encoder.levels.altitudes import (
    ABOVE_GROUND,
    LOWEST_PILOT_STANDARD,
    UPPER_PART_ALTITUDE,
    WHOLE_STEP,
    step_of_altitudes,
    surface_at_altitude,
)
from encoder.levels.heights import wind_at_heights
from encoder.levels.stretches import wind_rows
from encoder.levels.table import LevelKind
from encoder.resolution import UPPER_PART_PRESSURE
from encoder.rounding import whole

if TYPE_CHECKING:
    from encoder.codes.declare import Part, Section, Value
    from encoder.levels.table import Levels
    from encoder.profile import Flight, Profile

_WIND = ("wind_from_direction", "wind_speed")
_SHEAR = ("wind_shear_below", "wind_shear_above")

UNITS_REGION_IV = (1, 2, 3, 4, 6, 7, 8, 9, 12, 14, 16, 20, 25, 30, 35, 50, 60, 70, 80, 90, 100, 110)
"""Fixed altitudes of Region IV in thousands of feet.

To 50: reports of stations 72235 and 72694 and United States Navy module 14270; above: from memory.
"""
UNITS_ELSEWHERE = (*range(1, 11), *range(12, 21, 2), *range(25, 101, 5), *range(110, 131, 10))
"""Fixed altitudes elsewhere in units of 300 m (common practice, no source)."""
TENS = 10.0
"""Unit of the altitude of maximum wind in m."""
TOUCHES = 1e-6
"""Altitudes in m this close are the same."""
FEWEST_HEIGHTS = 2
"""Rows with height without which winds can only be given by pressure: the surface is one."""


@dataclass(frozen=True, slots=True)
class WindPractice:
    """How a service gives the winds of a PILOT.

    Attributes
    ----------
    significant_by : {"altitude", "pressure"}
        Significant winds at altitudes with the fixed levels (9tnu1u2u3), or by pressure (21212).
    standard_by : {"pressure", "altitude"}
        Standard levels where their pressure was found (44nP1P1), or at the altitudes that stand
        for them (55nP1P1); the maximum wind goes the same way.
    step : {None, 300, 500}
        Unit of altitudes in m; None for the one of the region.
    """

    significant_by: Literal["altitude", "pressure"] = "altitude"
    standard_by: Literal["pressure", "altitude"] = "pressure"
    step: Literal[300, 500] | None = None


@dataclass(frozen=True, slots=True)
class Source:
    """What the sections of a part are filled from.

    Attributes
    ----------
    flight : Flight
    levels : Levels
    here : ndarray of bool, shape (level,)
        Levels that belong to the part.
    part : Part
    practice : WindPractice
    form : str
        Number of the code form.
    """

    flight: Flight
    levels: Levels
    here: np.ndarray
    part: Part
    practice: WindPractice
    form: str


@dataclass(frozen=True, slots=True)
class _Curve:
    """Wind of the ascent by height, with the height of every pressure."""

    ascent: Profile

    @property
    def reach(self) -> tuple[float, float]:
        """Return the lowest height of the ascent and the highest with a wind, in gpm."""
        height = self.ascent["geopotential_height"]
        known = np.isfinite(height)
        windy = known & wind_rows(self.ascent)
        if not windy.any():
            return np.inf, -np.inf
        return float(height[known][0]), float(height[windy][-1])

    def wind_at(self, height: float) -> dict[str, Value]:
        """Return direction and speed at a height in gpm, None across a gap."""
        direction, speed = wind_at_heights(self.ascent, np.array([height]))
        if np.isnan(speed[0]):
            return dict.fromkeys(_WIND)
        return {_WIND[0]: float(direction[0]), _WIND[1]: float(speed[0])}

    def is_upper(self, height: float) -> bool:
        """Tell whether a height in gpm belongs to parts C and D."""
        if self.ascent.by_height:
            return height > UPPER_PART_ALTITUDE
        heights, pressure = self.ascent["geopotential_height"], self.ascent["air_pressure"]
        placed = np.isfinite(heights) & np.isfinite(pressure)
        known = heights[placed]
        if len(known) == 0 or not known[0] <= height <= known[-1]:
            return False
        log_pressure = np.interp(height, known, np.log(pressure[placed]))
        return float(np.exp(log_pressure)) < UPPER_PART_PRESSURE


def practice_of_flight(flight: Flight) -> WindPractice:
    """Return how a flight gives the winds of a PILOT: by the one of height and pressure it has."""
    own = flight.reporting
    if flight.ascent.by_height:
        return WindPractice("altitude", "altitude", own.pilot_step)
    if np.count_nonzero(np.isfinite(flight.ascent["geopotential_height"])) < FEWEST_HEIGHTS:
        return WindPractice("pressure", "pressure", own.pilot_step)
    return WindPractice(own.pilot_significant_by, own.pilot_standard_by, own.pilot_step)


def standard_winds(source: Source, section: Section) -> SectionContent:
    """Return section 2: winds at the standard levels of the part that lie above the ground."""
    levels, part, flight = source.levels, source.part, source.flight
    by_altitude = source.practice.standard_by == "altitude"
    form = section.form("standard-by-altitude" if by_altitude else "standard")
    curve = _Curve(flight.ascent) if by_altitude else None
    ground = flight.surface.air_pressure
    records = []
    for i in levels.having(LevelKind.STANDARD):
        pressure = float(levels["air_pressure"][i])
        if flight.ascent.by_height:
            pressure = surface_at_altitude(float(levels["geopotential_height"][i])) or np.nan
        if not source.here[i] or pressure not in part.standard.values() or form is None:
            continue
        if pressure > LOWEST_PILOT_STANDARD:
            continue
        values: dict[str, Value] = {"air_pressure": pressure}
        if curve is None or form.block is None:
            values |= {name: _value(levels, name, i) for name in _WIND}
        else:
            (level,) = form.block.spread(
                {"first_pressure": pressure, "levels_in_block": 1}, part.context()
            )
            values["geopotential_height"] = level["geopotential_height"]
            values |= curve.wind_at(float(level["geopotential_height"] or np.nan))
        if flight.ascent.by_height or pressure <= ground:
            records.append(Record(form.kind, values, int(i)))
    while records and records[-1].get(_WIND[1]) is None:
        records.pop()
    return SectionContent(section.number, with_places(records, section, part))


def maximum_winds(source: Source, section: Section) -> SectionContent:
    """Return section 3: maximum winds, the strongest first."""
    levels, shear = source.levels, source.flight.reporting.shear
    by_altitude = source.practice.standard_by == "altitude"
    place = "geopotential_height" if by_altitude else "air_pressure"
    kind = "maximum-wind-by-altitude" if by_altitude else "maximum-wind"
    chosen = [i for i in levels.having(LevelKind.MAXIMUM_WIND) if source.here[i]]
    chosen.sort(key=lambda i: (-levels["wind_speed"][i], i))
    records = []
    for i in chosen:
        names = (place, *_WIND, *(_SHEAR if shear else ()))
        values = {name: _value(levels, name, i) for name in names}
        if by_altitude:
            values |= _wind_said_elsewhere(source, float(levels["geopotential_height"][i]))
        values["top_of_wind_sounding"] = bool(levels.kinds[i] & LevelKind.TOP_OF_WIND_SOUNDING)
        records.append(Record(kind, values, int(i)))
    return SectionContent(section.number, tuple(records), none_reported=not records)


def _wind_said_elsewhere(source: Source, height: float) -> dict[str, Value]:
    """Return the wind at the coded altitude where another section gives one there, else nothing.

    One altitude in the report then has one wind, wherever it stands.
    """
    coded = whole(height / TENS) * TENS
    step = step_of_altitudes(source.flight.station.wmo_region, source.practice.step)
    units = coded / step
    if surface_at_altitude(coded) is None and abs(units - whole(units)) * step > TOUCHES:
        return {}
    winds = _Curve(source.flight.ascent).wind_at(coded)
    return {} if winds[_WIND[1]] is None else winds


def fixed_altitudes(source: Source, section: Section) -> SectionContent | None:
    """Return section 4: winds at the surface, at fixed altitudes and at significant levels."""
    levels, part, flight, practice = source.levels, source.part, source.flight, source.practice
    if practice.significant_by != "altitude":
        return None
    region_iv = flight.station.wmo_region == 4
    code_step = practice.step or int(WHOLE_STEP)
    step = step_of_altitudes(flight.station.wmo_region, practice.step)
    curve = _Curve(flight.ascent)
    lowest, highest = curve.reach
    if highest == -np.inf:
        return None
    wanted: dict[int, int | None] = dict.fromkeys(UNITS_REGION_IV if region_iv else UNITS_ELSEWHERE)
    for i in levels.having(LevelKind.SIGNIFICANT_WIND):
        height = float(levels["geopotential_height"][i])
        if np.isfinite(height) and whole(height / step) > 0:
            wanted[whole(height / step)] = int(i)
    records = []
    if not part.tenths:
        surface: dict[str, Value] = {"altitude_units": 0 if region_iv else None}
        surface |= {"altitude_step": code_step}
        for i in levels.having(LevelKind.SURFACE)[:1]:
            surface |= {name: _value(levels, name, i) for name in _WIND}
            records.append(Record("fixed-altitude", surface, int(i)))
    for units, index in sorted(wanted.items()):
        height = units * step
        if (
            height <= lowest + ABOVE_GROUND
            or height > highest
            or curve.is_upper(height) != part.tenths
        ):
            continue
        values: dict[str, Value] = {"altitude_units": units, "altitude_step": code_step}
        values |= curve.wind_at(height)
        records.append(Record("fixed-altitude", values, index))
    return SectionContent(section.number, with_places(records, section, part)) if records else None


def _value(levels: Levels, name: str, index: int) -> Value:
    value = float(levels[name][index])
    return value if np.isfinite(value) else None
