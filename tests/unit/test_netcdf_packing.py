"""Packing: integers only where they give back every value, and positions from wind."""

from __future__ import annotations

import numpy as np
import pytest

from encoder.formats.netcdf.declare import MISSING
from encoder.formats.netcdf.packing import (
    PACKINGS,
    exact,
    packed,
    packing_attributes,
    packing_of,
    unpacked,
)
from encoder.formats.netcdf.positions import FROM_WIND, MEASURED, STATION, positions
from encoder.resolution import KNOT


def test_the_coarsest_exact_packing_is_used() -> None:
    """Whole knots stay knots, tenths of m s-1 stay tenths, others are floats."""
    for values, unit in (
        (np.arange(100.0) * KNOT, "knot"),
        (np.arange(100.0), "m s-1"),
        (np.arange(100.0) / 10.0, "m s-1"),
    ):
        figures, packing = exact("wind_speed", values)
        assert packing.unit == unit
        assert np.array_equal(unpacked(figures, packing), values)
    figures, packing = exact("wind_speed", np.array([0.1234567]))
    assert packing is None
    assert figures.dtype == np.float64


def test_missing_values_become_the_fill_value() -> None:
    """NaN is the least integer of the type, and NaN again."""
    figures, packing = exact("air_temperature", np.array([24.4, np.nan, -71.3]))
    assert figures.tolist() == [244, MISSING["i2"], -713]
    assert np.array_equal(unpacked(figures, packing), [24.4, np.nan, -71.3], equal_nan=True)


def test_a_value_too_large_for_the_type_is_not_packed() -> None:
    """Thirty-three thousand tenths do not fit sixteen bits."""
    assert packed(np.array([3300.0]), PACKINGS["air_temperature"][0]) is None


def test_one_odd_value_far_down_prevents_packing() -> None:
    """Every value is compared, not only the first ones."""
    values = np.zeros(100_000)
    values[-1] = 0.0123456
    assert exact("air_temperature", values)[1] is None


def test_attributes_of_a_packing() -> None:
    """The scale factor has the unpacked type of CF 8.1: 32 bits for 16-bit integers."""
    attributes = packing_attributes(PACKINGS["air_temperature"][0])
    assert attributes["dtype"] == "i2"
    assert attributes["scale_factor"].dtype == np.float32
    assert packing_attributes(None) == {}


def test_an_unknown_packing_is_refused() -> None:
    """A stored variable of another type, unit or step is not taken for one of ours."""

    class Variable:
        dtype = np.dtype("i2")

        def ncattrs(self):
            return ["units", "steps_per_unit"]

        def getncattr(self, name):
            return {"units": "K", "steps_per_unit": 7}[name]

    with pytest.raises(ValueError, match="not one of air_temperature"):
        packing_of(Variable(), "air_temperature")


# --- positions --------------------------------------------------------------------------------

TIME = np.arange(0.0, 601.0, 10.0)
NAN = np.full(len(TIME), np.nan)
WEST = np.full(len(TIME), 270.0)
TEN = np.full(len(TIME), 10.0)


def found(**changes):
    usual = {"latitude": NAN, "longitude": NAN, "direction": WEST, "speed": TEN}
    return positions(TIME, **{**usual, **changes}, start=(60.0, 10.0))


def test_wind_alone() -> None:
    """Ten minutes of west wind of 10 m/s at 60 degrees carry a balloon 6 km to the east."""
    latitude, longitude, source = found()
    assert set(source) == {FROM_WIND}
    assert latitude[-1] == pytest.approx(60.0)
    kilometres = np.radians(longitude[-1] - 10.0) * 6371.0088 * np.cos(np.radians(60.0))
    assert kilometres == pytest.approx(6.0, abs=1e-6)


def test_measured_positions_are_not_touched() -> None:
    """Rows with a position keep it; rows between two are drawn to both ends."""
    lat, lon = np.linspace(60.0, 60.3, len(TIME)), np.linspace(10.0, 9.9, len(TIME))
    holes = lat.copy()
    holes[20:40] = np.nan
    latitude, longitude, source = found(latitude=holes, longitude=lon)
    assert np.array_equal(latitude[:20], lat[:20])
    assert np.array_equal(latitude[40:], lat[40:])
    assert np.array_equal(source == FROM_WIND, np.isnan(holes))
    assert np.all(np.abs(latitude[20:40] - lat[20:40]) < 1e-9)
    assert np.all(np.diff(longitude[19:41]) != 0.0)
    assert set(source) == {MEASURED, FROM_WIND}


def test_after_the_last_measured_position_the_wind_carries_on() -> None:
    """Beyond the last position the path continues from it, not from the station."""
    latitude, longitude = NAN.copy(), NAN.copy()
    latitude[30], longitude[30] = 61.0, 12.0
    lat, lon, source = found(latitude=latitude, longitude=longitude)
    assert lat[-1] == pytest.approx(61.0)
    assert 12.0 < lon[-1] < 12.1
    assert (lat[0], lon[0]) == (60.0, 10.0)
    assert source[30] == MEASURED


def test_neither_position_nor_wind() -> None:
    """With nothing known every row stands at the station and says so."""
    latitude, longitude, source = found(direction=NAN, speed=NAN)
    assert set(latitude) == {60.0}
    assert set(longitude) == {10.0}
    assert set(source) == {STATION}


def test_across_the_date_line() -> None:
    """Longitudes stay within their range where a balloon crosses the date line."""
    _lat, longitude, _source = positions(
        TIME, latitude=NAN, longitude=NAN, direction=WEST, speed=TEN, start=(0.0, 179.99)
    )
    assert longitude.min() >= -180.0
    assert longitude.max() < 180.0
    assert longitude[-1] < 0.0
