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
from encoder.codes.groups_wind_levels import THOUSAND_FEET, WHOLE_STEP
from encoder.levels.table import LevelKind
from encoder.physics import wind_components, wind_from_components
from encoder.resolution import UPPER_PART_PRESSURE
from encoder.rounding import whole

if TYPE_CHECKING:
    from encoder.codes.declare import Part, Section, Value
    from encoder.levels.table import Levels
    from encoder.profile import Flight, FloatArray

_WIND = ("wind_from_direction", "wind_speed")
_SHEAR = ("wind_shear_below", "wind_shear_above")

UNITS_REGION_IV = (1, 2, 3, 4, 6, 7, 8, 9, 12, 14, 16, 20, 25, 30, 35, 50, 60, 70, 80, 90, 100, 110)
"""Fixed altitudes of Region IV in thousands of feet.

To 50: reports of stations 72235 and 72694 and United States Navy module 14270; above: from memory.
"""
UNITS_ELSEWHERE = (*range(1, 11), *range(12, 21, 2), *range(25, 101, 5), *range(110, 131, 10))
"""Fixed altitudes elsewhere in units of 300 m (common practice, no source)."""
LONGEST_GAP = 1500.0
"""Layer without wind, in gpm, across which none is interpolated (WMO-No. 306 Vol. I.2, B/C20 7.5).
"""


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
    """

    flight: Flight
    levels: Levels
    here: np.ndarray
    part: Part
    practice: WindPractice


@dataclass(frozen=True, slots=True)
class _Curve:
    """Wind of the ascent by height, with the height of every pressure."""

    height: FloatArray
    log_pressure: FloatArray
    known: FloatArray
    eastward: FloatArray
    northward: FloatArray

    def wind_at(self, height: float) -> dict[str, Value]:
        """Return direction and speed at a height in gpm, None across a gap."""
        missing: dict[str, Value] = dict.fromkeys(_WIND)
        if len(self.known) == 0 or not self.known[0] <= height <= self.known[-1]:
            return missing
        above = int(np.searchsorted(self.known, height))
        if above and self.known[above] - self.known[above - 1] >= LONGEST_GAP:
            return missing
        u = np.interp(height, self.known, self.eastward)
        v = np.interp(height, self.known, self.northward)
        direction, speed = wind_from_components(u, v)
        return {_WIND[0]: float(direction), _WIND[1]: float(speed)}

    def pressure_at(self, height: float) -> float:
        """Return the pressure at a height in gpm, NaN outside the ascent."""
        inside = self.height[0] <= height <= self.height[-1]
        return (
            float(np.exp(np.interp(height, self.height, self.log_pressure))) if inside else np.nan
        )


def _curve(flight: Flight) -> _Curve:
    ascent = flight.ascent
    height, pressure = ascent["geopotential_height"], ascent["air_pressure"]
    placed = np.isfinite(height) & np.isfinite(pressure)
    u, v = wind_components(ascent[_WIND[0]], ascent[_WIND[1]])
    blown = placed & np.isfinite(u) & np.isfinite(v)
    return _Curve(height[placed], np.log(pressure[placed]), height[blown], u[blown], v[blown])


def standard_winds(source: Source, section: Section) -> SectionContent:
    """Return section 2: winds at the standard levels of the part that lie above the ground."""
    levels, part, flight = source.levels, source.part, source.flight
    by_altitude = source.practice.standard_by == "altitude"
    form = section.form("standard-by-altitude" if by_altitude else "standard")
    curve = _curve(flight) if by_altitude else None
    records = []
    for i in levels.having(LevelKind.STANDARD):
        pressure = float(levels["air_pressure"][i])
        if not source.here[i] or pressure not in part.standard.values() or form is None:
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
        records.append(Record(form.kind, values, int(i)))
    ground = flight.surface.air_pressure
    above_ground = [
        record for record in records if float(record.values["air_pressure"] or 0.0) <= ground
    ]
    while above_ground and above_ground[-1].get(_WIND[1]) is None:
        above_ground.pop()
    return SectionContent(section.number, with_places(above_ground, section, part))


def maximum_winds(source: Source, section: Section) -> SectionContent:
    """Return section 3: maximum winds, the strongest first."""
    levels, shear = source.levels, source.flight.reporting.shear
    by_altitude = source.practice.standard_by == "altitude"
    place = "geopotential_height" if by_altitude else "air_pressure"
    kind = "maximum-wind-by-altitude" if by_altitude else "maximum-wind"
    chosen = [i for i in levels.having(LevelKind.MAXIMUM_WIND) if source.here[i]]
    chosen.sort(key=lambda i: (-levels["wind_speed"][i], -levels["air_pressure"][i]))
    records = []
    for i in chosen:
        names = (place, *_WIND, *(_SHEAR if shear else ()))
        values = {name: _value(levels, name, i) for name in names}
        values["top_of_wind_sounding"] = bool(levels.kinds[i] & LevelKind.TOP_OF_WIND_SOUNDING)
        records.append(Record(kind, values, int(i)))
    return SectionContent(section.number, tuple(records), none_reported=not records)


def fixed_altitudes(source: Source, section: Section) -> SectionContent | None:
    """Return section 4: winds at the surface, at fixed altitudes and at significant levels."""
    levels, part, flight, practice = source.levels, source.part, source.flight, source.practice
    if practice.significant_by != "altitude":
        return None
    region_iv = flight.station.wmo_region == 4
    code_step = practice.step or int(WHOLE_STEP)
    step = THOUSAND_FEET if region_iv and practice.step is None else float(code_step)
    curve = _curve(flight)
    if len(curve.known) == 0:
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
        if height <= curve.height[0] or height > curve.known[-1]:
            continue
        upper = curve.pressure_at(height) < UPPER_PART_PRESSURE
        if upper != part.tenths:
            continue
        values: dict[str, Value] = {"altitude_units": units, "altitude_step": code_step}
        values |= curve.wind_at(height)
        records.append(Record("fixed-altitude", values, index))
    return SectionContent(section.number, with_places(records, section, part)) if records else None


def _value(levels: Levels, name: str, index: int) -> Value:
    value = float(levels[name][index])
    return value if np.isfinite(value) else None
