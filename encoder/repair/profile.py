"""A sounding as one profile: the heights, temperatures and winds of all its parts.

What they say against each other is told by :mod:`encoder.repair.contradictions`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, NamedTuple

from encoder.codes.elements import number
from encoder.codes.heights import virtual_temperatures

if TYPE_CHECKING:
    from collections.abc import Sequence

    from encoder.codes.content import PartContent, Record

Key = tuple[int, str, int, str]
"""Number of the part, section, record, and what of it: ``height``, ``heat`` or ``wind``."""


class Point(NamedTuple):
    """A temperature at a pressure.

    Attributes
    ----------
    pressure : float
        In hPa.
    temperature, virtual : float
        In degC.
    key : tuple
    depression : float or None
        In K.
    """

    pressure: float
    temperature: float
    virtual: float
    key: Key
    depression: float | None = None


class Wind(NamedTuple):
    """A wind at a pressure, by its components in m s-1."""

    pressure: float
    east: float
    north: float
    key: Key


@dataclass(slots=True)
class SoundingProfile:
    """The values of a sounding that the checks need.

    Attributes
    ----------
    heights : dict of float to (float, tuple)
        Height in gpm and its group, by the pressure of the standard level in hPa.
    standard : list of Point
        Temperatures of the standard levels.
    significant : list of Point
        Temperatures of the significant levels, and of the surface.
    other : list of Point
        Temperatures of the tropopauses.
    standard_winds, significant_winds, other_winds : list of Wind
        The last are those of tropopauses and maximum winds.
    gaps : list of (float, float)
        Layers without temperatures, lower and upper pressure in hPa.
    """

    heights: dict[float, tuple[float, Key]] = field(default_factory=dict)
    standard: list[Point] = field(default_factory=list)
    significant: list[Point] = field(default_factory=list)
    standard_winds: list[Wind] = field(default_factory=list)
    significant_winds: list[Wind] = field(default_factory=list)
    other: list[Point] = field(default_factory=list)
    other_winds: list[Wind] = field(default_factory=list)
    gaps: list[tuple[float, float]] = field(default_factory=list)


_OTHER = ("3", "4")
"""Sections of tropopauses and of maximum winds."""


def profile_of(contents: Sequence[PartContent]) -> SoundingProfile:
    """Return the profile of the parts of one sounding."""
    profile = SoundingProfile()
    for place, content in enumerate(contents):
        for section in content.sections:
            if section.number == "2":
                _standard(profile, place, section.records)
            elif section.number == "5":
                _significant(profile, place, section.records)
            elif section.number == "6":
                profile.significant_winds.extend(_winds(place, "6", section.records))
            elif section.number in _OTHER:
                levels = [
                    (at, record)
                    for at, record in enumerate(section.records)
                    if record.kind in ("tropopause", "maximum-wind")
                ]
                profile.other.extend(_points(place, section.number, levels))
                profile.other_winds.extend(_winds(place, section.number, section.records))
    profile.standard.sort(key=_downward)
    profile.significant.sort(key=_downward)
    profile.significant_winds.sort(key=_downward)
    return profile


def _downward(item: Point | Wind) -> float:
    return -item.pressure


def _standard(profile: SoundingProfile, place: int, records: Sequence[Record]) -> None:
    for at, record in enumerate(records):
        pressure, height = (
            number(record.get("air_pressure")),
            number(record.get("geopotential_height")),
        )
        if record.kind == "standard" and pressure is not None and height is not None:
            profile.heights.setdefault(pressure, (height, (place, "2", at, "height")))
    levels = [(at, record) for at, record in enumerate(records) if record.kind == "standard"]
    profile.standard.extend(_points(place, "2", levels))
    profile.standard_winds.extend(
        wind for wind in _winds(place, "2", records) if records[wind.key[2]].kind == "standard"
    )


def _significant(profile: SoundingProfile, place: int, records: Sequence[Record]) -> None:
    profile.significant.extend(_points(place, "5", list(enumerate(records))))
    for at, record in enumerate(records):
        if at and record.get("air_pressure") is None and at + 1 < len(records):
            lower = number(records[at - 1].get("air_pressure"))
            upper = number(records[at + 1].get("air_pressure"))
            profile.gaps.append((lower or math.inf, upper or 0.0))


def _points(place: int, section: str, records: Sequence[tuple[int, Record]]) -> list[Point]:
    found: list[Point] = []
    virtual = virtual_temperatures([record for _at, record in records])
    for (at, record), warm in zip(records, virtual, strict=True):
        pressure, heat = number(record.get("air_pressure")), number(record.get("air_temperature"))
        if pressure and heat is not None and warm is not None:
            dry = number(record.get("dew_point_depression"))
            found.append(Point(pressure, heat, warm, (place, section, at, "heat"), dry))
    return found


def _winds(place: int, section: str, records: Sequence[Record]) -> list[Wind]:
    found: list[Wind] = []
    for at, record in enumerate(records):
        pressure = number(record.get("air_pressure"))
        direction = number(record.get("wind_from_direction"))
        speed = number(record.get("wind_speed"))
        if pressure and direction is not None and speed is not None:
            angle = math.radians(direction)
            found.append(
                Wind(
                    pressure,
                    speed * math.sin(angle),
                    speed * math.cos(angle),
                    (place, section, at, "wind"),
                )
            )
    return found


# --- changed values -----------------------------------------------------------------------------


def with_height(profile: SoundingProfile, key: Key, height: float) -> SoundingProfile:
    """Return the profile with another height in one group."""
    heights = {
        pressure: (height, key) if own == key else (value, own)
        for pressure, (value, own) in profile.heights.items()
    }
    return replace(profile, heights=heights)


def with_temperature(profile: SoundingProfile, key: Key, temperature: float) -> SoundingProfile:
    """Return the profile with another temperature in one group; its moisture stays."""

    def changed(points: Sequence[Point]) -> list[Point]:
        return [
            Point(
                point.pressure,
                temperature,
                temperature + point.virtual - point.temperature,
                key,
                point.depression,
            )
            if point.key == key
            else point
            for point in points
        ]

    return replace(
        profile,
        standard=changed(profile.standard),
        significant=changed(profile.significant),
    )


def with_pressure(profile: SoundingProfile, key: Key, pressure: float) -> SoundingProfile | None:
    """Return the profile with another pressure of a significant level, None if out of order."""
    points = profile.significant
    at = next((at for at, point in enumerate(points) if point.key == key), None)
    if at is None or not 0 < at < len(points) - 1:
        return None
    if not points[at - 1].pressure > pressure > points[at + 1].pressure:
        return None
    changed = points[at]._replace(pressure=pressure)
    return replace(profile, significant=[*points[:at], changed, *points[at + 1 :]])


def with_wind(
    profile: SoundingProfile, key: Key, direction: float, speed: float
) -> SoundingProfile:
    """Return the profile with another wind in one group."""
    angle = math.radians(direction)
    east, north = speed * math.sin(angle), speed * math.cos(angle)

    def changed(winds: Sequence[Wind]) -> list[Wind]:
        return [
            Wind(wind.pressure, east, north, key) if wind.key == key else wind for wind in winds
        ]

    return replace(
        profile,
        standard_winds=changed(profile.standard_winds),
        significant_winds=changed(profile.significant_winds),
    )
