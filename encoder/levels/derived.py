"""Quantities that regional sections ask for: stability index, mean winds, winds at fixed places."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from encoder.levels.table import LevelKind
from encoder.physics import (
    KAPPA,
    ZERO_CELSIUS,
    relative_humidity,
    wind_components,
    wind_from_components,
)
from encoder.physics.adiabats import moist_adiabats

if TYPE_CHECKING:
    from encoder.levels.table import Levels
    from encoder.profile import Profile

LIFTED_TO = 500.0
"""The parcel is lifted to this pressure, in hPa."""
DRIEST_BASE = 20.0
"""Below this relative humidity in % at the base no index is given (common practice, no source; a
report of station 72403 gives none at 10 %)."""
FEET_5000 = 1524.0
"""Top of the lower layer of mean winds, 5000 ft in m (WMO-No. 306 Volume I.2, B/C25 annex I)."""
FEET_10000 = 3048.0
"""Top of the upper layer."""
_STARTS = np.arange(-60.0, 50.01, 0.5)


@dataclass(frozen=True, slots=True)
class StabilityIndex:
    """The stability index of a sounding.

    Attributes
    ----------
    value : float
        K, positive is stable; NaN where it is not computed.
    base : float
        Pressure of the base in hPa; NaN above 2000 gpm.
    reason : str
        Why it is not computed; "" where it is.
    """

    value: float
    base: float
    reason: str = ""


def stability_base(elevation: float) -> float:
    """Return the base of the stability index, in hPa.

    Parameters
    ----------
    elevation : float
        Of the station, in gpm.

    Returns
    -------
    float
        850, 800 or 750; NaN for stations above 2000 gpm.

    References
    ----------
    WMO-No. 306 Volume I.2, B/C25 annex I, note.
    """
    if elevation < 1000.0:
        return 850.0
    if elevation <= 1400.0:
        return 800.0
    return 750.0 if elevation <= 2000.0 else float("nan")


def lifted_temperature(temperature: float, dew_point: float, pressure: float) -> float:
    """Return the temperature of a parcel lifted to 500 hPa.

    Parameters
    ----------
    temperature, dew_point : float
        degC at the base.
    pressure : float
        Of the base in hPa, 1000 or less.

    Returns
    -------
    float
        degC: dry adiabatic to the condensation level, pseudo-adiabatic from there.

    References
    ----------
    Condensation level: Bolton (1980), Monthly Weather Review 108, equation 15.
    """
    warm, dew = temperature + ZERO_CELSIUS, min(dew_point, temperature) + ZERO_CELSIUS
    condensation = 1.0 / (1.0 / (dew - 56.0) + np.log(warm / dew) / 800.0) + 56.0
    level = pressure * (condensation / warm) ** (1.0 / KAPPA)
    if level <= LIFTED_TO:
        return float(warm * (LIFTED_TO / pressure) ** KAPPA - ZERO_CELSIUS)
    curves = moist_adiabats(_STARTS, np.array([level, LIFTED_TO]))
    return float(np.interp(condensation - ZERO_CELSIUS, curves[:, 0], curves[:, 1]))


def stability_index(levels: Levels, ascent: Profile, elevation: float) -> StabilityIndex:
    """Return the stability index: T at 500 hPa less T of a parcel lifted there from the base.

    Parameters
    ----------
    levels : Levels
        Gives the values at 850 and 500 hPa.
    ascent : Profile
        Gives those at 800 and 750 hPa, which are no standard levels.
    elevation : float
        Of the station, in gpm.

    References
    ----------
    WMO-No. 306 Volume I.2, B/C25 annex I; the same quantity as BUFR 0 13 047.
    """
    base = stability_base(elevation)
    if np.isnan(base):
        return StabilityIndex(np.nan, base, "the station lies above 2000 gpm")
    standard = levels.having(LevelKind.STANDARD)
    top = standard[levels["air_pressure"][standard] == LIFTED_TO]
    aloft = float(levels["air_temperature"][top[0]]) if len(top) else np.nan
    if np.isnan(aloft):
        return StabilityIndex(np.nan, base, "there is no temperature at 500 hPa")
    temperature, dew_point = (
        value_at(ascent, name, base) for name in ("air_temperature", "dew_point_temperature")
    )
    if np.isnan(temperature) or np.isnan(dew_point):
        return StabilityIndex(np.nan, base, f"temperature or humidity at {base:g} hPa is missing")
    if float(relative_humidity(temperature, dew_point)) < DRIEST_BASE:
        return StabilityIndex(np.nan, base, f"the air at {base:g} hPa is too dry")
    return StabilityIndex(aloft - lifted_temperature(temperature, dew_point, base), base)


def value_at(profile: Profile, name: str, pressure: float) -> float:
    """Return a value at a pressure, linear in ln p; NaN outside and beside missing values."""
    log_pressure = np.log(profile["air_pressure"])
    target = np.log(pressure)
    above = int(np.searchsorted(-log_pressure, -target))
    if above == len(log_pressure) or (above == 0 and log_pressure[0] != target):
        return float("nan")
    if log_pressure[above] == target:
        return float(profile[name][above])
    share = (log_pressure[above - 1] - target) / (log_pressure[above - 1] - log_pressure[above])
    below_value, above_value = profile[name][above - 1], profile[name][above]
    return float(below_value + share * (above_value - below_value))


def mean_wind(profile: Profile, bottom: float, top: float) -> tuple[float, float]:
    """Return the mean wind of a layer as a vector mean over height.

    Parameters
    ----------
    profile : Profile
        Rows with geopotential height and wind.
    bottom, top : float
        gpm.

    Returns
    -------
    direction, speed : float
        degrees and m s-1; NaN where the winds do not reach from bottom to top.
    """
    u, v = wind_components(profile["wind_from_direction"], profile["wind_speed"])
    height = profile["geopotential_height"]
    known = np.isfinite(u) & np.isfinite(v) & np.isfinite(height)
    height, u, v = height[known], u[known], v[known]
    if len(height) < 2 or bottom >= top or height[0] > bottom or height[-1] < top:
        return float("nan"), float("nan")
    inside = height[(height > bottom) & (height < top)]
    steps = np.concatenate([[bottom], inside, [top]])
    mean = []
    for part in (u, v):
        at_steps = np.interp(steps, height, part)
        area = np.sum((at_steps[1:] + at_steps[:-1]) / 2.0 * np.diff(steps))
        mean.append(float(area) / (top - bottom))
    direction, speed = wind_from_components(*mean)
    return float(direction), float(speed)


def wind_at_pressure(profile: Profile, pressure: float) -> tuple[float, float]:
    """Return direction and speed at a pressure, components linear in ln p."""
    u, v = wind_components(profile["wind_from_direction"], profile["wind_speed"])
    both = profile.with_columns({"eastward_wind": u, "northward_wind": v})
    eastward = value_at(both, "eastward_wind", pressure)
    northward = value_at(both, "northward_wind", pressure)
    direction, speed = wind_from_components(eastward, northward)
    return float(direction), float(speed)


def pressure_at_height(profile: Profile, height: float) -> float:
    """Return the pressure in hPa at a height in gpm; NaN outside the profile."""
    heights, pressure = profile["geopotential_height"], profile["air_pressure"]
    known = np.isfinite(heights) & np.isfinite(pressure)
    heights, pressure = heights[known], pressure[known]
    if len(heights) == 0 or not heights[0] <= height <= heights[-1]:
        return float("nan")
    return float(np.exp(np.interp(height, heights, np.log(pressure))))
