"""Units are those of UDUNITS; wrong ones are refused with the one that was meant."""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np
import pytest

from encoder.columns import COLUMNS
from encoder.formats.units import USUAL_UNITS, converted, seconds_since_release, unit_fault


@pytest.mark.parametrize(
    ("name", "unit", "value", "expected"),
    [
        ("air_pressure", "Pa", 96480.0, 964.8),
        ("air_temperature", "K", 288.15, 15.0),
        ("air_temperature", "degF", 59.0, 15.0),
        ("relative_humidity", "1", 0.6, 60.0),
        ("geopotential_height", "ft", 1000.0, 304.8),
        ("wind_speed", "knot", 10.0, 10.0 * 1852.0 / 3600.0),
        ("wind_from_direction", "radian", np.pi, 180.0),
        ("time", "min", 2.0, 120.0),
        ("dew_point_depression", "degC", 5.0, 5.0),
        ("dew_point_depression", "degF", 9.0, 5.0),
    ],
)
def test_values_are_converted(name, unit, value, expected):
    """Every accepted unit gives the unit of the package; a depression is a difference."""
    assert unit_fault(COLUMNS[name], unit) is None
    result = converted(COLUMNS[name], unit, np.array([value, np.nan]))
    assert result[0] == pytest.approx(expected, abs=1e-9)
    assert np.isnan(result[1])


def test_every_usual_unit_is_accepted():
    """The units named in hints are accepted themselves, and every quantity has some."""
    assert set(USUAL_UNITS) == set(COLUMNS)
    for name, units in USUAL_UNITS.items():
        assert [unit for unit in units if unit_fault(COLUMNS[name], unit)] == []
        assert units[0] == COLUMNS[name].unit


@pytest.mark.parametrize(
    ("name", "unit", "code", "meant"),
    [
        ("air_pressure", "hpa", "unit-unknown", "hPa"),
        ("air_temperature", "C", "unit-of-other-kind", "degC"),
        ("geopotential_height", "gpm", "unit-unknown", "m"),
        ("wind_speed", "knots/h/h/h", "unit-of-other-kind", "m s-1"),
        ("wind_speed", "knotts", "unit-unknown", "knot"),
        ("air_pressure", "m", "unit-of-other-kind", "hPa"),
        ("time", "hPa", "unit-of-other-kind", "s"),
        ("time", "degC since 5", "unit-of-other-kind", "s"),
    ],
)
def test_wrong_unit_names_the_one_meant(name, unit, code, meant):
    """An unknown unit and one of another kind are told apart, each with the likely unit."""
    found = unit_fault(COLUMNS[name], unit)
    assert (found.code, found.value, found.expected) == (code, unit, meant)
    assert f'did you mean "{meant}"' in found.message


def test_times_from_another_moment_count_from_release():
    """A UDUNITS time reference is counted from release."""
    release = datetime(2031, 7, 15, 17, 16, 30, tzinfo=UTC)
    unit = "minutes since 2031-07-15 17:00"
    assert unit_fault(COLUMNS["time"], unit) is None
    seconds = seconds_since_release(unit, np.array([16.5, 17.5]), release)
    assert seconds == pytest.approx([0.0, 60.0], abs=1e-6)
