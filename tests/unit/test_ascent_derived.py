"""Columns of an ascent that were not measured are computed from those that were, and told."""

from __future__ import annotations

import numpy as np
import pytest

from encoder.ascent import prepare_ascent
from encoder.formats.flight_facts import flight_facts
from encoder.physics import altitude, dew_point, relative_humidity, wind_components
from encoder.profile import Profile
from tests.flights import FACTS, codes_of, rows_of, the
from tests.flights import check_ascent_contract as check_contract
from tests.flights import joined_rows as joined
from tests.flights import prepared_rows as prepared

FLIGHT = flight_facts(FACTS).value


def test_sonde_without_pressure_gets_it_from_height():
    """The hypsometric equation with virtual temperature gives back the pressure of the rows."""
    columns = rows_of(400)
    expected = columns.pop("air_pressure")
    result = prepared(columns)
    ascent = check_contract(result)
    assert codes_of(result) == ["pressure-computed"]
    assert ascent["air_pressure"][1:] == pytest.approx(expected, rel=1e-9)
    assert "hypsometric" in ascent.computed["air_pressure"]
    assert "WMO-No. 49" in ascent.computed["air_pressure"]


def test_geometric_height_is_turned_into_geopotential_by_latitude():
    """Satellite navigation gives geometric height; gravity is that of the latitude of the row."""
    columns = rows_of(400)
    expected = columns.pop("air_pressure")
    heights = columns.pop("geopotential_height")
    columns["latitude"] = np.where(np.arange(400) < 100, 54.31, np.linspace(54.31, 56.0, 400))
    columns["longitude"] = np.full(400, 12.84)
    columns["altitude"] = altitude(heights, columns["latitude"])
    ascent = check_contract(prepared(columns))
    assert ascent["geopotential_height"][1:] == pytest.approx(heights, abs=1e-6)
    assert ascent["air_pressure"][1:] == pytest.approx(expected, rel=1e-9)
    assert ascent["latitude"][0] == 54.31
    assert ascent.computed["geopotential_height"] == (
        "from geometric height and latitude, WMO-No. 8 gravity"
    )


def test_rows_without_latitude_use_the_station():
    """A missing latitude does not make the height missing."""
    columns = rows_of(20)
    columns["altitude"] = altitude(columns.pop("geopotential_height"), 54.31)
    ascent = check_contract(prepared(columns))
    assert ascent["geopotential_height"][1:] == pytest.approx(rows_of(20)["geopotential_height"])


def test_sonde_without_height_gets_it_from_pressure():
    """The hypsometric equation from the station height gives back the height of the rows."""
    columns = rows_of(400)
    expected = columns.pop("geopotential_height")
    result = prepared(columns)
    ascent = check_contract(result)
    assert codes_of(result) == ["height-computed"]
    assert ascent["geopotential_height"][1:] == pytest.approx(expected, abs=1e-6)
    assert "where it was missing" not in ascent.computed["geopotential_height"]


def test_gaps_of_height_are_filled_from_below():
    """Each gap is built up from the row before it and told."""
    columns = rows_of(100)
    expected = columns["geopotential_height"].copy()
    columns["geopotential_height"][[10, 11, 50]] = np.nan
    result = prepared(columns)
    ascent = check_contract(result)
    assert the(result, "height-computed").rows == (12, 13, 52)
    assert ascent["geopotential_height"][1:] == pytest.approx(expected, abs=1e-6)
    assert "where it was missing" in ascent.computed["geopotential_height"]


def test_gap_of_temperature_is_bridged_for_height_alone():
    """Missing temperature stays missing; the height across the gap is still computed."""
    columns = rows_of(100)
    expected = columns.pop("geopotential_height")
    columns["air_temperature"][40:46] = np.nan
    result = prepared(columns)
    ascent = check_contract(result)
    assert np.isnan(ascent["air_temperature"][41:47]).all()
    assert np.isnan(ascent["dew_point_temperature"][41:47]).all()
    assert ascent["geopotential_height"][1:] == pytest.approx(expected, abs=0.5)


