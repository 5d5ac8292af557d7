"""What decoded levels rebuild, and how rows are judged."""

from __future__ import annotations

import numpy as np
import pytest

from encoder.levels import LevelKind, Levels, coded_levels, misfit
from encoder.levels.representation import humidity_half_step
from encoder.levels.rules import FMH3, WMO
from encoder.physics import relative_humidity
from encoder.resolution import KNOT, Coding
from tests.soundings import ascent_from

NAN = float("nan")
T = LevelKind.SIGNIFICANT_TEMPERATURE
H = LevelKind.SIGNIFICANT_HUMIDITY
W = LevelKind.SIGNIFICANT_WIND


def levels_from(pressure, kinds, **columns):
    """Return decoded levels."""
    kinds = np.broadcast_to(np.asarray(kinds, np.int64), len(pressure))
    return Levels({"air_pressure": np.asarray(pressure, float), **columns}, kinds)


def judged(ascent, levels, *, rules=WMO, coding=None, tropopause=NAN):
    """Return the misfit with the usual choices."""
    return misfit(
        ascent,
        levels,
        rules=rules,
        coding=coding or Coding(),
        formula="wmo-49",
        tropopause_pressure=tropopause,
    )


def test_temperature_is_straight_in_log_pressure():
    """Half way up in ln p the rebuilt temperature is half way between the levels."""
    middle = np.sqrt(1000.0 * 500.0)
    ascent = ascent_from([1000.0, middle, 500.0], [10.0, -4.0, -20.0])
    levels = levels_from([1000, 500], T, air_temperature=[10.0, -20.1])
    found = judged(ascent, levels)
    assert found.rebuilt["air_temperature"][1] == pytest.approx(-5.05)
    assert found.misfits["air_temperature"][1] == pytest.approx(1.05)
    assert found.within_limits


def test_the_limit_of_temperature_has_the_half_step_of_the_code():
    """1 K and 0.1 K for the code: 1.1 K is within, 1.11 K is beyond."""
    middle = np.sqrt(1000.0 * 500.0)
    levels = levels_from([1000, 500], T, air_temperature=[10.0, -20.0])
    within = judged(ascent_from([1000.0, middle, 500.0], [10.0, -3.9, -20.0]), levels)
    beyond = judged(ascent_from([1000.0, middle, 500.0], [10.0, -3.89, -20.0]), levels)
    assert within.limits["air_temperature"][1] == 1.1
    assert within.within_limits
    (stretch,) = beyond.stretches
    assert (stretch.first_row, stretch.last_row) == (1, 1)
    assert stretch.worst.excess == pytest.approx(0.01)
    assert beyond.broken == 1


@pytest.mark.parametrize(("tropopause", "switch"), [(NAN, 300.0), (400.0, 400.0), (150.0, 300.0)])
def test_one_degree_holds_up_to_the_first_level_above_the_switch(tropopause, switch):
    """2 K from the first significant level above 300 hPa or the tropopause, the lower one."""
    pressure = [1000.0, switch + 1.0, switch - 20.0, switch - 50.0, 100.0, 90.0]
    ascent = ascent_from(np.array(pressure) + 0.2, np.zeros(6))
    levels = levels_from([1000, switch, switch - 30.0, 80], T, air_temperature=np.zeros(4))
    limits = judged(ascent, levels, tropopause=tropopause).limits["air_temperature"]
    assert np.isnan(limits[0])
    assert list(limits[1:]) == [1.1, 1.1, 2.1, 2.1, 2.1]


def test_humidity_is_rebuilt_from_decoded_temperature_and_depression():
    """Relative humidity follows from the decoded values at the levels, then a straight line."""
    middle = np.sqrt(1000.0 * 800.0)
    ascent = ascent_from([1000.0, middle, 800.0], [10.0, 5.0, 0.0], [50.0, 60.0, 70.0])
    levels = levels_from(
        [1000, 800], T | H, air_temperature=[10.0, 0.0], dew_point_depression=[10.0, 4.9]
    )
    ends = relative_humidity(np.array([10.0, 0.0]), np.array([0.0, -4.9]), "wmo-49")
    found = judged(ascent, levels)
    assert found.rebuilt["relative_humidity"][1] == pytest.approx(float(np.mean(ends)))


def test_the_limit_of_humidity_has_what_half_a_step_of_depression_does():
    """15 % and, at a depression of 10 K, what half a kelvin more or less makes of it."""
    temperature, dew_point = np.array([10.0, 10.0]), np.array([0.0, 7.0])
    allowed = humidity_half_step(temperature, dew_point, "wmo-49")
    here, moist = relative_humidity(np.full(2, 10.0), np.array([0.0, 0.5]), "wmo-49")
    assert allowed[0] == pytest.approx(moist - here)
    assert allowed[1] < 0.4
    assert np.isnan(humidity_half_step(np.array([NAN]), np.array([0.0]), "wmo-49")[0])


