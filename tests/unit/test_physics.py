"""Physics: shapes, missing values, limits and inverses."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from encoder.physics import (
    DRY_ADIABATIC_LAPSE,
    VAPOUR_PRESSURE_FORMULAS,
    altitude,
    dew_point,
    geopotential_height,
    hypsometric_height,
    hypsometric_pressure,
    interpolate_log_pressure,
    mixing_ratio,
    potential_temperature,
    relative_humidity,
    saturation_vapour_pressure,
    shortest_turn,
    standard_atmosphere_height,
    standard_atmosphere_pressure,
    standard_atmosphere_temperature,
    thickness,
    vapour_pressure,
    virtual_temperature,
    wind_components,
    wind_from_components,
)

FORMULAS = sorted(VAPOUR_PRESSURE_FORMULAS)


@pytest.mark.parametrize("formula", FORMULAS)
def test_humidity_and_dew_point_close(formula):
    """Humidity to dew point and back is exact to 1e-9 over the whole range of a sounding."""
    temperature = np.linspace(-95.0, 55.0, 301)[:, None]
    humidity = np.geomspace(0.01, 102.0, 60)[None, :]
    back = relative_humidity(temperature, dew_point(temperature, humidity, formula), formula)
    assert np.max(np.abs(back - humidity)) < 1e-9


@pytest.mark.parametrize("formula", FORMULAS)
def test_dew_point_is_the_temperature_at_saturation(formula):
    """At 100 % the dew point equals the temperature, below it is lower."""
    temperature = np.array([-80.0, -40.0, 0.0, 30.0])
    assert np.allclose(dew_point(temperature, 100.0, formula), temperature, atol=1e-9)
    assert np.all(dew_point(temperature, 99.0, formula) < temperature)


@pytest.mark.parametrize("formula", FORMULAS)
def test_formula_is_described(formula):
    """Every formula names a source and a range of temperature."""
    entry = VAPOUR_PRESSURE_FORMULAS[formula]
    assert entry.lowest < 0.0 < entry.highest
    assert entry.source
    assert entry.label


def test_default_formula_is_the_one_of_the_regulations():
    """Without a name the formula of WMO-No. 49 is used; it is the first of the table."""
    assert next(iter(VAPOUR_PRESSURE_FORMULAS)) == "wmo-49"
    assert saturation_vapour_pressure(12.0) == saturation_vapour_pressure(12.0, "wmo-49")


def test_unknown_formula():
    """A formula that does not exist is a KeyError."""
    with pytest.raises(KeyError):
        dew_point(20.0, 50.0, "no-such-formula")


@pytest.mark.parametrize("formula", FORMULAS)
def test_dry_or_missing_air_has_no_dew_point(formula):
    """Humidity of zero or less, or missing humidity or temperature, gives NaN."""
    humidity = np.array([0.0, -5.0, np.nan, 50.0])
    temperature = np.array([20.0, 20.0, 20.0, np.nan])
    assert np.all(np.isnan(dew_point(temperature, humidity, formula)))


def test_plain_numbers_give_plain_numbers():
    """Plain numbers give a float, not an array."""
    values = [
        dew_point(20.0, 50.0),
        saturation_vapour_pressure(20.0),
        virtual_temperature(20.0, 10.0, 1000.0),
        geopotential_height(1000.0, 45.0),
        standard_atmosphere_height(500.0),
        shortest_turn(350.0, 10.0),
        interpolate_log_pressure(500.0, np.array([1000.0, 100.0]), np.array([1.0, 2.0])),
        *wind_components(270.0, 10.0),
    ]
    assert [value for value in values if not isinstance(value, float)] == []


def test_dew_points_computed_by_hand():
    """Closed form of WMO-No. 8, Annex 4.B, worked out separately."""
    got = dew_point(np.array([20.0, 0.0, -20.0, 25.0]), np.array([50.0, 80.0, 60.0, 10.0]), "wmo-8")
    assert np.allclose(got, [9.255, -3.040, -25.783, -8.774], atol=5e-4)


def test_moist_air():
    """20 degC, dew point 15 degC, 1000 hPa: mixing ratio 10.767 g/kg, virtual 21.898 degC."""
    vapour = vapour_pressure(20.0, relative_humidity(20.0, 15.0, "wmo-8"), "wmo-8")
    assert float(mixing_ratio(vapour, 1000.0)) == pytest.approx(0.0107673, abs=1e-7)
    assert float(virtual_temperature(20.0, vapour, 1000.0)) == pytest.approx(21.898, abs=5e-4)


def test_virtual_temperature_without_humidity_is_dry():
    """Missing humidity counts as dry air; missing temperature stays missing."""
    got = virtual_temperature(np.array([20.0, np.nan]), np.array([np.nan, 5.0]), 1000.0)
    assert got[0] == pytest.approx(20.0)
    assert np.isnan(got[1])


def test_layer_thicknesses_computed_by_hand():
    """Hypsometric equation with Rd = 287.0531 and g = 9.80665."""
    got = thickness(
        np.array([1000.0, 1000.0, 500.0, 300.0]),
        np.array([500.0, 850.0, 400.0, 250.0]),
        np.array([20.0, 10.0, -20.0, -40.0]),
    )
    assert np.allclose(got, [5947.80, 1346.98, 1653.50, 1244.27], atol=0.006)


def test_hypsometric_inverse():
    """Heights to pressures undo pressures to heights."""
    pressure = np.geomspace(1030.0, 5.0, 400)
    temperature = np.linspace(25.0, -60.0, 400)
    height = hypsometric_height(pressure, temperature, 412.0)
    assert height[0] == 412.0
    assert np.all(np.diff(height) > 0.0)
    assert np.allclose(hypsometric_pressure(height, temperature, 1030.0), pressure, rtol=1e-12)


def test_hypsometric_equation_does_not_guess():
    """From a missing temperature on, heights and pressures are missing."""
    pressure, temperature = np.array([1000.0, 900.0, 800.0, 700.0]), np.array([10, np.nan, 0, -5.0])
    assert list(np.isnan(hypsometric_height(pressure, temperature, 0.0))) == [
        False,
        True,
        True,
        True,
    ]
    height = np.array([0.0, 1000.0, 2000.0, 3000.0])
    assert list(np.isnan(hypsometric_pressure(height, temperature, 1000.0)))[1:] == [True] * 3


@pytest.mark.parametrize("count", [0, 1])
def test_hypsometric_equation_of_few_rows(count):
    """No rows give no heights, one row the start."""
    rows = np.full(count, 900.0)
    assert list(hypsometric_height(rows, rows, 7.0)) == [7.0] * count
    assert list(hypsometric_pressure(rows, rows, 950.0)) == [950.0] * count


def test_potential_temperature_and_adiabatic_lapse():
    """850 hPa, 10 degC: 296.608 K; dry adiabatic lapse rate 9.76 K/km."""
    assert float(potential_temperature(10.0, 850.0)) == pytest.approx(296.608, abs=5e-4)
    assert pytest.approx(9.76, abs=0.005) == DRY_ADIABATIC_LAPSE


@pytest.mark.parametrize("latitude", [-90.0, 0.0, 45.0, 90.0])
def test_geopotential_inverse(latitude):
    """Geometric height to geopotential and back is exact; sea level stays sea level."""
    heights = np.array([-50.0, 0.0, 412.0, 10000.0, 35000.0])
    back = altitude(geopotential_height(heights, latitude), latitude)
    assert np.allclose(back, heights, atol=1e-7)
    assert geopotential_height(0.0, latitude) == 0.0


def test_geopotential_height_depends_on_latitude():
    """At 30 km equator and pole differ by 159 m."""
    difference = geopotential_height(30000.0, 90.0) - geopotential_height(30000.0, 0.0)
    assert float(difference) == pytest.approx(158.8, abs=0.1)


def test_wind_of_the_main_directions():
    """A wind from the north blows southward; north is 360, a calm 0 with direction 0."""
    direction, speed = wind_from_components(
        np.array([0, 0, -5, 5, 0.0]), np.array([-5, 5, 0, 0, 0.0])
    )
    assert list(direction) == [360.0, 180.0, 90.0, 270.0, 0.0]
    assert list(speed) == [5.0, 5.0, 5.0, 5.0, 0.0]


def test_calm_needs_no_direction():
    """A calm has components even when its direction is missing; a wind has not."""
    u, v = wind_components(np.array([np.nan, np.nan, 90.0]), np.array([0.0, 5.0, np.nan]))
    assert list(u[:1]) == [0.0]
    assert list(v[:1]) == [0.0]
    assert np.all(np.isnan(u[1:]) & np.isnan(v[1:]))


@given(st.floats(0.001, 360.0), st.floats(0.1, 150.0))
def test_wind_closes(direction, speed):
    """Direction and speed to components and back."""
    back, size = wind_from_components(*wind_components(direction, speed))
    assert abs(float(shortest_turn(direction, back))) < 1e-9
    assert float(size) == pytest.approx(speed)


@pytest.mark.parametrize(
    ("start", "end", "turn"),
    [(350, 20, 30), (10, 350, -20), (0, 180, 180), (180, 0, 180), (360, 0, 0), (90, 90, 0)],
)
def test_shortest_turn(start, end, turn):
    """The short way round, clockwise positive, half a turn positive."""
    assert shortest_turn(start, end) == turn


@given(st.floats(-1e4, 84_000.0))
def test_standard_atmosphere_closes(height):
    """Height to pressure and back within the atmosphere, NaN below -5000 m."""
    back = float(standard_atmosphere_height(standard_atmosphere_pressure(height)))
    if height < -5000.0:
        assert np.isnan(back)
    else:
        assert back == pytest.approx(height, abs=1e-6)


def test_standard_atmosphere_outside():
    """Above 84,852 m, for pressures that are not positive and for missing values: NaN."""
    assert np.all(np.isnan(standard_atmosphere_temperature(np.array([85000.0, np.nan, -6000.0]))))
    assert np.all(np.isnan(standard_atmosphere_height(np.array([0.0, -1.0, np.nan, 1e-6]))))
    assert np.all(np.isnan(standard_atmosphere_pressure(np.array([np.nan, 1e6]))))


def test_interpolation_hits_rows_exactly():
    """At the pressure of a row its value, even if a neighbour is missing."""
    rows, values = np.array([1000.0, 900.0, 800.0]), np.array([np.nan, 5.0, np.nan])
    assert interpolate_log_pressure(900.0, rows, values) == 5.0


def test_interpolation_leaves_missing_missing():
    """Outside the rows and next to a missing value: NaN."""
    rows, values = np.array([1000.0, 900.0, 800.0]), np.array([1.0, np.nan, 5.0])
    got = interpolate_log_pressure(
        np.array([1001.0, 950.0, 850.0, 799.0, np.nan, 0.0]), rows, values
    )
    assert np.all(np.isnan(got))


def test_interpolation_without_rows():
    """No rows: everything is missing."""
    got = interpolate_log_pressure(np.array([900.0, 800.0]), np.array([]), np.array([]))
    assert np.all(np.isnan(got))


def test_interpolation_is_linear_in_the_logarithm():
    """The geometric mean pressure gets the mean value."""
    got = interpolate_log_pressure(
        np.sqrt(1000.0 * 500.0), np.array([1000.0, 500.0]), np.array([2, 4.0])
    )
    assert float(got) == pytest.approx(3.0)
