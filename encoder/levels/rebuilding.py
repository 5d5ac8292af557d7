"""The curves a reader draws through decoded levels: straight lines in ln p."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from encoder.levels.table import LevelKind
from encoder.physics import relative_humidity, shortest_turn

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from encoder.levels.rules import Rules
    from encoder.levels.table import Levels
    from encoder.profile import FloatArray, IntArray

_SLACK = 1e-9


def level_below(pressure: FloatArray, levels: FloatArray) -> IntArray:
    """Return the level below each row, -1 outside; a row at a level belongs to what is below."""
    upper = np.searchsorted(-levels, -pressure, side="left")
    if len(levels) > 1 and levels[1] < levels[0]:
        upper[pressure == levels[0]] = 1
    inside = (upper > 0) & (upper < len(levels))
    return np.where(inside, upper - 1, -1).astype(np.int64)


def _shares(pressure: FloatArray, levels: FloatArray, lower: IntArray) -> FloatArray:
    """Return how far up, in ln p, each row lies in its segment; NaN outside."""
    result = np.full(len(pressure), np.nan)
    inside = lower >= 0
    bottom = np.log(levels[lower[inside]])
    depth = bottom - np.log(levels[lower[inside] + 1])
    result[inside] = (bottom - np.log(pressure[inside])) / depth
    return result


def _closed(levels: Levels, values: FloatArray, begin: LevelKind) -> NDArray[np.bool_]:
    """Return, for each level, whether a layer without the value begins there."""
    closed = (levels.kinds & int(begin)) != 0
    following = np.append(np.isfinite(values[1:]), False)
    result: NDArray[np.bool_] = closed | ~following | ~np.isfinite(values)
    return result


def thermal_curves(pressure: FloatArray, levels: Levels, formula: str) -> dict[str, FloatArray]:
    """Return temperature and relative humidity as a reader rebuilds them.

    Parameters
    ----------
    pressure : ndarray, shape (row,)
        Pressures wanted in hPa, strictly decreasing.
    levels : Levels
        Decoded levels of section 5 with temperature. A BEGIN bit opens a layer without data, up
        to the next level.
    formula : str
        Key of :data:`encoder.physics.VAPOUR_PRESSURE_FORMULAS`.

    Returns
    -------
    dict of str to ndarray, shape (row,)
        degC and %; NaN outside the levels and in layers without data.
    """
    lower = level_below(pressure, levels["air_pressure"])
    share = _shares(pressure, levels["air_pressure"], lower)
    temperature = levels["air_temperature"]
    humidity = np.atleast_1d(
        relative_humidity(temperature, temperature - levels["dew_point_depression"], formula)
    )
    no_temperature = _closed(levels, temperature, LevelKind.BEGIN_MISSING_TEMPERATURE)
    no_humidity = _closed(levels, humidity, LevelKind.BEGIN_MISSING_HUMIDITY) | no_temperature
    return {
        "air_temperature": _lines(temperature, lower, share, no_temperature),
        "relative_humidity": _lines(humidity, lower, share, no_humidity),
    }


def _lines(
    values: FloatArray, lower: IntArray, share: FloatArray, closed: NDArray[np.bool_]
) -> FloatArray:
    """Return the straight lines between levels at the rows, NaN where there is none."""
    result = np.full(len(lower), np.nan)
    inside = np.flatnonzero(lower >= 0)
    inside = inside[~closed[lower[inside]]]
    start, end = values[lower[inside]], values[lower[inside] + 1]
    result[inside] = start + share[inside] * (end - start)
    return result


def wind_curves(pressure: FloatArray, levels: Levels, rules: Rules) -> dict[str, FloatArray]:
    """Return direction and speed of the wind as a reader rebuilds them.

    Parameters
    ----------
    pressure : ndarray, shape (row,)
        Pressures wanted in hPa, strictly decreasing.
    levels : Levels
        Decoded levels of section 6 with wind. A BEGIN bit opens a layer without data, up to the
        next level.
    rules : Rules
        Gives the largest turn.

    Returns
    -------
    dict of str to ndarray, shape (row,)
        Degrees, turning the short way, and m s-1; NaN outside the levels and in layers without
        data. A calm level takes the direction of its neighbour in the segment; the direction is
        infinite, so unknown, between two calms and where it turns by more than the largest turn.
    """
    lower = level_below(pressure, levels["air_pressure"])
    share = _shares(pressure, levels["air_pressure"], lower)
    speed = levels["wind_speed"]
    closed = _closed(levels, speed, LevelKind.BEGIN_MISSING_WIND)
    direction = np.where(speed > 0.0, levels["wind_from_direction"], np.nan)
    inside = np.flatnonzero(lower >= 0)
    inside = inside[~closed[lower[inside]]]
    start, end = direction[lower[inside]], direction[lower[inside] + 1]
    start, end = np.where(np.isnan(start), end, start), np.where(np.isnan(end), start, end)
    turn = np.asarray(shortest_turn(start, end))
    result = np.full(len(lower), np.nan)
    values = np.mod(start + share[inside] * turn, 360.0)
    plain = np.abs(turn) <= float(rules.largest_turn) + _SLACK
    result[inside] = np.where(plain, values, np.inf)
    return {
        "wind_from_direction": result,
        "wind_speed": _lines(speed, lower, share, closed),
    }
