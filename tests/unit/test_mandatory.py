"""Mandatory significant levels: inversions, isothermal layers, their limits and noise."""

from __future__ import annotations

import numpy as np
import pytest

from encoder.levels.mandatory import (
    layer_limit,
    mandatory_levels,
    smoothed,
    stable_layers,
    turning_points,
)
from encoder.levels.representation import temperature_switch
from encoder.levels.rules import WMO
from encoder.levels.table import LevelKind

NAN = float("nan")
BOTH = LevelKind.SIGNIFICANT_TEMPERATURE | LevelKind.SIGNIFICANT_HUMIDITY


def found_in(pressure, temperature, humidity=NAN, tropopause=NAN):
    """Return pressure and rule of the mandatory levels."""
    pressure = np.asarray(pressure, float)
    levels = mandatory_levels(
        pressure,
        np.asarray(temperature, float),
        np.broadcast_to(np.asarray(humidity, float), len(pressure)),
        rules=WMO,
        tropopause=tropopause,
    )
    return [(float(pressure[item.row]), item.reason.rule) for item in levels]


def dense(points, step=0.5):
    """Return a curve through (hPa, degC) points with a row every ``step`` hPa."""
    pressures, values = zip(*points, strict=True)
    pressure = np.arange(pressures[0], pressures[-1], -step)
    return pressure, np.interp(-pressure, -np.array(pressures), values)


def test_a_thick_inversion_counts_however_weak():
    """Base and top of an inversion of 20 hPa or more are mandatory (35.3.1.2)."""
    assert found_in([1000, 950, 925, 900], [10.0, 7.0, 7.2, 5.0]) == [
        (950.0, "inversion-base"),
        (925.0, "inversion-top"),
    ]
    assert found_in([1000, 950, 931, 900], [10.0, 7.0, 7.2, 5.0]) == []


@pytest.mark.parametrize(("rise", "counts"), [(2.4, False), (2.5, True)])
def test_a_thin_inversion_counts_from_2_5_degrees(rise, counts):
    """Thinner than 20 hPa it takes 2.5 degrees (35.3.1.2)."""
    found = found_in([1000, 950, 940, 900], [10.0, 7.0, 7.0 + rise, 3.0])
    assert bool(found) is counts


@pytest.mark.parametrize(("change", "counts"), [(-19.0, False), (-20.0, True), (20.0, True)])
def test_a_thin_inversion_counts_from_20_percent(change, counts):
    """Or a change of relative humidity by 20 % either way; it is significant for humidity."""
    humidity = [60.0, 60.0, 60.0 + change, 40.0]
    found = mandatory_levels(
        np.array([1000.0, 950.0, 940.0, 900.0]),
        np.array([10.0, 7.0, 7.5, 3.0]),
        np.array(humidity),
        rules=WMO,
        tropopause=NAN,
    )
    assert bool(found) is counts
    assert all(item.kinds == LevelKind.SIGNIFICANT_HUMIDITY for item in found)


def test_humidity_alone_makes_no_layer():
    """Without an inversion a jump of humidity is left to the additional levels."""
    assert found_in([1000, 950, 940, 900], [10.0, 7.0, 6.5, 3.0], [60, 60, 10, 10]) == []


def test_an_isothermal_layer_counts_from_20_hpa():
    """An isothermal layer is mandatory from 20 hPa on (35.3.1.2)."""
    assert found_in([1000, 950, 940, 930, 900], [10.0, 7.0, 7.0, 7.0, 5.0]) == [
        (950.0, "isothermal-base"),
        (930.0, "isothermal-top"),
    ]
    assert found_in([1000, 950, 931, 900], [10.0, 7.0, 7.0, 5.0]) == []


def test_thin_inversions_close_together_are_one():
    """Inversions parted by thin lapse layers within 20 hPa have one base and one top (note)."""
    pressure = [1000, 900, 890, 880, 872, 800, 700]
    temperature = [15.0, 8.0, 9.5, 9.0, 10.6, 5.0, 0.0]
    assert found_in(pressure, temperature) == [(900.0, "inversion-base"), (872.0, "inversion-top")]


def test_a_further_inversion_beyond_20_hpa_stands_alone():
    """The next inversion begins more than 20 hPa above the top: both are kept apart."""
    pressure = [1000, 900, 890, 868, 860, 800]
    temperature = [15.0, 8.0, 11.0, 9.0, 12.0, 5.0]
    assert [item for item, _ in found_in(pressure, temperature)] == [900.0, 890.0, 868.0, 860.0]


def test_joined_inversions_stay_an_inversion():
    """Thin inversions in a layer that cools on the whole are not joined into one thick layer."""
    pressure = 1000.0 - 8.0 * np.arange(20)
    temperature = 15.0 - 0.4 * np.arange(20) + np.where(np.arange(20) % 2 == 1, 0.6, 0.0)
    assert found_in(pressure, temperature) == []
    pressure = np.concatenate(([1100.0, 1030.0], pressure - 5.0))
    temperature = np.concatenate(([20.0, 14.2], temperature))
    assert next(item for item, _ in found_in(pressure, temperature)) == 1030.0


def test_an_inversion_goes_on_through_an_isothermal_layer():
    """Isothermal and warming layers that touch are one layer."""
    pressure = [1000, 900, 890, 860, 800]
    temperature = [15.0, 8.0, 11.0, 11.0, 6.0]
    assert [item for item, _ in found_in(pressure, temperature)] == [900.0, 860.0]