def test_saturated_air_is_not_allowed_to_be_supersaturated():
    """At no depression only the drier side counts."""
    allowed = humidity_half_step(np.array([10.0]), np.array([10.0]), "wmo-49")
    drier = relative_humidity(np.array([10.0]), np.array([9.95]), "wmo-49")
    assert allowed[0] == pytest.approx(100.0 - drier[0])


def test_direction_turns_the_short_way():
    """Between 350 and 20 degrees the rebuilt wind passes north."""
    middle = np.sqrt(1000.0 * 500.0)
    ascent = ascent_from([1000.0, middle, 500.0], direction=[350, 8, 20], speed=10.0)
    levels = levels_from([1000, 500], W, wind_from_direction=[350, 20], wind_speed=[10.0, 10.0])
    found = judged(ascent, levels)
    assert found.rebuilt["wind_from_direction"][1] == pytest.approx(5.0)
    assert found.misfits["wind_from_direction"][1] == pytest.approx(3.0)


def test_direction_of_light_wind_is_not_judged():
    """Below 5 m/s the direction is left alone, the speed is not."""
    ascent = ascent_from([1000.0, 700.0, 500.0], direction=[270, 90, 270], speed=[10.0, 4.9, 10.0])
    levels = levels_from([1000, 500], W, wind_from_direction=[270, 270], wind_speed=[10.0, 10.0])
    found = judged(ascent, levels)
    assert np.isnan(found.misfits["wind_from_direction"][1])
    assert found.misfits["wind_speed"][1] == pytest.approx(5.1)


@pytest.mark.parametrize(("unit", "limit"), [("kt", 5.0 + KNOT / 2.0), ("m s-1", 5.5)])
def test_the_limit_of_speed_has_half_the_unit(unit, limit):
    """5 m/s and half a knot, or half a metre per second."""
    ascent = ascent_from([1000.0, 700.0, 500.0], direction=270.0, speed=10.0)
    levels = levels_from([1000, 500], W, wind_from_direction=[270, 270], wind_speed=[10.0, 10.0])
    found = judged(ascent, levels, coding=Coding(unit))
    assert found.limits["wind_speed"][1] == limit
    assert found.limits["wind_from_direction"][1] == 12.5


def test_a_turn_beyond_165_degrees_leaves_the_direction_open():
    """Rows between such levels are off by 180 degrees whatever they are."""
    ascent = ascent_from([1000.0, 700.0, 500.0], direction=[90, 180, 260], speed=10.0)
    levels = levels_from([1000, 500], W, wind_from_direction=[90, 260], wind_speed=[10.0, 10.0])
    found = judged(ascent, levels)
    assert found.misfits["wind_from_direction"][1] == 180.0
    assert np.isnan(found.rebuilt["wind_from_direction"][1])
    assert found.worst["wind_from_direction"].misfit == 180.0


def test_a_calm_level_takes_the_direction_of_its_neighbour():
    """A calm has no direction; the other end of the segment gives it; two calms give none."""
    ascent = ascent_from([1000.0, 700.0, 500.0], direction=[0, 250, 260], speed=[0.0, 6.0, 6.0])
    one = levels_from([1000, 500], W, wind_from_direction=[0, 260], wind_speed=[0.0, 6.0])
    two = levels_from([1000, 500], W, wind_from_direction=[0, 0], wind_speed=[0.0, 0.0])
    assert judged(ascent, one).misfits["wind_from_direction"][1] == pytest.approx(10.0)
    assert judged(ascent, two).misfits["wind_from_direction"][1] == 180.0


def test_each_section_rebuilds_its_own_elements():
    """Levels of section 5 say nothing about wind, those of section 6 nothing about humidity."""
    ascent = ascent_from([1000.0, 700.0, 500.0], 0.0, 50.0, 270.0, 10.0)
    values = {
        "air_temperature": [0.0, 0.0],
        "dew_point_depression": [9.0, 9.0],
        "wind_from_direction": [270.0, 270.0],
        "wind_speed": [10.0, 10.0],
    }
    thermal = judged(ascent, levels_from([1000, 500], T, **values))
    windy = judged(ascent, levels_from([1000, 500], W, **values))
    standard = judged(ascent, levels_from([1000, 500], LevelKind.STANDARD, **values))
    assert thermal.worst["wind_speed"] is None
    assert windy.worst["air_temperature"] is None
    assert list(windy.uncovered["air_temperature"]) == [0, 1, 2]
    assert all(item is None for item in standard.worst.values())


