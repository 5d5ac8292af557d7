"""Surface level and standard isobaric surfaces."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from encoder.levels.rules import WMO, Criterion
from encoder.levels.standard import standard_levels, surface_level
from encoder.levels.table import LevelKind
from encoder.physics import (
    dew_point,
    hypsometric_height,
    standard_atmosphere_height,
    standard_atmosphere_temperature,
    wind_components,
    wind_from_components,
)
from tests.ascents import ascent_of

PRESSURES = np.array([1013.25, 900.0, 800.0, 600.0, 400.0, 300.0, 200.0, 90.0])


def standard_ascent(pressure=PRESSURES, **more):
    """Return an ascent through the standard atmosphere at the given pressures."""
    height = standard_atmosphere_height(pressure)
    return ascent_of(height, standard_atmosphere_temperature(height), pressure=pressure, **more)


def at(levels, pressure, name):
    """Return a value of the level at a pressure."""
    (index,) = np.flatnonzero(levels["air_pressure"] == pressure)
    return levels[name][index]


def test_surface_level_has_four_kinds():
    """The surface counts as significant for temperature, humidity and wind (35.2.2)."""
    levels = surface_level(standard_ascent()).value
    kinds = (
        LevelKind.SURFACE
        | LevelKind.SIGNIFICANT_TEMPERATURE
        | LevelKind.SIGNIFICANT_HUMIDITY
        | LevelKind.SIGNIFICANT_WIND
    )
    assert list(levels.kinds) == [int(kinds)]
    assert levels.rows == ((0,),)
    assert levels["air_pressure"][0] == 1013.25
    assert levels.reasons[0][0].rule == "surface"


def test_depression_of_supersaturated_air_is_zero():
    """A dew point above the temperature is a depression of 0, never negative."""
    levels = surface_level(standard_ascent(humidity=101.0)).value
    assert levels["dew_point_temperature"][0] > levels["air_temperature"][0]
    assert levels["dew_point_depression"][0] == 0.0


def test_surfaces_between_surface_and_top():
    """Every surface of 35.2.2.1 the ascent passes, upward, none above its top."""
    levels = standard_levels(standard_ascent(), rules=WMO).value
    assert list(levels["air_pressure"]) == [
        1000.0, 925.0, 850.0, 700.0, 500.0, 400.0, 300.0, 250.0, 200.0, 150.0, 100.0
    ]  # fmt: skip
    assert set(levels.kinds) == {int(LevelKind.STANDARD)}


def test_high_surfaces_only_when_asked_for():
    """7, 5, 3, 2 and 1 hPa are given where national practice wants them."""
    ascent = standard_ascent(np.geomspace(1013.25, 0.9, 200))
    usual = standard_levels(ascent, rules=WMO).value["air_pressure"]
    high = standard_levels(ascent, rules=WMO, high=True).value["air_pressure"]
    assert usual[-1] == 10.0
    assert list(high[-6:]) == [10.0, 7.0, 5.0, 3.0, 2.0, 1.0]


def test_exact_row_is_taken_as_it_is():
    """A row at the pressure of a surface gives its own values and is the only row named."""
    ascent = standard_ascent(direction=np.arange(8) * 40.0, speed=np.arange(8) * 3.0)
    levels = standard_levels(ascent, rules=WMO).value
    (index,) = np.flatnonzero(levels["air_pressure"] == 400.0)
    assert levels.rows[index] == (4,)
    names = [name for name in ascent if name != "air_pressure"]
    assert [levels[name][index] for name in names] == [ascent[name][4] for name in names]


def test_temperature_and_humidity_are_linear_in_ln_p():
    """Relative humidity is interpolated, the dew point follows from it."""
    humidity = np.array([90.0, 80, 70, 60, 50, 40, 30, 20])
    ascent = standard_ascent(humidity=humidity)
    levels = standard_levels(ascent, rules=WMO).value
    share = np.log(800.0 / 700.0) / np.log(800.0 / 600.0)
    temperature = ascent["air_temperature"]
    expected = temperature[2] + share * (temperature[3] - temperature[2])
    assert at(levels, 700.0, "air_temperature") == pytest.approx(expected)
    assert at(levels, 700.0, "relative_humidity") == pytest.approx(70.0 - share * 10.0)
    dew = float(dew_point(expected, 70.0 - share * 10.0))
    assert at(levels, 700.0, "dew_point_temperature") == pytest.approx(dew)
    assert at(levels, 700.0, "dew_point_depression") == pytest.approx(expected - dew)


def test_dew_point_by_another_formula():
    """The vapour-pressure formula of the ascent is the one used between its rows."""
    ascent = standard_ascent()
    usual = standard_levels(ascent, rules=WMO).value
    other = standard_levels(ascent, rules=WMO, formula="hyland-wexler").value
    assert at(usual, 500.0, "dew_point_temperature") != at(other, 500.0, "dew_point_temperature")


def test_wind_is_interpolated_by_components():
    """Halfway in ln p from 350/20 to 020/10 is 359.9/14.55, not the polar mean 005/15."""
    pressure = np.array([1013.25, 500.0**2 / 400.0, 400.0, 300.0])
    ascent = standard_ascent(pressure, direction=[0, 350.0, 20, 20], speed=[0, 20.0, 10, 10])
    levels = standard_levels(ascent, rules=WMO).value
    assert at(levels, 500.0, "wind_from_direction") == pytest.approx(359.9, abs=0.05)
    assert at(levels, 500.0, "wind_speed") == pytest.approx(14.55, abs=0.005)


def test_heights_between_wide_rows_follow_the_temperature():
    """Linear temperature in ln p between rows: heights are those of the hypsometric equation."""
    pressure = np.array([1000.0, 500.0, 300.0, 100.0])
    temperature = np.array([20.0, -20.0, -40.0, -60.0])
    fine = np.geomspace(1000.0, 100.0, 5001)
    curve = np.interp(-np.log(fine), -np.log(pressure), temperature)
    fine_height = hypsometric_height(fine, curve, 50.0)
    height = np.interp(-np.log(pressure), -np.log(fine), fine_height)
    ascent = ascent_of(height, temperature, pressure=pressure, humidity=np.nan)
    levels = standard_levels(ascent, rules=WMO).value
    wanted = -np.log(levels["air_pressure"])
    expected = np.interp(wanted, -np.log(fine), fine_height)
    assert np.allclose(levels["geopotential_height"], expected, atol=0.05)


def test_surface_at_a_standard_pressure():
    """A surface pressure of exactly 1000 hPa makes 1000 hPa a level with every value."""
    ascent = standard_ascent(np.array([1000.0, 900.0, 500.0]))
    levels = standard_levels(ascent, rules=WMO).value
    assert levels["air_pressure"][0] == 1000.0
    assert levels.rows[0] == (0,)
    assert levels["air_temperature"][0] == ascent["air_temperature"][0]
    assert levels.reasons[0][0].rule == "standard"


def test_thousand_hectopascals_below_sea_level():
    """In a deep low at a coastal station the height of 1000 hPa is negative, nothing else given."""
    pressure = np.array([962.0, 900.0, 500.0, 100.0])
    ascent = ascent_of([4.0, 530.0, 5200.0, 15500.0], [2.0, -2, -35, -55], pressure=pressure)
    levels = standard_levels(ascent, rules=WMO).value
    expected = 4.0 - 29.2712 * (2.0 + 273.15 + 0.7) * np.log(1000.0 / 962.0)
    assert levels["geopotential_height"][0] == pytest.approx(expected, abs=1.5)
    assert levels["geopotential_height"][0] < -300.0
    assert levels.rows[0] == ()
    given = ("air_pressure", "geopotential_height")
    assert [name for name in levels.columns if np.isfinite(levels[name][0])] == sorted(given)
    assert levels.reasons[0][0].rule == "standard-below-ground"


def test_high_station_has_four_surfaces_below_ground():
    """At 2835 m (about 715 hPa) 1000, 925 and 850 hPa lie below ground; heights are standard."""
    pressure = np.array([float(p) for p in (715.0, 600.0, 400.0, 200.0, 100.0)])
    height = standard_atmosphere_height(pressure)
    temperature = standard_atmosphere_temperature(height)
    ascent = ascent_of(height, temperature, pressure=pressure, humidity=np.nan)
    levels = standard_levels(ascent, rules=WMO).value
    below = levels["air_pressure"] > 715.0
    assert list(levels["air_pressure"][below]) == [1000.0, 925.0, 850.0]
    expected = standard_atmosphere_height(np.array([1000.0, 925.0, 850.0]))
    assert np.allclose(levels["geopotential_height"][below], expected, atol=0.01)
    assert np.all(np.isnan(levels["air_temperature"][below]))
    assert np.all(np.isnan(levels["wind_speed"][below]))


def test_no_surface_temperature_no_height_below_ground():
    """Without a surface temperature the height below ground is missing, not guessed."""
    temperature = np.array([np.nan, 0.0, -30.0])
    ascent = ascent_of([800.0, 2000.0, 5500.0], temperature, pressure=[920.0, 800.0, 500.0])
    levels = standard_levels(ascent, rules=WMO).value
    assert np.isnan(at(levels, 1000.0, "geopotential_height"))
    assert at(levels, 700.0, "air_temperature") < 0.0


@pytest.mark.parametrize(
    ("surface", "excess"),
    [
        (500.0, 25.0),
        (100.0, 25.0),
        (70.0, 17.5),
        (50.0, 12.5),
        (30.0, 7.5),
        (20.0, 5.0),
        (10.0, 2.5),
    ],
)
def test_limit_of_upward_extrapolation(surface, excess):
    """35.2.2.4: no more than a quarter of the standard pressure and no more than 25 hPa."""
    fine = np.geomspace(1013.25, 5.0, 400)
    for top, allowed in ((surface + excess, True), (surface + excess + 0.01, False)):
        ascent = standard_ascent(np.append(fine[fine > top + 1.0], top))
        levels = standard_levels(ascent, rules=WMO).value
        assert (surface in levels["air_pressure"]) == allowed


def test_upward_extrapolation_gives_the_height_alone():
    """The straight T-log p line through two points continues the standard atmosphere."""
    pressure = np.append(np.geomspace(1013.25, 545.0, 60), 520.0)
    ascent = standard_ascent(pressure, humidity=np.nan)
    levels = standard_levels(ascent, rules=WMO).value
    assert levels["air_pressure"][-1] == 500.0
    assert levels["geopotential_height"][-1] == pytest.approx(5574.44, abs=0.5)
    assert np.isnan(levels["air_temperature"][-1])
    assert np.isnan(levels["wind_speed"][-1])
    assert levels.rows[-1] == ()
    assert levels.reasons[-1][0].rule == "standard-above-top"


def test_no_upward_extrapolation_without_temperature():
    """When temperature is missing at the top there are no two points on the curve."""
    pressure = np.append(np.geomspace(1013.25, 545.0, 60), 520.0)
    height = standard_atmosphere_height(pressure)
    temperature = standard_atmosphere_temperature(height)
    temperature[-1] = np.nan
    ascent = ascent_of(height, temperature, pressure=pressure)
    assert standard_levels(ascent, rules=WMO).value["air_pressure"][-1] == 700.0


def test_ascent_that_ends_below_100_hectopascals():
    """A balloon that bursts at 180 hPa has 200 hPa as its last surface."""
    levels = standard_levels(standard_ascent(np.geomspace(1013.25, 180.0, 99)), rules=WMO).value
    assert levels["air_pressure"][-1] == 200.0


HUMID = ("relative_humidity", "dew_point_temperature")
THERMAL = ("air_temperature", *HUMID)


def gap_ascent(first, last, *missing):
    """Return an ascent with rows each hPa and columns missing from first to last hPa."""
    pressure = np.arange(1013.0, 99.0, -1.0)
    ascent = standard_ascent(pressure)
    inside = (pressure <= first) & (pressure >= last)
    columns = {name: np.where(inside, np.nan, ascent[name]) for name in missing}
    return ascent.with_columns(columns)


def test_thin_gap_is_bridged():
    """A layer without data thinner than 20 hPa is read as a straight line (35.3.1.6)."""
    ascent = gap_ascent(508.0, 491.0, *THERMAL)
    levels = standard_levels(ascent, rules=WMO).value
    assert at(levels, 500.0, "air_temperature") == pytest.approx(-21.23, abs=0.05)
    assert at(levels, 500.0, "relative_humidity") == pytest.approx(50.0)


def test_thick_gap_stays_missing():
    """In a layer of 20 hPa or more without temperature the surface has none; wind stays."""
    ascent = gap_ascent(509.0, 491.0, *THERMAL)
    levels = standard_levels(ascent, rules=WMO).value
    assert np.isnan(at(levels, 500.0, "air_temperature"))
    assert np.isnan(at(levels, 500.0, "dew_point_temperature"))
    assert at(levels, 500.0, "wind_speed") == pytest.approx(10.0)
    assert at(levels, 500.0, "geopotential_height") == pytest.approx(5574.4, abs=0.1)


def test_wind_gap_has_its_own_limit():
    """A layer without wind is missing from 50 hPa on (35.3.2.2)."""
    thin = gap_ascent(520.0, 480.0, "wind_speed")
    thick = gap_ascent(529.0, 480.0, "wind_speed")
    assert at(standard_levels(thin, rules=WMO).value, 500.0, "wind_speed") == pytest.approx(10.0)
    levels = standard_levels(thick, rules=WMO).value
    assert np.isnan(at(levels, 500.0, "wind_speed"))
    assert np.isnan(at(levels, 500.0, "wind_from_direction"))


def test_missing_at_the_top_stays_missing():
    """Humidity that ends at 300 hPa is missing at every surface above."""
    levels = standard_levels(gap_ascent(299.0, 0.0, *HUMID), rules=WMO).value
    assert np.isfinite(at(levels, 300.0, "relative_humidity"))
    assert np.isnan(at(levels, 250.0, "relative_humidity"))
    assert np.isnan(at(levels, 250.0, "dew_point_temperature"))
    assert at(levels, 250.0, "air_temperature") == pytest.approx(-52.36, abs=0.05)


def test_no_wind_and_no_humidity_at_all():
    """Without any wind and humidity the surfaces carry height and temperature."""
    ascent = standard_ascent(humidity=np.nan, direction=np.nan, speed=np.nan)
    levels = standard_levels(ascent, rules=WMO).value
    assert np.all(np.isfinite(levels["air_temperature"]))
    assert np.all(np.isnan(levels["wind_speed"]))
    assert np.all(np.isnan(levels["relative_humidity"]))


def test_drift_across_the_date_line():
    """Positions are interpolated too, the short way across 180 degrees."""
    pressure = np.array([1013.25, 500.0**2 / 400.0, 400.0])
    latitude, longitude = np.array([60.0, 60.0, 61.0]), np.array([179.0, 179.9, -179.9])
    levels = standard_levels(
        standard_ascent(pressure, latitude=latitude, longitude=longitude), rules=WMO
    ).value
    assert abs(at(levels, 500.0, "longitude")) == pytest.approx(180.0)
    assert at(levels, 500.0, "latitude") == pytest.approx(60.5)


@pytest.mark.parametrize(("count", "expected"), [(0, 0), (1, 2), (2, 2)])
def test_very_short_ascents(count, expected):
    """No rows give nothing; one or two rows give what lies below ground and between them."""
    pressure = np.array([890.0, 880.0])[:count]
    levels = standard_levels(standard_ascent(pressure), rules=WMO).value
    assert len(levels) == expected
    assert len(surface_level(standard_ascent(pressure)).value) == min(count, 1)


def test_calm_rows():
    """Between two calm rows it is calm: direction 0, speed 0."""
    levels = standard_levels(standard_ascent(speed=0.0, direction=0.0), rules=WMO).value
    assert set(levels["wind_speed"]) == {0.0}
    assert set(levels["wind_from_direction"]) == {0.0}


def test_surfaces_come_from_the_rules():
    """Another set of surfaces and another limit are followed."""
    rules = replace(
        WMO, standard_levels=(750.0,), extrapolation_limit=Criterion(0.0, "hPa", "test")
    )
    levels = standard_levels(standard_ascent(), rules=rules).value
    assert list(levels["air_pressure"]) == [750.0]


def test_interpolated_wind_matches_the_components():
    """Every interpolated wind is that of the components interpolated in ln p."""
    rng = np.random.default_rng(7)
    ascent = standard_ascent(direction=rng.uniform(0, 360, 8), speed=rng.uniform(0, 60, 8))
    levels = standard_levels(ascent, rules=WMO).value
    u, v = wind_components(ascent["wind_from_direction"], ascent["wind_speed"])
    log = -np.log(ascent["air_pressure"])
    wanted = -np.log(levels["air_pressure"])
    direction, speed = wind_from_components(np.interp(wanted, log, u), np.interp(wanted, log, v))
    assert np.allclose(levels["wind_from_direction"], direction)
    assert np.allclose(levels["wind_speed"], speed)