def test_base_limit_is_the_higher_of_300_hpa_and_the_tropopause():
    """Tropopause at 400 hPa: base limit 300 hPa; at 150 hPa: 150 hPa (whichever is higher)."""
    assert layer_limit(WMO, 400.0) == 300.0
    assert layer_limit(WMO, 150.0) == 150.0
    assert layer_limit(WMO, NAN) == 300.0


def test_temperature_switch_is_the_lower_of_300_hpa_and_the_tropopause():
    """The opposite choice: tropopause at 400 hPa: 400 hPa; at 150 hPa: 300 hPa."""
    assert temperature_switch(WMO, 400.0) == 400.0
    assert temperature_switch(WMO, 150.0) == 300.0
    assert temperature_switch(WMO, NAN) == 300.0


@pytest.mark.parametrize(("tropopause", "counts"), [(NAN, False), (400.0, False), (150.0, True)])
def test_a_base_above_the_limit_does_not_count(tropopause, counts):
    """An inversion with its base at 250 hPa counts only below a higher tropopause."""
    found = found_in(
        [500, 300, 250, 225, 200], [-10.0, -40.0, -50.0, -45.0, -50.0], NAN, tropopause
    )
    assert bool(found) is counts


def test_a_surface_inversion_begins_at_the_surface():
    """The base of an inversion from the ground up is the surface row."""
    pressure, temperature = dense([(1000, 2.0), (960, 9.0), (800, 0.0), (600, -15.0)])
    assert [item for item, _ in found_in(pressure, temperature)] == [1000.0, 960.0]


@pytest.mark.parametrize("noise", [0.0, 0.05, 0.1, 0.2])
def test_noise_makes_no_inversions(noise):
    """Noise of up to 0.2 K on rows 5 m apart adds no layer and hides none."""
    points = [(1000, 20.0), (850, 8.0), (842, 12.0), (500, -18.0), (300, -42.0), (250, -50.0)]
    pressure, temperature = dense(points)
    for seed in range(5):
        random = np.random.default_rng(seed)
        noisy = temperature + random.normal(0.0, noise, len(temperature))
        found = [item for item, _ in found_in(pressure, noisy)]
        assert len(found) == 2
        assert abs(found[0] - 850.0) <= 2.0
        assert abs(found[1] - 842.0) <= 2.5


def test_noise_leaves_an_isothermal_layer_in_one_piece():
    """0.1 K of noise does not break up a deep isothermal layer."""
    points = [(1000, 20.0), (700, 0.0), (600, 0.0), (400, -25.0)]
    pressure, temperature = dense(points)
    noisy = temperature + np.random.default_rng(3).normal(0.0, 0.1, len(temperature))
    found = [item for item, _ in found_in(pressure, noisy)]
    assert len(found) == 2
    assert abs(found[0] - 700.0) < 8.0
    assert abs(found[1] - 600.0) < 8.0


def test_gaps_in_temperature_are_passed_over():
    """Rows without temperature take no part."""
    pressure = [1000, 950, 940, 925, 900]
    assert [p for p, _ in found_in(pressure, [10.0, 7.0, NAN, 9.9, 5.0])] == [950.0, 925.0]


def test_nothing_is_found_in_one_row_or_none():
    """One row, or no temperature at all, has no layers."""
    assert found_in([1000.0], [10.0]) == []
    assert found_in([1000.0, 900.0], [NAN, NAN]) == []


def test_the_reason_says_by_how_much_the_criterion_is_met():
    """A reason carries the numbers and the regulation."""
    (base, _) = mandatory_levels(
        np.array([1000.0, 950.0, 925.0, 900.0]),
        np.array([10.0, 7.0, 10.0, 5.0]),
        np.full(4, NAN),
        rules=WMO,
        tropopause=NAN,
    )
    assert base.reason.text == (
        "Inversion from 950.0 to 925.0 hPa: 25.0 hPa thick, limit 20 hPa; "
        "3.0 K warmer at the top, limit 2.5 K."
    )
    assert base.reason.source == "WMO-No. 306, 35.3.1.2"
    assert base.kinds == BOTH


def test_turning_points_ignore_small_reversals():
    """A reversal counts from the given amount on; of equal values the first is taken."""
    assert turning_points(np.array([0.0, 2.0, 1.9, 3.0, 1.0]), 0.5) == [0, 3, 4]
    assert turning_points(np.array([0.0, 2.0, 1.0, 3.0]), 0.5) == [0, 1, 2, 3]
    assert turning_points(np.array([3.0, 1.0, 1.0, 3.0]), 0.5) == [0, 1, 3]
    assert turning_points(np.array([1.0]), 0.5) == [0]
    assert turning_points(np.array([]), 0.5) == []


def test_running_means_keep_the_ends():
    """Means reach as far down as up, so the first and last rows stay."""
    pressure = np.array([1000.0, 999.0, 998.0, 990.0])
    assert list(smoothed(pressure, np.array([0.0, 3.0, 6.0, 9.0]), 2.0)) == [0.0, 3.0, 6.0, 9.0]
    assert list(smoothed(pressure, np.array([0.0, 9.0, 0.0, 9.0]), 2.0)) == [0.0, 3.0, 0.0, 9.0]


def test_layers_say_what_they_are():
    """Rise, depth and humidity change are those between base and top."""
    (layer,) = stable_layers(
        np.array([1000.0, 950.0, 925.0, 900.0]),
        np.array([10.0, 7.0, 9.0, 5.0]),
        np.array([50.0, 60.0, 30.0, 30.0]),
        rules=WMO,
    )
    assert (layer.base, layer.top, layer.rise, layer.depth) == (1, 2, 2.0, 25.0)
    assert (layer.humidity_change, layer.word) == (-30.0, "inversion")
