"""The way of the balloon: up through the air to the burst, then down under the parachute."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from samples.generator.atmosphere import STEP, Atmosphere
from samples.generator.noise import FloatArray, red_noise, stream

if TYPE_CHECKING:
    from samples.generator.specification import FlightSpec

SEMI_MAJOR_AXIS = 6378137.0
"""WGS 84 semi-major axis, m."""
ECCENTRICITY_SQUARED = 6.69437999014e-3
"""WGS 84 first eccentricity squared."""
SLOWEST = 1.2
"""Ascent rate below which it does not fall, m s-1."""
DESCENT_AT_GROUND = 6.0
"""Speed of fall under the parachute in air of 1.2 kg m-3, m s-1 (common practice, no source)."""

FALL_AT_GROUND = 11.0
"""Speed of fall of a dropped sonde in air of 1.2 kg m-3, m s-1 (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Way:
    """Where the sonde is at each row.

    Attributes
    ----------
    time : ndarray, shape (row,)
        Seconds since release.
    height : ndarray, shape (row,)
        Geopotential height, m.
    burst_time : float
        Seconds since release.
    """

    time: FloatArray
    height: FloatArray
    burst_time: float


def ascend(spec: FlightSpec, atmosphere: Atmosphere) -> Way:
    """Let the balloon rise to the burst pressure and fall for the descent rows.

    The rate of climb follows from drag: it drops while the balloon passes from turbulent to laminar
    flow in the upper troposphere and rises again in thin air (common practice, no source), and has
    the vertical motion of the air on top.

    Parameters
    ----------
    spec : FlightSpec
    atmosphere : Atmosphere

    Returns
    -------
    Way
        The first row is one spacing after release.
    """
    height = atmosphere.height
    above = height - height[0]
    climb = 1.0 - 0.10 * np.exp(-(((above - 9000.0) / 4000.0) ** 2))
    climb += 0.16 * np.clip((above - 13000.0) / 17000.0, 0.0, 1.0)
    wobble = red_noise(stream(spec.seed, 20), len(height), 4.0, 5, 0.3)
    rate = spec.ascent_rate * climb * (1.0 + 0.025 * wobble) + atmosphere.vertical
    rate *= np.clip(0.75 + above / 60.0, 0.0, 1.0)
    rate = np.maximum(rate, SLOWEST)
    clock = np.concatenate(([0.0], np.cumsum(STEP / (0.5 * (rate[1:] + rate[:-1])))))
    burst = float(np.interp(-np.log(spec.burst_pressure), -np.log(atmosphere.pressure), clock))
    count = int(burst / spec.spacing)
    time = spec.spacing * np.arange(1, count + 1, dtype=np.float64)
    way = np.interp(time, clock, height)
    if spec.descent_seconds > 0.0:
        last = int((burst + spec.descent_seconds) / spec.spacing)
        after = spec.spacing * np.arange(count + 1, last + 1, dtype=np.float64)
        peak = float(np.interp(burst, clock, height))
        way = np.concatenate((way, _fall(after - burst, peak, atmosphere)))
        time = np.concatenate((time, after))
    return Way(time, way, burst)


def drop_down(spec: FlightSpec, atmosphere: Atmosphere, pressure: float) -> Way:
    """Let a sonde fall from an aircraft to the surface.

    Parameters
    ----------
    spec : FlightSpec
    atmosphere : Atmosphere
    pressure : float
        Of the air at the release, hPa.

    Returns
    -------
    Way
        The first row is one spacing after release; ``burst_time`` is that of the splash. The rate
        of fall is that of quadratic drag in air of the density there.
    """
    height = atmosphere.height
    kelvin = atmosphere.temperature + 273.15
    rate = FALL_AT_GROUND * np.sqrt(1.2 * 287.05 * kelvin / (100.0 * atmosphere.pressure))
    start = float(np.interp(-np.log(pressure), -np.log(atmosphere.pressure), height))
    levels = np.append(height[height < start], start)
    seconds = np.diff(levels) / np.interp((levels[1:] + levels[:-1]) / 2.0, height, rate)
    elapsed = np.concatenate(([0.0], np.cumsum(seconds[::-1])))
    splash = float(elapsed[-1])
    time = spec.spacing * np.arange(1, int(splash / spec.spacing) + 1, dtype=np.float64)
    return Way(time, np.interp(time, elapsed, levels[::-1]), splash)


def _fall(elapsed: FloatArray, peak: float, atmosphere: Atmosphere) -> FloatArray:
    """Return heights after the burst: quadratic drag, from rest, density taken at the burst."""
    pressure = float(np.interp(peak, atmosphere.height, atmosphere.pressure))
    kelvin = float(np.interp(peak, atmosphere.height, atmosphere.temperature)) + 273.15
    density = 100.0 * pressure / (287.05 * kelvin)
    fastest = DESCENT_AT_GROUND * np.sqrt(1.2 / density)
    scale = fastest / 9.8
    return np.asarray(peak - fastest * scale * np.log(np.cosh(elapsed / scale)))


def positions(
    spec: FlightSpec, way: Way, eastward: FloatArray, northward: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return latitude and longitude in degrees, carried along by the wind from the release point.

    Parameters
    ----------
    spec : FlightSpec
    way : Way
    eastward, northward : ndarray, shape (row,)
        Wind at each row, m s-1.
    """
    step = np.diff(way.time, prepend=0.0)
    start = np.radians(spec.place.latitude)
    curvature = 1.0 - ECCENTRICITY_SQUARED * np.sin(start) ** 2
    meridian = SEMI_MAJOR_AXIS * (1.0 - ECCENTRICITY_SQUARED) / curvature**1.5
    latitude = start + np.cumsum(northward * step / (meridian + way.height))
    normal = SEMI_MAJOR_AXIS / np.sqrt(1.0 - ECCENTRICITY_SQUARED * np.sin(latitude) ** 2)
    turned = np.cumsum(eastward * step / ((normal + way.height) * np.cos(latitude)))
    longitude = np.mod(spec.place.longitude + np.degrees(turned) + 180.0, 360.0) - 180.0
    return np.degrees(latitude), longitude
