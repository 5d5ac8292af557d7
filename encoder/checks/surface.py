"""The surface observation against the station and against the first rows of the sonde."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from encoder.diagnostics import Diagnostic, diagnostic
from encoder.physics import (
    GAS_CONSTANT_DRY,
    GRAVITY,
    ZERO_CELSIUS,
    geopotential_height,
    standard_atmosphere_pressure,
    wind_components,
)

if TYPE_CHECKING:
    from encoder.profile import Profile, Station, SurfaceObservation

LOWEST_SHARE, HIGHEST_SHARE = 0.92, 1.05
"""Surface pressure over that of the standard atmosphere: 932 to 1064 hPa at sea level. Common
practice, no source."""

FIRST_SECONDS, PRESSURE_SECONDS = 30.0, 120.0
"""The first row is held against the surface only this soon after release; pressure longer, because
what it should be is known. Common practice, no source."""
CONTRADICTION_SECONDS, CONTRADICTION = 15.0, 10.0
"""Rows this soon after release cannot be this many hPa from what the surface pressure lets expect:
10 m/s for 15 s explain 9 hPa more than the usual rate. Common practice, no source."""
USUAL_RATE = 5.0
"""Ascent rate in m/s assumed where height was not measured. Common practice, no source."""
PRESSURE_LIMIT = 2.0
"""hPa, and half of the fall since release more where height was not measured. Common practice, no
source."""
TEMPERATURE_LIMIT = 5.0
"""K; a ground inversion or the heated ground explains less. Common practice, no source."""
HUMIDITY_LIMIT = 25.0
"""Percentage points. Common practice, no source."""
WIND_LIMIT = 10.0
"""m/s, size of the vector difference. Common practice, no source."""


def station_pressure(station: Station, surface: SurfaceObservation) -> tuple[Diagnostic, ...]:
    """Return a warning where the surface pressure does not suit the elevation.

    Parameters
    ----------
    station : Station
    surface : SurfaceObservation

    Notes
    -----
    The pressure of the standard atmosphere at the elevation is the measure; weather explains about
    a twelfth less and a twentieth more.
    """
    height = float(geopotential_height(station.elevation, station.latitude))
    expected = float(standard_atmosphere_pressure(height))
    low, high = expected * LOWEST_SHARE, expected * HIGHEST_SHARE
    if low <= surface.air_pressure <= high:
        return ()
    return (
        diagnostic(
            "surface-pressure-unusual",
            f"The surface pressure is {surface.air_pressure:.1f} hPa; at {station.elevation:.0f} m "
            f"{low:.0f} to {high:.0f} hPa are usual.",
            path=("surface", "air_pressure_hpa"),
            value=f"{surface.air_pressure:.1f} hPa",
            expected=f"{low:.0f} to {high:.0f} hPa",
            rows=(0,),
        ),
    )


def pressure_contradiction(
    profile: Profile, station: Station, surface: SurfaceObservation
) -> tuple[Diagnostic, ...]:
    """Return an error where surface pressure and sonde contradict each other right after release.

    Parameters
    ----------
    profile : Profile
        Rows within the gross limits, before any is left out.
    station : Station
    surface : SurfaceObservation

    Returns
    -------
    tuple of Diagnostic
        The error, and whether the surface pressure suits the elevation, which tells which is wrong.

    Notes
    -----
    Judged on the median of the rows up to 15 s after release, so that a spike is no contradiction.
    One of the two is wrong; a report of both would have levels nobody measured.
    """
    if "air_pressure" not in profile or np.isnan(surface.air_pressure):
        return ()
    time, pressure = profile["time"], profile["air_pressure"]
    soon = (time > 0.0) & (time <= CONTRADICTION_SECONDS) & np.isfinite(pressure)
    if not soon.any():
        return ()
    given = surface.air_temperature
    warmth = ZERO_CELSIUS + (given if np.isfinite(given) else 15.0)
    scale = GAS_CONSTANT_DRY * warmth / GRAVITY
    due = surface.air_pressure * np.exp(-USUAL_RATE * time[soon] / scale)
    difference = float(np.median(pressure[soon] - due))
    if abs(difference) <= CONTRADICTION:
        return ()
    first = int(np.flatnonzero(soon)[0])
    return (
        diagnostic(
            "surface-pressure-contradicted",
            f"The surface pressure is {surface.air_pressure:.1f} hPa, but the sonde has "
            f"{pressure[first]:.1f} hPa {time[first]:g} s after release.",
            path=("air_pressure",),
            rows=(0, int(profile.source_row[first])),
            value=f"{difference:+.1f} hPa",
            expected=f"within {CONTRADICTION:g} hPa",
        ),
        *station_pressure(station, surface),
    )


def surface_against_sonde(ascent: Profile) -> tuple[Diagnostic, ...]:
    """Return a warning for each element in which surface and first sonde row are far apart.

    Parameters
    ----------
    ascent : Profile
        Prepared rows; row 0 is the surface observation.
    """
    if len(ascent) < 2:
        return ()
    apart = abs(float(ascent["time"][1] - ascent["time"][0]))
    if not apart <= PRESSURE_SECONDS:
        return ()
    if apart > FIRST_SECONDS:
        return _pressure(ascent)
    return (*_pressure(ascent), *_scalars(ascent), *_wind(ascent))


def _pressure(ascent: Profile) -> tuple[Diagnostic, ...]:
    if "air_pressure" in ascent.computed:
        return ()
    surface, first = (float(value) for value in ascent["air_pressure"][:2])
    if np.isnan(surface) or np.isnan(first):
        return ()
    temperature = ascent["air_temperature"][:2]
    warmth = (
        float(np.mean(temperature[np.isfinite(temperature)]))
        if (np.isfinite(temperature).any())
        else 15.0
    )
    words = ascent.computed.get("geopotential_height", "")
    measured = not words.startswith("hypsometric") and np.isfinite(ascent["geopotential_height"][1])
    rise = (
        float(ascent["geopotential_height"][1] - ascent["geopotential_height"][0])
        if measured
        else USUAL_RATE * float(ascent["time"][1])
    )
    if not measured and ascent["time"][1] < ascent["time"][0]:
        return ()  # how fast a sonde falls is not known
    scale = GAS_CONSTANT_DRY * (warmth + ZERO_CELSIUS) / GRAVITY
    expected = surface * float(np.exp(-rise / scale))
    limit = PRESSURE_LIMIT + (0.0 if measured else 0.5 * (surface - expected))
    if abs(first - expected) <= limit:
        return ()
    return (
        _told(
            ascent,
            "air_pressure",
            f"The first sonde row has {first:.1f} hPa; {expected:.1f} hPa are due {rise:.0f} m "
            f"above the surface with {surface:.1f} hPa.",
            f"{first - expected:+.1f} hPa",
            f"within {limit:.1f} hPa",
        ),
    )


def _scalars(ascent: Profile) -> list[Diagnostic]:
    found = []
    for name, limit, unit, words in (
        ("air_temperature", TEMPERATURE_LIMIT, "degC", "air temperature"),
        ("relative_humidity", HUMIDITY_LIMIT, "%", "relative humidity"),
    ):
        surface, first = (float(value) for value in ascent[name][:2])
        if abs(first - surface) > limit:
            found.append(
                _told(
                    ascent,
                    name,
                    f"The {words} is {surface:.1f} {unit} at the surface and {first:.1f} {unit} in "
                    "the first sonde row.",
                    f"{first - surface:+.1f} {unit}",
                    f"within {limit:g} {unit}",
                )
            )
    return found


def _wind(ascent: Profile) -> tuple[Diagnostic, ...]:
    east, north = wind_components(ascent["wind_from_direction"][:2], ascent["wind_speed"][:2])
    difference = float(np.hypot(east[1] - east[0], north[1] - north[0]))
    if not difference > WIND_LIMIT:
        return ()
    direction, speed = ascent["wind_from_direction"], ascent["wind_speed"]
    return (
        _told(
            ascent,
            "wind_speed",
            f"The wind is {direction[0]:.0f} degrees {speed[0]:.1f} m/s at the surface and "
            f"{direction[1]:.0f} degrees {speed[1]:.1f} m/s in the first sonde row.",
            f"{difference:.1f} m/s",
            f"within {WIND_LIMIT:g} m/s",
        ),
    )


def _told(ascent: Profile, name: str, message: str, value: str, expected: str) -> Diagnostic:
    return diagnostic(
        "surface-differs",
        message,
        path=(name,),
        rows=(0, int(ascent.source_row[1])),
        value=value,
        expected=expected,
    )
