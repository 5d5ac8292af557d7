"""Where the balloon was: measured positions, and positions rebuilt from the wind where none was.

Between two measured positions the rebuilt path is moved so that it ends where the next position
was measured; after the last one it follows the wind. Sphere of the mean radius of the Earth,
6,371,008.8 m (International Union of Geodesy and Geophysics, from memory).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from encoder.physics import wind_components

if TYPE_CHECKING:
    from encoder.profile import FloatArray

EARTH_RADIUS = 6_371_008.8
"""Mean radius of the Earth in m."""

MEASURED, FROM_WIND, STATION = 0, 1, 2
SOURCES = ("measured", "rebuilt_from_wind", "position_of_the_station")
"""Meaning of the values of ``position_source``."""
_POLE = 89.9999


def positions(
    time: FloatArray,
    *,
    latitude: FloatArray,
    longitude: FloatArray,
    direction: FloatArray,
    speed: FloatArray,
    start: tuple[float, float],
) -> tuple[FloatArray, FloatArray, NDArray[np.int8]]:
    """Return a position for every row, and where it comes from.

    Parameters
    ----------
    time : ndarray, shape (row,)
        Seconds since release, strictly increasing.
    latitude, longitude : ndarray, shape (row,)
        Degrees, NaN where no position was measured.
    direction, speed : ndarray, shape (row,)
        Wind in degrees and m s-1, NaN where missing; bridged by straight lines in time.
    start : tuple of float
        Latitude and longitude of the release point, used before the first measured position.

    Returns
    -------
    latitude, longitude : ndarray, shape (row,)
    source : ndarray of int8, shape (row,)
        :data:`MEASURED`, :data:`FROM_WIND`, or :data:`STATION` where neither a position nor any
        wind is known.
    """
    known = np.isfinite(latitude) & np.isfinite(longitude)
    source = np.where(known, MEASURED, FROM_WIND).astype(np.int8)
    if known.all():
        return latitude.copy(), longitude.copy(), source
    east, north = wind_components(direction, speed)
    blowing = np.isfinite(east) & np.isfinite(north)
    if not blowing.any():
        source[~known] = STATION
        return (
            np.where(known, latitude, start[0]),
            np.where(known, longitude, start[1]),
            source,
        )
    u = np.interp(time, time[blowing], np.asarray(east)[blowing])
    v = np.interp(time, time[blowing], np.asarray(north)[blowing])
    flown = np.maximum(time, 0.0)  # before release the balloon is at the station
    steps = np.diff(flown, prepend=min(0.0, float(flown[0])))
    away_north = np.cumsum(_mean(v) * steps)
    path_lat = start[0] + np.degrees(away_north / EARTH_RADIUS)
    path_lat = np.clip(path_lat, -_POLE, _POLE)
    stride = _mean(u) * steps / (EARTH_RADIUS * np.cos(np.radians(_mean(path_lat))))
    path_lon = start[1] + np.degrees(np.cumsum(stride))
    if known.any():
        anchors = flown[known]
        first = known & (np.arange(len(time)) == int(np.flatnonzero(known)[0]))
        off_lat = (latitude - path_lat)[known]
        off_lon = _turn((longitude - path_lon)[known])
        if float(flown[first][0]) > 0.0:  # the path begins at the station
            anchors = np.concatenate(([0.0], anchors))
            off_lat = np.concatenate(([0.0], off_lat))
            off_lon = np.concatenate(([0.0], off_lon))
        path_lat = path_lat + np.interp(flown, anchors, off_lat)
        path_lon = path_lon + np.interp(flown, anchors, off_lon)
    path_lat = np.clip(path_lat, -90.0, 90.0)
    return (
        np.where(known, latitude, path_lat),
        np.where(known, longitude, _turn(path_lon)),
        source,
    )


def _mean(values: FloatArray) -> FloatArray:
    """Return the mean of each value and the one before it."""
    before = np.concatenate((values[:1], values[:-1]))
    return (values + before) / 2.0


def _turn(degrees: FloatArray) -> FloatArray:
    """Return degrees in [-180, 180)."""
    return np.mod(degrees + 180.0, 360.0) - 180.0
