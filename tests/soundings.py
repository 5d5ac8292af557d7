"""Invented soundings for tests of level selection: arrays, ascents and flights, all seeded."""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np

from encoder.physics import dew_point, hypsometric_height
from encoder.profile import Flight, Instrument, Profile, Reporting, Station, SurfaceObservation

NAN = float("nan")


def ascent_from(
    pressure,
    temperature=None,
    humidity=None,
    direction=None,
    speed=None,
    **more,
) -> Profile:
    """Return a prepared ascent; what is not given is missing in every row."""
    pressure = np.asarray(pressure, dtype=np.float64)
    count = len(pressure)

    def column(values):
        values = NAN if values is None else values
        return np.broadcast_to(np.asarray(values, dtype=np.float64), count).copy()

    temperature, humidity = column(temperature), column(humidity)
    filled = np.where(np.isfinite(temperature), temperature, -20.0)
    columns = {
        "time": np.arange(count) * 1.0,
        "air_pressure": pressure,
        "geopotential_height": hypsometric_height(pressure, filled, 100.0),
        "air_temperature": temperature,
        "relative_humidity": humidity,
        "dew_point_temperature": np.atleast_1d(dew_point(temperature, humidity)),
        "wind_from_direction": column(direction),
        "wind_speed": column(speed),
    }
    return Profile({**columns, **more}, np.arange(count))


def flight_of(ascent: Profile, **reporting) -> Flight:
    """Return a flight of the invented station with an ascent that is ready for selection."""
    first = {name: float(ascent[name][0]) if len(ascent) else NAN for name in ascent}
    moment = datetime(2031, 7, 15, 12, 0, tzinfo=UTC)
    return Flight(
        Station("Harrow Tarn", 54.31, 12.84, 100.0, wmo_index="90417", wmo_region=6),
        moment,
        moment,
        SurfaceObservation(
            first["air_pressure"],
            first["air_temperature"],
            first["relative_humidity"],
            first["dew_point_temperature"],
            first["wind_from_direction"],
            first["wind_speed"],
        ),
        Instrument(),
        Reporting(**reporting),
        ascent,
        ascent,
    )


def sounding(seed: int, rows: int = 1500, *, top: float = 15.0, noise: float = 1.0) -> Profile:
    """Return an ascent with inversions, moist layers, a tropopause, a jet and sensor noise.

    Temperature noise of 0.05 K and red noise of about 0.2 K, humidity noise of 1 %, wind noise of
    0.7 m/s, all times ``noise``.
    """
    random = np.random.default_rng(seed)
    surface = random.uniform(930.0, 1035.0)
    pressure = surface * (top / surface) ** (np.linspace(0.0, 1.0, rows) ** 1.1)
    height = -7300.0 * np.log(pressure / surface)
    tropopause = random.uniform(8500.0, 13000.0)
    temperature = random.uniform(-5.0, 28.0) - 0.0065 * np.minimum(height, tropopause)
    temperature += 0.001 * np.maximum(height - tropopause - 6000.0, 0.0)
    for base in random.uniform(0.0, 5000.0, random.integers(0, 4)):
        depth = random.uniform(40.0, 400.0)
        temperature += random.uniform(0.5, 7.0) * np.clip((height - base) / depth, 0.0, 1.0)
    temperature += noise * (_red(random, rows, 0.03) + random.normal(0.0, 0.05, rows))
    humidity = np.full(rows, random.uniform(40.0, 90.0)) - 0.003 * height
    for base in random.uniform(200.0, 11000.0, random.integers(2, 7)):
        depth = random.uniform(60.0, 900.0)
        humidity += random.uniform(-50.0, 50.0) * np.exp(-(((height - base) / depth) ** 2))
    dry = np.clip((height - tropopause - 500.0) / 1500.0, 0.0, 1.0)
    humidity = (1.0 - dry) * np.clip(humidity, 0.0, 100.0) + 3.0 * dry
    humidity = np.clip(humidity + noise * random.normal(0.0, 1.0, rows), 1.0, 100.0)
    jet = random.uniform(10.0, 75.0) * np.exp(-(((height - tropopause + 800.0) / 3500.0) ** 2))
    speed = 4.0 + jet + 0.0003 * height + noise * 20.0 * _red(random, rows, 0.02)
    direction = random.uniform(0.0, 360.0) + 0.01 * height * random.normal()
    direction += noise * 60.0 * _red(random, rows, 0.02) + random.normal(0.0, 1.0, rows)
    return ascent_from(
        pressure, temperature, humidity, np.mod(direction, 360.0), np.maximum(speed, 0.0)
    )


def _red(random: np.random.Generator, count: int, step: float) -> np.ndarray:
    """Return noise whose neighbours resemble each other, a few tenths in size."""
    values = np.cumsum(random.normal(0.0, step, count))
    width = max(count // 20, 1)
    return (
        values
        - np.convolve(np.pad(values, width, "edge"), np.ones(width) / width, "same")[width:-width]
    )