def test_a_row_at_a_coded_pressure_belongs_to_the_segment_below():
    """The row at exactly 300 hPa is still held to 1 K, the next one above to 2 K."""
    ascent = ascent_from([1000.0, 300.0, 290.0, 280.0, 100.0], np.zeros(5))
    levels = levels_from([1000, 290, 100], T, air_temperature=np.zeros(3))
    assert list(judged(ascent, levels).limits["air_temperature"]) == [1.1, 1.1, 1.1, 2.1, 2.1]


def test_rows_moved_past_the_ends_by_rounding_are_not_missed():
    """A surface of 1000.4 hPa is coded 1000: its own row lies below the curve, and that is all."""
    ascent = ascent_from([1000.4, 990.0, 980.0], np.zeros(3))
    found = judged(ascent, levels_from([1000, 980], T, air_temperature=[0.0, 0.0]))
    assert np.isnan(found.misfits["air_temperature"][0])
    assert len(found.uncovered["air_temperature"]) == 0


def test_rows_nobody_can_rebuild_are_named():
    """Rows below the lowest and above the highest level, and in a layer without data."""
    ascent = ascent_from([1000.0, 900.0, 800.0, 700.0, 600.0, 500.0], np.zeros(6))
    kinds = [T, T | LevelKind.BEGIN_MISSING_TEMPERATURE, T | LevelKind.END_MISSING_TEMPERATURE]
    levels = levels_from([900, 800, 600], kinds, air_temperature=np.zeros(3))
    assert list(judged(ascent, levels).uncovered["air_temperature"]) == [0, 3, 5]


def test_levels_without_humidity_rebuild_no_humidity():
    """A level in a dry gap carries temperature alone."""
    ascent = ascent_from(
        [1000.0, 950.0, 900.0, 800.0, 700.0], np.zeros(5), [50.0, 50.0, NAN, NAN, 50.0]
    )
    levels = levels_from(
        [1000, 950, 850, 700],
        T | H,
        air_temperature=np.zeros(4),
        dew_point_depression=[9.0, 9.0, NAN, 9.0],
    )
    found = judged(ascent, levels)
    assert list(np.isnan(found.rebuilt["relative_humidity"])) == [False, False, True, True, True]
    assert not np.isnan(found.rebuilt["air_temperature"]).any()
    assert len(found.uncovered["relative_humidity"]) == 0


def test_two_levels_at_one_pressure_do_no_harm():
    """A report that gives a pressure twice is compared all the same."""
    ascent = ascent_from([1000.0, 700.0, 500.0], np.zeros(3))
    found = judged(ascent, levels_from([1000, 1000, 500], T, air_temperature=np.zeros(3)))
    assert found.misfits["air_temperature"][1] == 0.0


def test_no_levels_rebuild_nothing():
    """An empty report leaves every row uncovered and judges none."""
    ascent = ascent_from([1000.0, 700.0], np.zeros(2))
    found = judged(ascent, levels_from([], T))
    assert found.within_limits
    assert list(found.uncovered["air_temperature"]) == [0, 1]


def test_the_stricter_humidity_of_the_other_rule_set():
    """The fmh-3 rules allow 10 % (from memory)."""
    ascent = ascent_from([1000.0, 700.0, 500.0], np.zeros(3), np.full(3, 100.0))
    levels = levels_from(
        [1000, 500], T, air_temperature=np.zeros(2), dew_point_depression=np.zeros(2)
    )
    allowed = judged(ascent, levels).limits["relative_humidity"][1]
    assert judged(ascent, levels, rules=FMH3).limits["relative_humidity"][1] == allowed - 5.0


def test_coded_levels_are_what_a_reader_decodes():
    """Pressure, temperature, depression and wind in the steps of the code."""
    levels = Levels(
        {
            "air_pressure": [850.4, 99.96],
            "air_temperature": [10.35, -60.44],
            "dew_point_depression": [5.3, NAN],
            "wind_from_direction": [2.4, 358.0],
            "wind_speed": [10.0, 0.2],
        },
        np.array([T, T]),
    )
    found = coded_levels(levels, Coding("m s-1"), "wmo-49")
    assert list(found["air_pressure"]) == [850.0, 99.9]
    assert list(found["air_temperature"]) == [10.4, -60.5]
    assert found["dew_point_depression"][0] == 5.0
    assert np.isnan(found["relative_humidity"][1])
    assert list(found["wind_from_direction"]) == [360.0, 0.0]
    assert list(found["wind_speed"]) == [10.0, 0.0]
