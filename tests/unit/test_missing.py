"""Layers without data."""

from __future__ import annotations

import numpy as np
import pytest

from encoder.levels.missing import missing_layers
from encoder.levels.rules import WMO
from encoder.levels.stretches import missing_stretches, wind_rows
from encoder.levels.table import LevelKind
from tests.ascents import ascent_of

PRESSURE = np.arange(1000.0, 99.0, -2.0)


def ascent(**missing):
    """Return rows each 2 hPa; a column given as (first, last) is missing between those hPa."""
    height = 8000.0 * np.log(1000.0 / PRESSURE)
    result = ascent_of(height, 20.0 - height * 0.006, pressure=PRESSURE)
    columns = {}
    for name, (first, last) in missing.items():
        inside = (first >= PRESSURE) & (last <= PRESSURE)
        columns[name] = np.where(inside, np.nan, result[name])
    return result.with_columns(columns)


def limits(levels):
    """Return pressures with the kinds found there."""
    return dict(zip(levels["air_pressure"], levels.kinds, strict=True))


HUMIDITY = ("BEGIN_MISSING_HUMIDITY", "END_MISSING_HUMIDITY")
WIND = ("BEGIN_MISSING_WIND", "END_MISSING_WIND")


@pytest.mark.parametrize(
    ("column", "kinds", "thickness"),
    [
        ("dew_point_temperature", HUMIDITY, 20.0),
        ("wind_speed", WIND, 50.0),
        ("wind_from_direction", WIND, 50.0),
    ],
)
def test_layer_of_the_least_thickness(column, kinds, thickness):
    """20 hPa for humidity, 50 hPa for wind, between the rows with data (35.3.1.6, 35.3.2.2)."""
    begin, end = (int(LevelKind[name]) for name in kinds)
    thick = missing_layers(ascent(**{column: (598.0, 602.0 - thickness)}), rules=WMO).value
    assert limits(thick) == {600.0: begin, 600.0 - thickness: end}
    thin = missing_layers(ascent(**{column: (598.0, 604.0 - thickness)}), rules=WMO).value
    assert len(thin) == 0


def test_layer_without_temperature_has_no_dew_point_either():
    """Both are marked when temperature and dew point are missing together."""
    layer = (598.0, 570.0)
    levels = missing_layers(
        ascent(air_temperature=layer, dew_point_temperature=layer), rules=WMO
    ).value
    begin = LevelKind.BEGIN_MISSING_TEMPERATURE | LevelKind.BEGIN_MISSING_HUMIDITY
    end = LevelKind.END_MISSING_TEMPERATURE | LevelKind.END_MISSING_HUMIDITY
    assert limits(levels) == {600.0: int(begin), 568.0: int(end)}
    assert {reason.rule for reason in levels.reasons[0]} == {
        "begin-missing-temperature",
        "begin-missing-humidity",
    }


def test_limits_carry_the_data_of_their_rows():
    """The limits are rows with data: value, row index and reason are given."""
    levels = missing_layers(ascent(air_temperature=(598.0, 570.0)), rules=WMO).value
    assert np.all(np.isfinite(levels["air_temperature"]))
    assert levels.rows == ((200,), (216,))
    assert "600.0 hPa to 568.0 hPa: 32.0 hPa" in levels.reasons[0][0].text


def test_permanently_missing_has_a_beginning_only():
    """Humidity that never comes back is marked once, where it ends."""
    levels = missing_layers(ascent(dew_point_temperature=(298.0, 0.0)), rules=WMO).value
    assert limits(levels) == {300.0: int(LevelKind.BEGIN_MISSING_HUMIDITY)}
    assert "the top at 100.0 hPa" in levels.reasons[0][0].text


def test_short_loss_at_the_top_is_not_a_layer():
    """Wind missing over the last 40 hPa is simply the end of the wind sounding."""
    assert len(missing_layers(ascent(wind_speed=(138.0, 0.0)), rules=WMO).value) == 0


def test_missing_right_above_the_surface():
    """Rows missing above the surface observation: the layer begins at the surface."""
    levels = missing_layers(ascent(wind_speed=(998.0, 902.0)), rules=WMO).value
    begin, end = LevelKind.BEGIN_MISSING_WIND, LevelKind.END_MISSING_WIND
    assert limits(levels) == {1000.0: int(begin), 900.0: int(end)}


def test_missing_from_the_surface_on():
    """When the surface has no value either there is only an end."""
    levels = missing_layers(ascent(wind_speed=(1000.0, 902.0)), rules=WMO).value
    assert limits(levels) == {900.0: int(LevelKind.END_MISSING_WIND)}
    assert "the surface to 900.0 hPa" in levels.reasons[0][0].text


def test_nothing_at_all_is_not_a_layer():
    """No wind and no humidity in the whole flight give no limits; there are no rows with data."""
    nothing = (2000.0, 0.0)
    levels = missing_layers(ascent(wind_speed=nothing, dew_point_temperature=nothing), rules=WMO)
    assert len(levels.value) == 0


def test_two_layers_share_a_row():
    """One row between two layers ends the first and begins the second."""
    first = ascent(wind_speed=(798.0, 702.0))
    both = np.where((PRESSURE < 700.0) & (PRESSURE > 600.0), np.nan, first["wind_speed"])
    levels = missing_layers(first.with_columns({"wind_speed": both}), rules=WMO).value
    shared = LevelKind.BEGIN_MISSING_WIND | LevelKind.END_MISSING_WIND
    assert limits(levels)[700.0] == int(shared)


def test_calm_without_direction_is_a_wind():
    """A calm needs no direction; a speed without direction is no wind."""
    result = ascent().with_columns(
        {
            "wind_speed": np.where(PRESSURE > 500.0, 0.0, 10.0),
            "wind_from_direction": np.full(len(PRESSURE), np.nan),
        }
    )
    assert np.array_equal(wind_rows(result), PRESSURE > 500.0)


@pytest.mark.parametrize(
    ("valid", "expected"),
    [
        ([], []),
        ([False, False], []),
        ([True, True], []),
        ([True, False, True, True], [(0, 2)]),
        ([False, True, True, False], [(-1, 1), (2, 4)]),
        ([True, False, True, False], [(0, 2), (2, 4)]),
    ],
)
def test_stretches(valid, expected):
    """Last row with data below and first one above; -1 and the count where there is none."""
    pressure = 1000.0 - 30.0 * np.arange(len(valid))
    assert missing_stretches(pressure, np.array(valid, dtype=bool), 30.0) == expected


@pytest.mark.parametrize("count", [0, 1, 2])
def test_very_short_ascents(count):
    """Ascents of no, one or two rows have no layers."""
    rows = ascent_of(np.arange(count) * 100.0, 10.0, humidity=np.nan)
    assert len(missing_layers(rows, rules=WMO).value) == 0
