"""Levels made from the rows of an ascent: rows themselves, and points between two rows."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from encoder.columns import LEVEL_COLUMNS
from encoder.levels.stretches import missing_stretches, wind_rows
from encoder.levels.table import Levels, Reason
from encoder.physics import (
    ZERO_CELSIUS,
    dew_point,
    interpolate_log_pressure,
    wind_components,
    wind_from_components,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from encoder.levels.rules import Rules
    from encoder.profile import FloatArray, Profile

_PLAIN_COLUMNS = ("time", "latitude")


def levels_at_rows(
    ascent: Profile,
    rows: Sequence[int],
    kinds: Sequence[int],
    reasons: Sequence[Sequence[Reason]],
) -> Levels:
    """Return rows of an ascent as levels.

    Parameters
    ----------
    ascent : Profile
        Prepared rows, pressure strictly decreasing.
    rows : sequence of int
        Indexes of the rows, rising, each once.
    kinds : sequence of int
        Bits of :class:`encoder.levels.table.LevelKind`, one number a row.
    reasons : sequence of sequence of Reason
        Why each row was chosen.

    Returns
    -------
    Levels
        Every quantity of the row. The dew-point depression of supersaturated air is 0.
    """
    picked = np.asarray(rows, dtype=np.intp)
    columns = {name: ascent[name][picked] for name in LEVEL_COLUMNS if name in ascent}
    columns["dew_point_depression"] = _depression(columns)
    return Levels(
        columns,
        np.asarray(kinds, dtype=np.int64),
        tuple(tuple(item) for item in reasons),
        tuple((int(row),) for row in picked),
    )


def _depression(columns: dict[str, FloatArray]) -> FloatArray:
    difference = columns["air_temperature"] - columns["dew_point_temperature"]
    return np.maximum(difference, 0.0)


def rows_around(ascent: Profile, pressure: float) -> tuple[int, ...]:
    """Return the row at a pressure, or the two rows around it, or none outside the ascent."""
    rows = ascent["air_pressure"]
    if len(rows) == 0 or not rows[-1] <= pressure <= rows[0]:
        return ()
    upper = int(np.searchsorted(-rows, -pressure))
    return (upper,) if rows[upper] == pressure else (upper - 1, upper)


def across_thin_gaps(
    pressure: FloatArray, rows: FloatArray, values: FloatArray, limit: float
) -> FloatArray:
    """Return values between rows, linear in ln p, bridging gaps thinner than a limit.

    Parameters
    ----------
    pressure : ndarray, shape (wanted,)
        Pressures wanted, in hPa.
    rows : ndarray, shape (row,)
        Pressures of the rows in hPa, strictly decreasing.
    values : ndarray, shape (row,)
        Values of the rows, NaN for missing.
    limit : float
        Thickness, in hPa, from which a layer of missing values has to be shown as missing.

    Returns
    -------
    ndarray, shape (wanted,)
        NaN outside the rows that have a value, and strictly inside a layer without values at
        least as thick as the limit.

    References
    ----------
    WMO-No. 306, 35.3.1.6 and 35.3.2.2: only layers from the limit on are reported as missing, so
    a thinner one is read as a straight line.
    """
    valid = np.isfinite(values)
    result = np.atleast_1d(interpolate_log_pressure(pressure, rows[valid], values[valid]))
    for begin, end in missing_stretches(rows, valid, limit):
        if begin >= 0 and end < len(rows):
            result[(pressure < rows[begin]) & (pressure > rows[end])] = np.nan
    return result


def levels_at_pressures(
    ascent: Profile, pressure: FloatArray, *, rules: Rules, formula: str
) -> dict[str, FloatArray]:
    """Return every quantity at pressures between the rows of an ascent.

    Parameters
    ----------
    ascent : Profile
        Prepared rows, pressure strictly decreasing.
    pressure : ndarray, shape (level,)
        hPa.
    rules : Rules
        Gives the thickness from which a layer is missing.
    formula : str
        Key of :data:`encoder.physics.VAPOUR_PRESSURE_FORMULAS` for the dew point.

    Returns
    -------
    dict of str to ndarray, each of shape (level,)
        By the names of :data:`encoder.columns.LEVEL_COLUMNS`. Temperature and relative humidity
        are linear in ln p and the dew point follows from both; wind is linear in ln p by
        components; height follows the temperature between the two rows (hypsometric equation,
        scaled to the heights of the rows). At the pressure of a row, the values of the row. NaN
        where a value is missing on one side, see :func:`across_thin_gaps`.

    References
    ----------
    WMO-No. 306, 35.3.1.3 (straight lines on a T-log p diagram); interpolating humidity before
    the dew point and wind by components: common practice, no source.
    """
    rows = ascent["air_pressure"]
    wanted = np.asarray(pressure, dtype=np.float64)
    thermal = float(rules.missing_temperature)

    def between(values: FloatArray, limit: float = thermal) -> FloatArray:
        return across_thin_gaps(wanted, rows, values, limit)

    columns = {name: between(ascent[name]) for name in _PLAIN_COLUMNS if name in ascent}
    if "longitude" in ascent:
        columns["longitude"] = _longitude(wanted, rows, ascent["longitude"], thermal)
    temperature = between(ascent["air_temperature"])
    humidity = between(ascent["relative_humidity"], float(rules.missing_humidity))
    u, v = wind_components(ascent["wind_from_direction"], ascent["wind_speed"])
    direction, speed = wind_from_components(
        between(u, float(rules.missing_wind)), between(v, float(rules.missing_wind))
    )
    columns |= {
        "air_pressure": wanted,
        "geopotential_height": _height(ascent, wanted, thermal),
        "air_temperature": temperature,
        "relative_humidity": humidity,
        "dew_point_temperature": np.atleast_1d(dew_point(temperature, humidity, formula)),
        "wind_from_direction": np.atleast_1d(direction),
        "wind_speed": np.atleast_1d(speed),
    }
    _take_rows(ascent, wanted, columns)
    columns["dew_point_depression"] = _depression(columns)
    return columns


def _take_rows(ascent: Profile, wanted: FloatArray, columns: dict[str, FloatArray]) -> None:
    """Put the values of a row, as far as it has them, where its pressure is wanted."""
    windy = wind_rows(ascent)
    for level, value in enumerate(wanted):
        around = rows_around(ascent, float(value))
        if len(around) != 1:
            continue
        row = around[0]
        for name, values in columns.items():
            is_wind = name in ("wind_from_direction", "wind_speed")
            if np.isfinite(ascent[name][row]) and (windy[row] or not is_wind):
                values[level] = ascent[name][row]


def _height(ascent: Profile, wanted: FloatArray, limit: float) -> FloatArray:
    """Return geopotential heights between rows, following the temperature between them."""
    rows, heights = ascent["air_pressure"], ascent["geopotential_height"]
    known = np.isfinite(heights)
    straight = across_thin_gaps(wanted, rows, heights, limit)
    kelvin = across_thin_gaps(rows, rows, ascent["air_temperature"], limit) + ZERO_CELSIUS
    given_p, given_h, given_t = rows[known], heights[known], kelvin[known]
    if len(given_p) < 2:
        return straight
    upper = np.clip(np.searchsorted(-given_p, -wanted), 1, len(given_p) - 1)
    lower = upper - 1
    share = np.log(given_p[lower] / wanted) / np.log(given_p[lower] / given_p[upper])
    below, above = given_t[lower], given_t[upper]
    here = below + share * (above - below)
    weight = share * (below + here) / (below + above)
    curved = given_h[lower] + weight * (given_h[upper] - given_h[lower])
    return np.where(np.isfinite(straight) & np.isfinite(curved), curved, straight)


def _longitude(
    wanted: FloatArray, rows: FloatArray, longitude: FloatArray, limit: float
) -> FloatArray:
    """Return longitudes between rows, also across the 180 degree meridian."""
    valid = np.isfinite(longitude)
    unwrapped = np.full(len(longitude), np.nan)
    unwrapped[valid] = np.unwrap(longitude[valid], period=360.0)
    return np.mod(across_thin_gaps(wanted, rows, unwrapped, limit) + 180.0, 360.0) - 180.0
