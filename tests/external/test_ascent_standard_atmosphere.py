"""A balloon through the US Standard Atmosphere 1976 finds the published pressures and heights.

Source: U.S. Standard Atmosphere, 1976 (NOAA-S/T 76-1562): temperatures by lapse rates of -6.5, 0,
1.0 and 2.8 K/km from 0, 11, 20 and 32 km geopotential; pressures at the layer bounds 226.32,
54.749 and 8.6802 hPa; 1013.25 hPa at sea level.
"""

from __future__ import annotations

import numpy as np
import pytest

from encoder.ascent import prepare_ascent
from encoder.physics import altitude
from encoder.profile import Profile, Station, SurfaceObservation

PUBLISHED = {11000.0: 226.32, 20000.0: 54.749, 32000.0: 8.6802}
LATITUDE = 45.5425
HEIGHT = np.arange(50.0, 32000.1, 50.0)
STATION = Station("Saltmere Point", LATITUDE, 0.0, 0.0, "90122")
SURFACE = SurfaceObservation(1013.25, 15.0, np.nan, np.nan, np.nan, np.nan)


def temperature_of(height):
    """Return the published temperature in degC at a geopotential height in m."""
    return np.interp(height, [0.0, 11000.0, 20000.0, 32000.0], [15.0, -56.5, -56.5, -44.5])


def ascent_of(columns):
    """Return the prepared ascent of a dry flight."""
    shared = {"time": HEIGHT / 5.0, "air_temperature": temperature_of(HEIGHT)}
    profile = Profile({**shared, **columns}, np.arange(2, 2 + len(HEIGHT)))
    return prepare_ascent(profile, station=STATION, surface=SURFACE).value[0]


def test_sonde_without_pressure_finds_the_published_pressures():
    """Geometric height alone gives the published pressure within its last figure."""
    ascent = ascent_of({"altitude": altitude(HEIGHT, LATITUDE)})
    for height, pressure in PUBLISHED.items():
        row = int(np.argmin(np.abs(ascent["geopotential_height"] - height)))
        assert ascent["geopotential_height"][row] == pytest.approx(height, abs=1e-3)
        assert ascent["air_pressure"][row] == pytest.approx(pressure, rel=3e-5)


def test_sonde_without_height_finds_the_published_heights():
    """Pressure alone gives back the heights of the layer bounds within a metre."""
    exact = ascent_of({"geopotential_height": HEIGHT})["air_pressure"][1:]
    ascent = ascent_of({"air_pressure": exact})
    for height, pressure in PUBLISHED.items():
        found = np.interp(
            -np.log(pressure), -np.log(ascent["air_pressure"]), ascent["geopotential_height"]
        )
        assert found == pytest.approx(height, abs=1.0)
