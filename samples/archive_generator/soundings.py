"""The soundings themselves: a smooth atmosphere with seasons and weather, on levels of a report."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

STATIONS = {
    "90417": ("NRM00090417", 53.4127, -18.2751, 412.0),
    "90731": ("NRM00090731", 56.0843, -20.6392, 2835.0),
    "90122": ("NRM00090122", 57.7338, -16.9046, 4.0),
}
"""IGRA identifier, position and elevation of the invented stations."""
STANDARD = np.array([1000, 925, 850, 700, 500, 400, 300, 250, 200, 150, 100, 70, 50, 30, 20, 10.0])
GRAVITY, GAS, ZERO = 9.80665, 287.05, 273.15


@dataclass
class Sounding:
    """One sounding; arrays over its levels in descending pressure, NaN where nothing is given."""

    station: str
    time: np.datetime64
    release_minutes: int
    pressure: np.ndarray
    height: np.ndarray
    temperature: np.ndarray
    depression: np.ndarray
    direction: np.ndarray
    speed: np.ndarray
    surface: int
    tropopause: int
    standard: np.ndarray


def temperature_at(
    pressure: Any, surface_temperature: float, tropopause: float, cold: float
) -> Any:
    """Return degC: a lapse of 6.5 K/km in a standard sense below the tropopause, warmer above."""
    height = 44330.8 * (1.0 - (pressure / 1013.25) ** 0.190263)
    top = 44330.8 * (1.0 - (tropopause / 1013.25) ** 0.190263)
    above = np.log(tropopause / np.minimum(pressure, tropopause)) * 7000.0
    return np.where(
        pressure >= tropopause,
        surface_temperature - (surface_temperature - cold) * height / top,
        cold + above / 1000.0 * 0.9,
    )


def make(station: str, time: Any, random: np.random.Generator) -> Sounding:
    """Return a sounding of a station and nominal hour."""
    _identifier, _latitude, _longitude, elevation = STATIONS[station]
    day = (time - time.astype("datetime64[Y]")).astype("timedelta64[D]").astype(int)
    season = np.cos(2.0 * np.pi * (day - 200) / 365.25)
    sea = 12.0 + 9.0 * season + random.normal(0.0, 3.0)
    tropopause = float(np.clip(235.0 - 25.0 * season + random.normal(0.0, 12.0), 160.0, 320.0))
    cold = -57.0 + random.normal(0.0, 3.0)
    msl = 1012.0 + random.normal(0.0, 8.0)
    ground = float(np.rint(msl * (1.0 - elevation / 44330.8) ** 5.25588))
    top = float(random.choice([8.0, 12.0, 18.0, 28.0, 60.0], p=[0.3, 0.3, 0.2, 0.1, 0.1]))
    standard = STANDARD[(ground > STANDARD) & (top <= STANDARD)]
    lower = np.rint(random.uniform(100.0, ground - 10.0, random.integers(9, 16)))
    upper = np.rint(random.uniform(top, 99.0, random.integers(3, 8)) * 10.0) / 10.0
    tropopause = float(np.rint(tropopause))
    pressure = np.unique(np.concatenate(([ground, tropopause], standard, lower, upper)))[::-1]
    pressure = pressure[pressure >= top]
    wave = random.normal(0.0, 1.0, 4)
    depth = np.log(1013.25 / pressure)
    temperature = temperature_at(pressure, sea, tropopause, cold)
    temperature += sum(wave[k] * np.sin((k + 1.3) * depth) for k in range(4)) * 0.45
    virtual = temperature + ZERO
    layer = np.diff(np.log(pressure)) * -0.5 * (virtual[1:] + virtual[:-1]) * GAS / GRAVITY
    height = elevation + np.concatenate(([0.0], np.cumsum(layer)))
    depression = np.clip(3.0 + 4.0 * depth + random.normal(0.0, 2.5, len(depth)), 0.0, 45.0)
    depression[pressure < 100.0] = np.nan
    jet = np.exp(-((np.log(pressure / tropopause)) ** 2) / 0.6)
    speed = np.abs(6.0 + 26.0 * jet + 3.0 * depth + random.normal(0.0, 1.5, len(depth)))
    direction = (250.0 + 60.0 * wave[0] + 35.0 * np.sin(depth + wave[1])) % 360.0
    return Sounding(
        station,
        time,
        int(random.integers(28, 46)),
        pressure,
        height,
        temperature,
        depression,
        direction,
        speed,
        0,
        int(np.flatnonzero(pressure == tropopause)[0]),
        np.isin(pressure, standard),
    )


def times(first: int, years: int) -> Any:
    """Return the nominal hours 00 and 12 UTC of some years."""
    begin = np.datetime64(f"{first:04d}-01-01T00", "h")
    end = np.datetime64(f"{first + years:04d}-01-01T00", "h")
    return np.arange(begin, end, np.timedelta64(12, "h"))
