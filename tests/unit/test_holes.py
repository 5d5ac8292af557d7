"""Rows that were lost on the way: nothing is known between, so nothing is said there."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from encoder.ascent.holes import longest_step, with_holes_shown
from encoder.levels import select_levels
from encoder.levels.table import LevelKind
from encoder.report import decode_reports, encode_report
from encoder.verify import verify
from tests.ascents import ascent_of

STEPS = np.arange(0.0, 12_000.0, 50.0)


def rows_without(first, last):
    """Return rows each 50 m, those between two heights lost; 5 m/s."""
    height = STEPS[(first >= STEPS) | (last <= STEPS)]
    ascent = ascent_of(height, 20.0 - height * 0.006)
    return ascent.with_columns({"time": height / 5.0})


def flight_without(flight, first, last):
    """Return a flight whose rows between two pressures were lost."""
    pressure = flight.ascent["air_pressure"]
    return replace(flight, ascent=flight.ascent.select((pressure > first) | (pressure < last)))


def test_two_rows_without_data_in_a_hole():
    """They lie inside, have no values but pressure, and belong to the rows on their sides."""
    ascent = rows_without(3000.0, 5000.0)
    shown, rows = with_holes_shown(ascent, 20.0)
    new = np.flatnonzero(np.diff(rows) == 0)

    assert len(shown) == len(ascent) + 2
    assert np.all(np.diff(shown["air_pressure"]) < 0.0)
    assert rows[new].tolist() == [60, 61]
    assert np.isnan(shown["air_temperature"][[new[0] + 1, new[1]]]).all()
    assert np.array_equal(ascent["time"][rows[np.isfinite(shown["time"])]], ascent["time"])


@pytest.mark.parametrize("last", [3050.0, 3450.0])
def test_short_steps_are_no_holes(last):
    """A step within ten usual ones is bridged; without holes the ascent itself comes back."""
    ascent = rows_without(3000.0, last)
    assert with_holes_shown(ascent, 20.0)[0] is ascent


def test_a_long_step_in_thin_air_is_bridged():
    """Fewer than 20 hPa are read as a straight line (WMO-No. 306, 35.3.1.6)."""
    ascent = rows_without(11_300.0, 11_850.0)
    assert with_holes_shown(ascent, 20.0)[0] is ascent
    assert with_holes_shown(ascent, 5.0)[0] is not ascent


def test_levels_of_a_report_have_no_holes():
    """Rows that are far apart everywhere are a table of levels."""
    assert longest_step(np.arange(0.0, 6000.0, 300.0)) == 3000.0
    assert longest_step(np.array([0.0, 500.0])) == float("inf")


@pytest.mark.parametrize("name", ["harrow-tarn", "halden-dome", "saltmere-point"])
@pytest.mark.parametrize("method", ["largest-deviation", "fewest-levels"])
def test_nothing_is_coded_inside_a_hole(sample_flights, name, method):
    """500 hPa has no values, limits mark the layer, and the verdict agrees with it."""
    flight = flight_without(sample_flights[name], 560.0, 440.0)
    levels = select_levels(flight, method=method).value
    at = int(np.flatnonzero(levels["air_pressure"] == 500.0)[0])
    begins = levels.having(LevelKind.BEGIN_MISSING_TEMPERATURE | LevelKind.BEGIN_MISSING_WIND)
    report = encode_report(flight, levels).value

    for column in ("geopotential_height", "air_temperature", "wind_speed"):
        assert np.isnan(levels[column][at])
    assert any(levels["air_pressure"][begins] > 560.0)
    assert all(0 <= row < len(flight.ascent) for item in levels.rows for row in item)
    assert "50/// ///// /////" in " ".join(report.text.split())
    assert verify(flight, decode_reports(report.text).value[0]).may_be_sent


def test_a_report_that_bridges_a_hole_is_refused(sample_flights):
    """What the whole flight says inside the hole is an invention for the flight with the hole."""
    whole = sample_flights["halden-dome"]
    said = encode_report(whole, select_levels(whole).value).value
    verdict = verify(flight_without(whole, 560.0, 440.0), decode_reports(said.text).value[0])

    assert not verdict.may_be_sent
    assert "curve-invented" in {item.code for item in verdict.diagnostics}
