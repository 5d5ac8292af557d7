"""The levels of a message from the rows of a flight and its level table."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from encoder.levels.altitudes import LOWEST_PILOT_STANDARD, UPPER_PART_ALTITUDE
from encoder.levels.table import LevelKind, Levels
from encoder.physics import wind_components
from encoder.rounding import round_half_away

if TYPE_CHECKING:
    from collections.abc import Mapping

    from encoder.formats.bufr.templates import Template
    from encoder.profile import FloatArray, IntArray, Profile

Rows = Literal["all", "selected"]
ZERO_CELSIUS = 273.15
EARTH_RADIUS = 6371000.0
"""m; mean radius, for displacements integrated from the wind (common practice, no source)."""
_COLUMNS = (
    "time",
    "air_pressure",
    "geopotential_height",
    "air_temperature",
    "dew_point_temperature",
    "wind_from_direction",
    "wind_speed",
    "latitude",
    "longitude",
    "wind_shear_below",
    "wind_shear_above",
)
_SURFACE = (
    LevelKind.SURFACE
    | LevelKind.SIGNIFICANT_TEMPERATURE
    | LevelKind.SIGNIFICANT_HUMIDITY
    | LevelKind.SIGNIFICANT_WIND
)
_WIND_KINDS = (
    LevelKind.SURFACE
    | LevelKind.STANDARD
    | LevelKind.MAXIMUM_WIND
    | LevelKind.SIGNIFICANT_WIND
    | LevelKind.BEGIN_MISSING_WIND
    | LevelKind.END_MISSING_WIND
    | LevelKind.TOP_OF_WIND_SOUNDING
    | LevelKind.REGIONAL
    | LevelKind.PRESSURE_FROM_HEIGHT
)


@dataclass(frozen=True, slots=True, eq=False)
class LevelRows:
    """Levels to be coded, in the units of the package.

    Attributes
    ----------
    columns : mapping of str to ndarray, each of shape (level,)
    kinds : ndarray of int, shape (level,)
    """

    columns: Mapping[str, FloatArray]
    kinds: IntArray

    def __len__(self) -> int:
        return len(self.kinds)

    def __getitem__(self, name: str) -> FloatArray:
        return self.columns[name]

    def select(self, rows: np.ndarray) -> LevelRows:
        """Return the picked levels."""
        return LevelRows(
            {name: values[rows] for name, values in self.columns.items()}, self.kinds[rows]
        )


def level_rows(
    ascent: Profile, levels: Levels, rows: Rows, start: tuple[float, float]
) -> LevelRows:
    """Return every level once, in descending pressure or ascending height, with all its kinds.

    Parameters
    ----------
    ascent : Profile
    levels : Levels
        From :func:`encoder.levels.select_levels` on the same ascent.
    rows : {"all", "selected"}
        All rows of the ascent, and the levels between them; or the levels alone.
    start : tuple of float
        Latitude and longitude of the release, degrees.

    Returns
    -------
    LevelRows
        Standard levels below the ground come first, with time 0 at the release (WMO-No. 306
        Volume I.2, B/C25.8.2.2).
    """
    table = _rows_of_levels(levels, start)
    if rows == "all":
        table = _merged(ascent, levels, table)
    upward = table["geopotential_height"] if ascent.by_height else -table["air_pressure"]
    table = table.select(np.argsort(upward, kind="stable"))
    return LevelRows(table.columns, completed_kinds(table.kinds))


def _rows_of_levels(levels: Levels, start: tuple[float, float]) -> LevelRows:
    columns = {name: levels[name].copy() for name in _COLUMNS}
    surface = levels.having(LevelKind.SURFACE)
    if len(surface):
        below = levels["air_pressure"] > levels["air_pressure"][surface[0]]
        columns["time"][below] = 0.0
        columns["latitude"][below], columns["longitude"][below] = start
    return LevelRows(columns, levels.kinds.copy())


def _merged(ascent: Profile, levels: Levels, table: LevelRows) -> LevelRows:
    """Return the rows of the ascent with the kinds of levels at rows, and the other levels."""
    count = len(ascent)
    columns = {
        name: np.array(ascent[name]) if name in ascent else np.full(count, np.nan)
        for name in _COLUMNS
    }
    kinds = np.zeros(count, np.int64)
    between = []
    place = "geopotential_height" if ascent.by_height else "air_pressure"
    for index, rows in enumerate(levels.rows):
        if len(rows) == 1 and ascent[place][rows[0]] == levels[place][index]:
            kinds[rows[0]] |= levels.kinds[index]
            for name in ("wind_shear_below", "wind_shear_above"):
                columns[name][rows[0]] = levels[name][index]
        else:
            between.append(index)
    others = table.select(np.array(between, dtype=np.intp))
    return LevelRows(
        {name: np.concatenate([columns[name], others[name]]) for name in _COLUMNS},
        np.concatenate([kinds, others.kinds]),
    )


def completed_kinds(kinds: IntArray) -> IntArray:
    """Return kinds as the regulations combine them.

    The surface is also significant for temperature, humidity and wind, a maximum wind level is
    also significant for wind (WMO-No. 306 Volume I.2, B/C25.8.1 and B/C25.8.4.1).
    """
    full = np.where(kinds & int(LevelKind.SURFACE), kinds | int(_SURFACE), kinds)
    maximum = int(LevelKind.MAXIMUM_WIND)
    return np.where(full & maximum, full | int(LevelKind.SIGNIFICANT_WIND), full)


def down_to_pressure(rows: LevelRows, pressure: float) -> LevelRows:
    """Return the levels from the ground up to a pressure in hPa, or the altitude for 100 hPa."""
    by_height = np.isnan(rows["air_pressure"]) & (
        rows["geopotential_height"] <= UPPER_PART_ALTITUDE
    )
    return rows.select(np.flatnonzero((rows["air_pressure"] >= pressure) | by_height))


def wind_kinds(kinds: IntArray, pressure: FloatArray) -> IntArray:
    """Return kinds as a report of upper wind has them: standard levels from 850 hPa upward.

    Parameters
    ----------
    kinds : ndarray of int, shape (level,)
    pressure : ndarray, shape (level,)
        hPa.
    """
    wind = kinds & int(_WIND_KINDS)
    low = pressure > LOWEST_PILOT_STANDARD
    return np.where(low, wind & ~int(LevelKind.STANDARD), wind)


def wind_rows(rows: LevelRows, template: Template) -> LevelRows:
    """Return the levels of a report of upper wind.

    Parameters
    ----------
    rows : LevelRows
    template : Template

    Returns
    -------
    LevelRows
        Levels with wind, or with a wind kind; ascending height where that is the coordinate.
    """
    keep = np.isfinite(rows["wind_speed"])
    picked = LevelRows(rows.columns, wind_kinds(rows.kinds, rows["air_pressure"]))
    if template.vertical == "height":
        keep &= np.isfinite(rows["geopotential_height"])
        order = np.flatnonzero(keep)
        heights = rows["geopotential_height"][order]
        return picked.select(order[np.argsort(heights, kind="stable")])
    return picked.select(np.flatnonzero(keep))


def with_positions(rows: LevelRows, ascent: Profile, start: tuple[float, float]) -> LevelRows:
    """Return the levels with positions integrated from the wind of the ascent.

    Parameters
    ----------
    rows : LevelRows
    ascent : Profile
    start : tuple of float
        Latitude and longitude of the release, degrees.

    Returns
    -------
    LevelRows
        Positions by time; missing above the last wind.
    """
    ascent = ascent.select(np.argsort(ascent["time"], kind="stable"))
    time, speed = ascent["time"], ascent["wind_speed"]
    eastward, northward = wind_components(ascent["wind_from_direction"], speed)
    known = np.isfinite(eastward) & np.isfinite(northward) & np.isfinite(time)
    if np.count_nonzero(known) < 2:
        return rows
    seconds = time[known]
    north = _integrated(seconds, northward[known])
    latitude = start[0] + np.degrees(north / EARTH_RADIUS)
    narrow = np.cos(np.radians(np.clip(latitude, -89.9, 89.9)))
    east = _integrated(seconds, eastward[known] / narrow)
    longitude = start[1] + np.degrees(east / EARTH_RADIUS)
    columns = dict(rows.columns)
    for name, values in (("latitude", latitude), ("longitude", longitude)):
        at = np.interp(rows["time"], seconds, values, left=values[0], right=np.nan)
        columns[name] = np.where(np.isnan(rows["time"]), np.nan, at)
    return LevelRows(columns, rows.kinds)


def _integrated(time: FloatArray, values: FloatArray) -> FloatArray:
    steps = 0.5 * (values[1:] + values[:-1]) * np.diff(time)
    total: FloatArray = np.concatenate([[0.0], np.cumsum(steps)])
    return total


def level_columns(rows: LevelRows, start: tuple[float, float]) -> dict[str, FloatArray]:
    """Return the levels by element name, in the units of BUFR Table B.

    Parameters
    ----------
    rows : LevelRows
    start : tuple of float
        Latitude and longitude the displacements count from, degrees.

    Returns
    -------
    dict of str to ndarray
        Directions as the code wants them: 1 to 360, 0 for calm.
    """
    direction, speed = coded_wind(rows["wind_from_direction"], rows["wind_speed"])
    return {
        "time": rows["time"],
        "significance": rows.kinds.astype(np.float64),
        "pressure": rows["air_pressure"] * 100.0,
        "height": rows["geopotential_height"],
        "height_coordinate": rows["geopotential_height"],
        "latitude_displacement": rows["latitude"] - start[0],
        "longitude_displacement": _wrapped(rows["longitude"] - start[1]),
        "temperature": rows["air_temperature"] + ZERO_CELSIUS,
        "dew_point": rows["dew_point_temperature"] + ZERO_CELSIUS,
        "wind_direction": direction,
        "wind_speed": speed,
    }


def shear_columns(rows: LevelRows, start: tuple[float, float]) -> dict[str, FloatArray]:
    """Return the levels with wind shear by element name, in the units of BUFR Table B."""
    known = np.isfinite(rows["wind_shear_below"]) | np.isfinite(rows["wind_shear_above"])
    picked = rows.select(np.flatnonzero(known))
    columns = level_columns(picked, start)
    columns["significance"] = (picked.kinds & int(_WIND_KINDS)).astype(np.float64)
    columns["shear_below"] = picked["wind_shear_below"]
    columns["shear_above"] = picked["wind_shear_above"]
    return columns


def _wrapped(degrees: FloatArray) -> FloatArray:
    """Return differences of longitude the short way round, -180 to 180."""
    return np.asarray(np.mod(degrees + 180.0, 360.0) - 180.0, np.float64)


def coded_wind(direction: FloatArray, speed: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the wind as BUFR wants it: 360 for north, 0 only with a speed of 0.

    Parameters
    ----------
    direction, speed : ndarray
        Degrees and m s-1.
    """
    rounded = np.mod(round_half_away(np.mod(direction, 360.0)), 360.0)
    rounded = np.where(rounded == 0.0, 360.0, rounded)
    calm = round_half_away(speed, 0.1) == 0.0
    return np.where(calm & np.isfinite(direction), 0.0, rounded), speed
