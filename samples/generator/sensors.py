"""What the sonde measures of the air it passes through, and how the figures are written."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from encoder.physics import wind_from_components
from encoder.rounding import round_half_away
from samples.generator.balloon import Way, positions
from samples.generator.noise import FloatArray, red_noise, smooth, stream

if TYPE_CHECKING:
    from samples.generator.atmosphere import Atmosphere
    from samples.generator.specification import FlightSpec

TEMPERATURE_LAG = 0.6
"""Time constant of the thermometer near the ground after processing, s."""
TEMPERATURE_NOISE = 0.035
"""Noise of temperature after processing, K."""
HUMIDITY_NOISE = 0.45
"""Noise of relative humidity after processing, %."""
WIND_NOISE = 0.06
"""Noise of each wind component after processing, m s-1."""
PENDULUM_PERIOD = 13.3
"""Period in s of the sonde swinging on 44 m of string: 2 pi sqrt(length / g)."""
PENDULUM_SPEED = 0.12
"""What the wind filter leaves of the swing, m s-1 (common practice, no source)."""

DECIMALS: dict[str, int] = {
    "time": 1,
    "air_pressure": 2,
    "geopotential_height": 1,
    "air_temperature": 2,
    "relative_humidity": 1,
    "wind_from_direction": 1,
    "wind_speed": 2,
    "latitude": 5,
    "longitude": 5,
}
"""Decimals written for each column."""
THIN_AIR = 100.0
"""Pressure in hPa below which three decimals are written: neighbouring rows differ by less than
0.01 hPa near 10 hPa."""
THIN_AIR_DECIMALS = 3


def lagged(values: FloatArray, step: float, constant: FloatArray) -> FloatArray:
    """Return what a first-order sensor shows.

    Parameters
    ----------
    values : ndarray, shape (row,)
        The truth.
    step : float
        Seconds between rows.
    constant : ndarray, shape (row,)
        Time constant at each row, s.

    Returns
    -------
    ndarray, shape (row,)
    """
    share = (1.0 - np.exp(-step / np.maximum(constant, 1e-3))).tolist()
    shown = []
    state = float(values[0])
    for value, part in zip(values.tolist(), share, strict=True):
        state += part * (value - state)
        shown.append(state)
    return np.array(shown)


def measure(spec: FlightSpec, atmosphere: Atmosphere, way: Way) -> dict[str, FloatArray]:
    """Return the columns of the profile as written, NaN where a gap leaves them empty.

    Parameters
    ----------
    spec : FlightSpec
    atmosphere : Atmosphere
    way : Way

    Returns
    -------
    dict of str to ndarray, each of shape (row,)
        Units of :mod:`encoder.columns`, rounded to the decimals of the file.
    """
    count = len(way.time)
    grid = atmosphere.height

    def at(values: FloatArray) -> FloatArray:
        return np.interp(way.height, grid, values)

    pressure = np.exp(at(np.log(atmosphere.pressure)))
    fast = 3.0 / spec.spacing
    noise = unit_white(stream(spec.seed, 30), count, 0.4 * fast)
    constant = TEMPERATURE_LAG * np.sqrt(1000.0 / pressure)
    temperature = lagged(at(atmosphere.temperature), spec.spacing, np.minimum(constant, 3.0))
    temperature += TEMPERATURE_NOISE * noise

    constant = np.clip(0.4 * np.exp(-temperature / 16.0), 0.3, 30.0)
    humidity = lagged(at(atmosphere.humidity), spec.spacing, constant)
    drift = red_noise(stream(spec.seed, 31), count, 200.0 / spec.spacing, 2, 1.0)
    noise = unit_white(stream(spec.seed, 32), count, 0.6 * fast)
    cold = np.clip((temperature + 70.0) / 50.0, 0.12, 1.0)
    humidity += HUMIDITY_NOISE * cold * noise + 0.9 + 0.15 * drift
    humidity = np.clip(humidity, 0.4, 100.0)

    eastward, northward = at(atmosphere.eastward), at(atmosphere.northward)
    latitude, longitude = positions(spec, way, eastward, northward)
    swing = 2.0 * np.pi * way.time / PENDULUM_PERIOD
    measured = []
    for purpose, component in ((33, eastward), (34, northward)):
        random = stream(spec.seed, purpose)
        envelope = red_noise(random, count, 25.0 / spec.spacing, 2, 0.5)
        phase = 1.2 * red_noise(random, count, 30.0 / spec.spacing, 2, 0.5)
        pendulum = PENDULUM_SPEED * envelope * np.sin(swing + phase)
        noise = unit_white(random, count, 0.8 * fast)
        measured.append(smooth(component, fast) + pendulum + WIND_NOISE * noise)
    direction, speed = wind_from_components(measured[0], measured[1])

    wander = red_noise(stream(spec.seed, 35), count, 20.0 / spec.spacing, 2, 0.5)
    height = way.height + 0.3 * wander * np.clip(way.time / 60.0, 0.0, 1.0)
    columns = {
        "time": way.time,
        "air_pressure": pressure,
        "geopotential_height": height,
        "air_temperature": temperature,
        "relative_humidity": humidity,
        "wind_from_direction": np.asarray(direction),
        "wind_speed": np.asarray(speed),
        "latitude": latitude,
        "longitude": longitude,
    }
    columns = {name: rounded(name, values, pressure) for name, values in columns.items()}
    calm = columns["wind_speed"] == 0.0
    north = (columns["wind_from_direction"] == 0.0) & ~calm
    columns["wind_from_direction"][north] = 360.0
    columns["wind_from_direction"][calm] = 0.0
    for gap in spec.gaps:
        empty = (pressure < gap.bottom) & (pressure > gap.top)
        empty &= way.time <= way.burst_time
        for name in gap.columns:
            columns[name][empty] = np.nan
    return columns


def rounded(name: str, values: FloatArray, pressure: FloatArray) -> FloatArray:
    """Return a column rounded to the decimals of the file."""
    usual = round_half_away(values, 10.0 ** -DECIMALS[name])
    if name != "air_pressure":
        return usual
    return np.where(pressure < THIN_AIR, round_half_away(values, 10.0**-THIN_AIR_DECIMALS), usual)


def unit_white(random: np.random.RandomState, count: int, width: float) -> FloatArray:
    """Return white noise smoothed over a few rows, with standard deviation 1."""
    noise = smooth(random.standard_normal(count), width, mirrored=True)
    return np.asarray(noise / noise.std())
