"""Physics against MetPy, an independent library, with the differences it is known to have.

MetPy has other constants (gas constant 287.0475 J kg-1 K-1, molar mass ratio 0.621957) and inverts
another vapour-pressure formula for the dew point; the tolerances follow from that.
"""

from __future__ import annotations

import numpy as np
import pytest
from metpy import calc
from metpy.interpolate import log_interpolate_1d
from metpy.units import units

from encoder.physics import (
    dew_point,
    hypsometric_height,
    interpolate_log_pressure,
    mixing_ratio,
    potential_temperature,
    relative_humidity,
    saturation_vapour_pressure,
    thickness,
    vapour_pressure,
    virtual_temperature,
    wind_components,
    wind_from_components,
)

PRESSURE = np.array([1000.0, 925.0, 850.0, 700.0, 500.0])
TEMPERATURE = np.array([20.0, 15.5, 11.0, 1.0, -15.0])
DEW_POINT = np.array([15.0, 12.0, 8.0, -6.0, -30.0])


def test_thickness_of_one_layer():
    """Same hypsometric equation, gas constant apart: 0.5 m on 5542 m."""
    expected = calc.thickness_hydrostatic([1000, 500] * units.hPa, [0, 0] * units.degC)
    assert float(thickness(1000.0, 500.0, 0.0)) == pytest.approx(expected.magnitude, abs=0.5)


def test_moist_thickness_of_five_levels():
    """Integration over virtual temperature agrees within 0.5 m on 5597 m."""
    humidity = relative_humidity(TEMPERATURE, DEW_POINT)
    vapour = vapour_pressure(TEMPERATURE, humidity)
    virtual = virtual_temperature(TEMPERATURE, vapour, PRESSURE)
    got = hypsometric_height(PRESSURE, virtual, 0.0)[-1]
    ratio = calc.mixing_ratio_from_relative_humidity(
        PRESSURE * units.hPa, TEMPERATURE * units.degC, humidity * units.percent
    )
    expected = calc.thickness_hydrostatic(PRESSURE * units.hPa, TEMPERATURE * units.degC, ratio)
    assert got == pytest.approx(expected.magnitude, abs=0.5)


@pytest.mark.parametrize(
    ("temperature", "humidity"), [(20.0, 50.0), (25.0, 10.0), (0.0, 80.0), (30.0, 100.0)]
)
def test_dew_point_of_warm_air(temperature, humidity):
    """The dew points agree within 0.05 K above -20 degC."""
    expected = calc.dewpoint_from_relative_humidity(
        temperature * units.degC, humidity * units.percent
    )
    got = float(dew_point(temperature, humidity))
    assert got == pytest.approx(expected.m_as("degC"), abs=0.05)


def test_dew_point_of_cold_air():
    """At -40 degC they agree within 0.2 K."""
    expected = calc.dewpoint_from_relative_humidity(-40 * units.degC, 30 * units.percent)
    assert float(dew_point(-40.0, 30.0)) == pytest.approx(expected.m_as("degC"), abs=0.2)


@pytest.mark.parametrize("temperature", [-40.0, -20.0, 0.0, 20.0, 40.0])
def test_saturation_pressure(temperature):
    """Saturation pressure over water within 0.5 % from -40 to 40 degC."""
    expected = calc.saturation_vapor_pressure(temperature * units.degC).m_as("hPa")
    got = float(saturation_vapour_pressure(temperature))
    assert got == pytest.approx(expected, rel=5e-3)


def test_relative_humidity():
    """Relative humidity from dew point within 0.3 %."""
    expected = calc.relative_humidity_from_dewpoint(20 * units.degC, 10 * units.degC)
    assert float(relative_humidity(20.0, 10.0)) == pytest.approx(100 * expected.magnitude, abs=0.3)


def test_mixing_ratio_and_virtual_temperature():
    """Mixing ratio within 0.01 g/kg and virtual temperature within 0.01 K."""
    expected = calc.mixing_ratio(10 * units.hPa, 1000 * units.hPa).m_as("g/kg")
    assert 1000.0 * float(mixing_ratio(10.0, 1000.0)) == pytest.approx(expected, abs=0.01)
    moist = calc.virtual_temperature_from_dewpoint(
        1000 * units.hPa, 20 * units.degC, 15 * units.degC
    )
    vapour = saturation_vapour_pressure(15.0)
    got = float(virtual_temperature(20.0, vapour, 1000.0))
    assert got == pytest.approx(moist.m_as("degC"), abs=0.01)


def test_potential_temperature():
    """The same exponent 2/7: equal to 1e-4 K."""
    expected = calc.potential_temperature(850 * units.hPa, 10 * units.degC).m_as("K")
    assert float(potential_temperature(10.0, 850.0)) == pytest.approx(expected, abs=1e-4)


def test_interpolation_in_the_logarithm_of_pressure():
    """Linear in ln p between levels, equal to 1e-9."""
    levels, values = np.array([1000.0, 900.0, 800.0, 600.0, 400.0]), np.array([20, 14, 8, -6, -25])
    wanted = np.array([925.0, 850.0, 700.0, 500.0])
    expected = log_interpolate_1d(wanted, levels, values.astype(float))
    assert np.allclose(interpolate_log_pressure(wanted, levels, values), expected, atol=1e-9)


def test_wind_components_and_back():
    """Components, direction and speed are the same, north being 360 degrees."""
    direction = np.array([360.0, 90.0, 180.0, 270.0, 225.0, 350.0])
    u, v = wind_components(direction, 10.0)
    eastward, northward = calc.wind_components(10 * units("m/s"), direction * units.degree)
    assert np.allclose(u, eastward.magnitude)
    assert np.allclose(v, northward.magnitude)
    back, speed = wind_from_components(u, v)
    expected = calc.wind_direction(u * units("m/s"), v * units("m/s")).magnitude
    assert np.allclose(back, expected)
    assert np.allclose(speed, 10.0)
