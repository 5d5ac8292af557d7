"""The soundings themselves: a smooth atmosphere with seasons and weather, on levels of a report.

The levels keep what WMO-No. 306 Volume I.1 promises of them (35.3.1 and 32.3.1): a standard level
lies between the significant levels around it, in temperature, humidity and wind.
"""

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
    """One sounding; arrays over its levels in descending pressure, NaN where nothing is given.

    ``standard``, ``significant`` and ``windy`` tell which levels are standard ones, which are in
    parts B and D, and which of those have a wind there.
    """

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
    significant: np.ndarray
    windy: np.ndarray


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
    at_standard = np.isin(pressure, standard)
    significant, windy = significant_levels(pressure, temperature, at_standard, tropopause)
    moist = significant & (pressure >= 100.0)
    depression = _between(
        depth, depression, moist, at_standard, random.normal(0.0, 0.5, len(depth))
    )
    depression = np.maximum(depression, 0.0)
    jet = np.exp(-((np.log(pressure / tropopause)) ** 2) / 0.6)
    speed = np.abs(6.0 + 26.0 * jet + 3.0 * depth + random.normal(0.0, 1.5, len(depth)))
    direction = 250.0 + 60.0 * wave[0] + 35.0 * np.sin(depth + wave[1])
    turned = speed * np.exp(1j * np.radians(direction))
    gusts = random.normal(0.0, 0.7, (2, len(depth)))
    turned = _between(depth, turned, windy, ~windy, gusts[0] + 1j * gusts[1])
    speed, direction = np.abs(turned), np.degrees(np.angle(turned)) % 360.0
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
        at_standard,
        significant,
        windy,
    )


def significant_levels(
    pressure: Any, temperature: Any, standard: Any, tropopause: float
) -> tuple[Any, Any]:
    """Return which levels are significant, and which of them have a significant wind.

    The surface, the tropopause and the last level of each half are always among them, and every
    standard level whose temperature is not between the others by 35.3.1, with some reserve.
    """
    low = pressure >= 100.0
    significant = ~standard | (pressure == tropopause)
    ends = [0, np.flatnonzero(low)[-1], len(pressure) - 1]
    significant[ends] = True
    depth = -np.log(pressure)
    line = np.interp(depth, depth[significant], temperature[significant])
    significant |= np.abs(temperature - line) > np.where(pressure > 300.0, 0.8, 1.6)
    windy = np.zeros(len(pressure), dtype=bool)
    for half in (low, ~low):
        windy[np.flatnonzero(half & significant)[::2]] = True
    windy[ends] = True
    return significant, windy


def _between(depth: Any, values: Any, points: Any, levels: Any, noise: Any) -> Any:
    """Return values of which those at some levels lie between those at points, give or take."""
    made = np.interp(depth, depth[points], values[points]) + noise
    return np.where(levels & ~points & ~np.isnan(values), made, values)


def times(first: int, years: int) -> Any:
    """Return the nominal hours 00 and 12 UTC of some years."""
    begin = np.datetime64(f"{first:04d}-01-01T00", "h")
    end = np.datetime64(f"{first + years:04d}-01-01T00", "h")
    return np.arange(begin, end, np.timedelta64(12, "h"))
