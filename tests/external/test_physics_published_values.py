"""Physics against published tables and against facts of the trade."""

from __future__ import annotations

import numpy as np
import pytest

from encoder.physics import (
    GAS_CONSTANT_DRY,
    VAPOUR_PRESSURE_FORMULAS,
    geopotential_height,
    normal_gravity,
    saturation_vapour_pressure,
    standard_atmosphere_height,
    standard_atmosphere_pressure,
    standard_atmosphere_temperature,
    thickness,
)

FOOT = 0.3048

# "Water Vapor - JPL paper", mc-computing.com/Science_Facts/Water_Vapor/JPL_paper.html: table of
# saturation pressures over liquid water by formula, hPa at 0, 10, 15, 20, 30 and 40 degC.
PUBLISHED_PRESSURES = {
    "wmo-8": (6.11200, 12.26030, 17.01672, 23.32596, 42.33724, 73.67458),
    "hyland-wexler": (6.11213, 12.27995, 17.05448, 23.38804, 42.46030, 73.83460),
    "wmo-49": (6.10695, 12.27089, 17.04204, 23.37080, 42.42726, 73.77329),
    "goff-gratch": (6.10336, 12.26406, 17.03281, 23.35847, 42.40599, 73.73810),
    "buck": (6.11210, 12.27598, 17.04571, 23.37282, 42.43509, 73.84175),
}

# US Standard Atmosphere 1976, base of each layer: geopotential m, hPa, K; as printed in the
# barometric-formula table of fxsolver.com/solve/preset/table/1.
LAYER_BASES = (
    (0.0, 1013.25, 288.15),
    (11000.0, 226.3210, 216.65),
    (20000.0, 54.7489, 216.65),
    (32000.0, 8.6802, 228.65),
    (47000.0, 1.1091, 270.65),
    (51000.0, 0.6694, 270.65),
    (71000.0, 0.0396, 214.65),
)

# "Pressure altitude" in feet, wxonline.info/useful/stndatmo.html; printed without decimals.
PRESSURE_ALTITUDES = {
    850: 4780,
    700: 9882,
    500: 18287,
    400: 23573,
    300: 30066,
    250: 33999,
    200: 38661,
    150: 44646,
    100: 53084,
    50: 67507,
}


@pytest.mark.parametrize("formula", PUBLISHED_PRESSURES)
def test_saturation_pressure_is_the_published_one_to_the_last_digit(formula):
    """Five formulas reproduce a published comparison table in every printed digit."""
    got = saturation_vapour_pressure(np.array([0.0, 10.0, 15.0, 20.0, 30.0, 40.0]), formula)
    assert tuple(np.round(got, 5)) == PUBLISHED_PRESSURES[formula]


def test_every_formula_is_near_the_triple_point_pressure():
    """At 273.16 K the vapour pressure is 6.11657 hPa (Guildner and others 1976) within 0.2 %."""
    got = {name: float(saturation_vapour_pressure(0.01, name)) for name in VAPOUR_PRESSURE_FORMULAS}
    assert {n: v for n, v in got.items() if abs(v / 6.11657 - 1.0) > 0.002} == {}


def test_default_formula_has_the_sign_goff_published():
    """The 2000 printing of WMO-No. 49 has a wrong sign and gives 73.496 hPa at 40 degC."""
    assert float(saturation_vapour_pressure(40.0)) == pytest.approx(73.773, abs=5e-4)


@pytest.mark.parametrize(("height", "pressure", "kelvin"), LAYER_BASES)
def test_standard_atmosphere_at_the_layer_bases(height, pressure, kelvin):
    """US Standard Atmosphere 1976: pressure and temperature where the lapse rate changes."""
    assert float(standard_atmosphere_pressure(height)) == pytest.approx(pressure, rel=1e-3)
    assert float(standard_atmosphere_temperature(height)) + 273.15 == pytest.approx(kelvin)


@pytest.mark.parametrize(("pressure", "feet"), PRESSURE_ALTITUDES.items())
def test_standard_heights_of_pressure_surfaces(pressure, feet):
    """Published pressure altitudes from 850 to 50 hPa, within 2 ft (the table truncates)."""
    assert float(standard_atmosphere_height(float(pressure))) / FOOT == pytest.approx(feet, abs=2.0)