def test_temperature_missing_to_the_top_leaves_height_missing():
    """Above the last temperature nothing can be integrated, and nothing is guessed."""
    columns = rows_of(100)
    del columns["geopotential_height"]
    columns["air_temperature"][80:] = np.nan
    result = prepared(columns)
    ascent = check_contract(result)
    assert np.isnan(ascent["geopotential_height"][81:]).all()
    assert np.isfinite(ascent["geopotential_height"][:81]).all()
    assert codes_of(result) == ["height-computed", "height-not-computable"]


def test_temperature_missing_to_the_top_of_a_sonde_without_pressure():
    """Rows whose pressure cannot be computed are left out and named."""
    columns = rows_of(100)
    del columns["air_pressure"]
    columns["air_temperature"][80:] = np.nan
    columns["geopotential_height"][20] = np.nan
    result = prepared(columns)
    ascent = check_contract(result)
    assert the(result, "row-without-height").rows == (22,)
    assert "lines 82-101" in the(result, "row-without-pressure").message
    assert len(ascent) == 80


def test_missing_surface_temperature_does_not_stop_the_height():
    """The first temperature of the sonde stands for the layer below it."""
    columns = rows_of(100)
    expected = columns.pop("geopotential_height")
    document = {**FACTS, "surface": {**FACTS["surface"], "air_temperature_degc": None}}
    result = prepare_ascent(
        Profile(columns, np.arange(2, 102)),
        station=FLIGHT.station,
        surface=flight_facts(document).value.surface,
    )
    ascent, _ = result.value
    assert np.isnan(ascent["air_temperature"][0])
    assert ascent["geopotential_height"][1:] == pytest.approx(expected, abs=2.0)


@pytest.mark.parametrize("formula", ["wmo-49", "wmo-8", "hyland-wexler"])
def test_humidity_from_dew_point_or_depression(formula):
    """Either humidity gives the other, by the formula of the flight."""
    columns = rows_of(50)
    humidity = columns.pop("relative_humidity")
    dew = dew_point(columns["air_temperature"], humidity, formula)
    for name, values in (
        ("dew_point_temperature", dew),
        ("dew_point_depression", columns["air_temperature"] - dew),
    ):
        ascent = check_contract(prepared({**columns, name: values}, formula))
        assert ascent["relative_humidity"][1:] == pytest.approx(humidity)
        assert ascent["dew_point_temperature"][1:] == pytest.approx(dew)
        words = "depression" if name.endswith("depression") else "dew point,"
        assert words in ascent.computed["relative_humidity"]


def test_measured_humidity_fills_with_dew_point_and_they_are_compared():
    """Relative humidity rules; the dew point fills its gaps; disagreement is told."""
    columns = rows_of(50)
    humidity = columns["relative_humidity"].copy()
    columns["dew_point_temperature"] = dew_point(columns["air_temperature"], humidity)
    columns["relative_humidity"][10] = np.nan
    result = prepared(columns)
    assert codes_of(result) == ["column-superseded"]
    assert result.value[0]["relative_humidity"][11] == pytest.approx(humidity[10])
    columns["dew_point_temperature"] = columns["dew_point_temperature"] - 3.0
    found = the(prepared(columns), "humidity-disagrees")
    assert "by 3.0 K" in found.message


def test_dew_point_above_temperature_counts_as_missing():
    """A dew point well above the temperature is impossible; humidity is missing there."""
    columns = rows_of(50)
    del columns["relative_humidity"]
    columns["dew_point_temperature"] = columns["air_temperature"] - 5.0
    columns["dew_point_temperature"][9] += 8.0
    result = prepared(columns)
    found = the(result, "values-impossible")
    assert found.rows == (11,)
    assert "by 3.0 K" in found.message
    assert np.isnan(result.value[0]["relative_humidity"][10])
    assert np.isnan(result.value[0]["dew_point_temperature"][10])


