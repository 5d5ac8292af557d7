"""Invented ascents for tests: a curve in height, and everything else from physics."""

from __future__ import annotations

import numpy as np

from encoder.physics import dew_point, hypsometric_pressure
from encoder.profile import Profile


def ascent_of(
    height,
    temperature,
    *,
    surface_pressure=1000.0,
    pressure=None,
    humidity=50.0,
    direction=270.0,
    speed=10.0,
    **more,
) -> Profile:
    """Return an ascent; pressure follows from height and temperature unless it is given."""
    height = np.asarray(height, dtype=np.float64)
    count = len(height)
    temperature = np.broadcast_to(np.asarray(temperature, dtype=np.float64), count).copy()
    humidity = np.broadcast_to(np.asarray(humidity, dtype=np.float64), count).copy()
    if pressure is None:
        filled = np.where(np.isfinite(temperature), temperature, -20.0)
        pressure = hypsometric_pressure(height, filled, surface_pressure)
    columns = {
        "time": np.arange(count) * 1.0,
        "air_pressure": np.asarray(pressure, dtype=np.float64),
        "geopotential_height": height,
        "air_temperature": temperature,
        "relative_humidity": humidity,
        "dew_point_temperature": np.atleast_1d(dew_point(temperature, humidity)),
        "wind_from_direction": np.broadcast_to(np.asarray(direction, float), count).copy(),
        "wind_speed": np.broadcast_to(np.asarray(speed, float), count).copy(),
    }
    return Profile({**columns, **more}, np.arange(count))


def curve_at(height, points):
    """Return the values at heights of straight lines through (height, value) points."""
    xs, ys = zip(*points, strict=True)
    return np.interp(height, xs, ys)
