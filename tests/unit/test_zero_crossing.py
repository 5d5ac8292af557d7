"""Levels of 0 degC."""

from __future__ import annotations

import numpy as np
import pytest

from encoder.levels.table import LevelKind
from encoder.levels.zero_crossing import zero_crossings
from encoder.physics import dew_point
from tests.ascents import ascent_of


def ascent(temperature, pressure=None, **more):
    """Return rows 100 hPa apart from 1000 hPa."""
    count = len(temperature)
    pressure = 1000.0 - 100.0 * np.arange(count) if pressure is None else np.asarray(pressure)
    height = 8000.0 * np.log(1000.0 / pressure)
    return ascent_of(height, temperature, pressure=pressure, **more)


def test_crossing_is_interpolated():
    """From 5 to -5 degC the crossing lies halfway in ln p; every quantity is given there."""
    levels = zero_crossings(ascent([5.0, -5.0], humidity=[80.0, 60.0])).value
    assert list(levels.kinds) == [int(LevelKind.FREEZING)]
    assert levels["air_pressure"][0] == pytest.approx(np.sqrt(1000.0 * 900.0))
    assert levels["air_temperature"][0] == 0.0
    assert levels["relative_humidity"][0] == pytest.approx(70.0)
    assert levels["dew_point_temperature"][0] == pytest.approx(float(dew_point(0.0, 70.0)))
    assert levels["geopotential_height"][0] == pytest.approx(425.3, abs=0.1)
    assert levels.rows == ((0, 1),)
    assert "948.7 hPa" in levels.reasons[0][0].text


@pytest.mark.parametrize(
    ("temperature", "expected"),
    [
        ([5.0, 0.0, -5.0], [900.0]),
        ([5.0, 0.0, 0.0, -5.0], [900.0]),
        ([0.0, -5.0], [1000.0]),
        ([5.0, 0.0], [900.0]),
        ([5.0, 0.0, 0.0], [900.0]),
        ([0.0], [1000.0]),
        ([0.0, 0.0], [1000.0]),
        ([5.0, 0.0, 5.0], []),
        ([5.0, 4.0], []),
        ([-5.0, -4.0], []),
        ([5.0], []),
        ([], []),
    ],
)
def test_exactly_zero_counts_once(temperature, expected):
    """A row, or a run of rows, of exactly 0 degC is one crossing; touching zero is none."""
    levels = zero_crossings(ascent(temperature)).value
    assert list(levels["air_pressure"]) == expected
    assert [len(rows) for rows in levels.rows] == [1] * len(expected)


def test_inversion_gives_three():
    """A warm layer aloft over frost: down, up and down again."""
    levels = zero_crossings(ascent([2.0, -2.0, 2.0, -2.0])).value
    assert len(levels) == 3
    assert np.all(np.diff(levels["air_pressure"]) < 0.0)


def test_noise_gives_one_crossing():
    """Noise of 0.05 K at one-second rows does not multiply the crossing."""
    height = np.arange(0.0, 6000.0, 5.0)
    noise = 0.05 * np.random.default_rng(3).standard_normal(len(height))
    rows = ascent_of(height, 13.0 - height * 0.0065 + np.clip(noise, -0.099, 0.099))
    levels = zero_crossings(rows).value
    assert len(levels) == 1
    assert levels["geopotential_height"][0] == pytest.approx(2000.0, abs=30.0)


def test_gap_is_bridged_only_when_thin():
    """Across a thin gap the crossing is interpolated; in one of 20 hPa or more none is claimed."""
    thin = ascent([1.0, np.nan, -1.0], pressure=[700.0, 695.0, 690.0])
    thick = ascent([1.0, np.nan, -1.0], pressure=[700.0, 690.0, 680.0])
    assert zero_crossings(thin).value["air_pressure"][0] == pytest.approx(np.sqrt(700.0 * 690.0))
    assert len(zero_crossings(thick).value) == 0


def test_no_temperature_no_crossing():
    """Without temperature there is none."""
    assert len(zero_crossings(ascent([np.nan, np.nan, np.nan])).value) == 0