def test_dry_and_supersaturated_air_are_told():
    """Humidity 0 has no dew point; slightly above 100 it is used as measured."""
    columns = rows_of(50)
    columns["relative_humidity"][[5, 8]] = 0.0, 101.0
    result = prepared(columns)
    ascent = check_contract(result)
    assert codes_of(result) == ["humidity-without-dew-point", "humidity-above-saturation"]
    assert np.isnan(ascent["dew_point_temperature"][6])
    assert ascent["relative_humidity"][9] == 101.0
    assert ascent["dew_point_temperature"][9] > ascent["air_temperature"][9]


def test_wind_from_components():
    """Components give direction and speed; the formula is recorded."""
    columns = rows_of(50)
    direction, speed = columns.pop("wind_from_direction"), columns.pop("wind_speed")
    columns["eastward_wind"], columns["northward_wind"] = wind_components(direction, speed)
    ascent = check_contract(prepared(columns))
    assert ascent["wind_from_direction"][1:] == pytest.approx(direction)
    assert ascent["wind_speed"][1:] == pytest.approx(speed)
    assert "components" in ascent.computed["wind_speed"]


def test_wind_is_complete_or_missing():
    """North is 360, calm 0, and half a wind is none."""
    columns = rows_of(50)
    columns["wind_from_direction"][[3, 4, 5]] = 0.0, 120.0, np.nan
    columns["wind_speed"][[4, 5]] = 0.0, 0.0
    columns["wind_speed"][8] = np.nan
    columns["wind_from_direction"][9] = np.nan
    result = prepared(columns)
    ascent = check_contract(result)
    assert list(ascent["wind_from_direction"][[4, 5, 6]]) == [360.0, 0.0, 0.0]
    assert the(result, "wind-incomplete").rows == (10, 11)
    assert np.isnan(ascent["wind_from_direction"][[9, 10]]).all()
    assert np.isnan(ascent["wind_speed"][[9, 10]]).all()


def test_superseded_columns_are_told():
    """Two ways to say the same: the one used is named."""
    columns = rows_of(20)
    columns["altitude"] = columns["geopotential_height"] + 1.0
    columns["eastward_wind"] = columns["northward_wind"] = np.ones(20)
    columns["dew_point_depression"] = columns["air_temperature"] - dew_point(
        columns["air_temperature"], columns["relative_humidity"]
    )
    result = prepared(columns)
    assert [item.path[0] for item in result.diagnostics] == [
        "altitude",
        "dew_point_depression",
        "eastward_wind",
        "northward_wind",
    ]


def test_descent_of_a_sonde_without_pressure():
    """Pressure of the descent is computed downward from the highest point."""
    up = rows_of(100)
    down = {name: values[::-1][1:30].copy() for name, values in up.items()}
    down["time"] = up["time"][-1] + 2.0 * np.arange(1, 30)
    flight = joined(up, down)
    expected = flight.pop("air_pressure")
    ascent, descent = prepared(flight).value
    assert ascent["air_pressure"][1:] == pytest.approx(expected[:100], rel=1e-9)
    assert descent["air_pressure"] == pytest.approx(expected[100:], rel=1e-9)


def test_humidity_of_the_ascent_is_consistent():
    """Humidity and dew point close in every row that has both."""
    ascent = check_contract(prepared(rows_of(300)))
    back = relative_humidity(ascent["air_temperature"], ascent["dew_point_temperature"])
    assert ascent["relative_humidity"] == pytest.approx(back, abs=1e-6)


def test_pressure_in_a_few_rows_only_does_not_lead():
    """A sonde that gives pressure only at release is one without pressure sensor; that is told."""
    columns = rows_of(100)
    expected = columns["air_pressure"].copy()
    columns["air_pressure"][3:] = np.nan
    result = prepared(columns)
    ascent = check_contract(result)
    assert codes_of(result) == ["column-superseded", "pressure-computed"]
    assert "given in 3 rows only" in result.diagnostics[0].message
    assert ascent["air_pressure"][1:] == pytest.approx(expected, rel=1e-9)