def test_standard_heights_in_metres():
    """Heights of standard surfaces in the standard atmosphere; from memory."""
    expected = {1000: 111, 925: 762, 850: 1457, 700: 3012, 500: 5574, 300: 9164, 200: 11784}
    expected |= {100: 16180, 70: 18442, 50: 20576, 30: 23849, 20: 26481, 10: 31055}
    got = {p: round(float(standard_atmosphere_height(float(p)))) for p in expected}
    assert got == expected


def test_hundred_and_ten_hectopascals_in_feet():
    """100 hPa is near 50,000 ft and 10 hPa near 100,000 ft: common practice, no source."""
    assert float(standard_atmosphere_height(100.0)) / FOOT == pytest.approx(50_000, rel=0.07)
    assert float(standard_atmosphere_height(10.0)) / FOOT == pytest.approx(100_000, rel=0.03)


def test_usual_ascent_rate_is_about_ten_miles_an_hour():
    """250 to 300 m/min is about 10 mph (9.3 to 11.2): common practice, no source.

    The standard atmosphere gives 100 hPa after about an hour and 400 hPa after 24 to 29 minutes.
    """
    miles_per_hour = np.array([250.0, 300.0]) * 60.0 / 1609.344
    assert np.all(np.abs(miles_per_hour - 10.0) < 1.3)
    minutes = standard_atmosphere_height(np.array([400.0, 100.0]))[:, None] / [250.0, 300.0]
    assert np.all((minutes[0] > 20.0) & (minutes[0] < 30.0))
    assert np.all((minutes[1] > 50.0) & (minutes[1] < 70.0))


def wgs84_geopotential_height(altitude: float, latitude: float) -> float:
    """Return geopotential metres by integrating WGS 84 gravity (NIMA TR8350.2, chapter 4)."""
    axis, flattening, ratio = 6378137.0, 1.0 / 298.257223563, 0.00344978650684
    sine = np.sin(np.radians(latitude)) ** 2
    surface = 9.7803253359 * (1 + 0.00193185265241 * sine) / np.sqrt(1 - 0.00669437999013 * sine)
    z = np.linspace(0.0, altitude, 2001)
    slope = 2.0 / axis * (1.0 + flattening + ratio - 2.0 * flattening * sine)
    gravity = surface * (1.0 - slope * z + 3.0 / axis**2 * z**2)
    return float(np.sum((gravity[1:] + gravity[:-1]) / 2.0 * np.diff(z)) / 9.80665)


@pytest.mark.parametrize("latitude", [-90.0, -45.0, 0.0, 30.0, 60.0, 90.0])
@pytest.mark.parametrize("altitude", [1000.0, 10000.0, 20000.0, 35000.0])
def test_geopotential_height_is_the_integral_of_gravity(altitude, latitude):
    """The closed form agrees with the WGS 84 field integrated upward, within 0.01 m."""
    expected = wgs84_geopotential_height(altitude, latitude)
    assert float(geopotential_height(altitude, latitude)) == pytest.approx(expected, abs=0.01)


def test_gravity_at_equator_and_pole():
    """WGS 84: 9.7803253359 at the equator, 9.8321849378 m s-2 at the pole (NIMA TR8350.2)."""
    got = normal_gravity(np.array([0.0, 90.0]))
    assert np.allclose(got, [9.7803253359, 9.8321849378], atol=2e-6)


def test_gas_constant_of_dry_air():
    """US Standard Atmosphere 1976: 287.053 J kg-1 K-1."""
    assert pytest.approx(287.05287, abs=3e-4) == GAS_CONSTANT_DRY


def test_rule_of_thumb_for_the_thickness_1000_to_500():
    """A layer 1000-500 hPa of mean 0 degC is 5542 m thick, about 20.3 m a degree.

    Common practice, no source.
    """
    assert float(thickness(1000.0, 500.0, 0.0)) == pytest.approx(5542.0, abs=0.5)
    per_degree = float(thickness(1000.0, 500.0, 1.0) - thickness(1000.0, 500.0, 0.0))
    assert per_degree == pytest.approx(20.3, abs=0.02)
