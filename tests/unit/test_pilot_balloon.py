"""Ascents of pilot balloons: time, height and wind, no pressure and no temperature."""

from __future__ import annotations

import numpy as np
import pytest

from encoder.formats.flight_folder import read_flight
from encoder.levels import LevelKind, select_levels
from encoder.levels.altitudes import STANDARD_ALTITUDES
from encoder.physics import shortest_turn
from encoder.report import decode_reports
from encoder.resolution import coded_wind
from encoder.verify import verify
from tests.flights import codes_of, facts_of, the, write_flight
from tests.pilot_balloons import coded, facts, rows, text_of


@pytest.fixture
def balloon(tmp_path):
    """Return the flight of :func:`rows`."""
    return read_flight(write_flight(tmp_path, facts(), rows())).raise_for_errors()


# --- reading ----------------------------------------------------------------------------------


def test_flight_has_heights_and_no_pressure(balloon):
    """Nothing is invented: pressure and temperature are missing in every row."""
    assert balloon.ascent.by_height
    assert np.isnan(balloon.ascent["air_pressure"]).all()
    assert np.isnan(balloon.ascent["air_temperature"]).all()
    assert np.isnan(balloon.surface.air_pressure)
    assert np.all(np.diff(balloon.ascent["geopotential_height"]) > 0.0)
    assert balloon.ascent.source_row[0] == 0
    assert balloon.diagnostics == ()


def test_flight_says_that_winds_are_alone(tmp_path):
    """Without winds_alone a file without temperature is refused, and the hint tells the key."""
    document = facts_of()
    result = read_flight(write_flight(tmp_path, document, rows()))

    assert result.value is None
    assert "winds_alone" in the(result, "column-missing").hint


def test_surface_may_lack_pressure_only_with_winds_alone(tmp_path):
    """air_pressure_hpa and air_temperature_degc stay needed for every other flight."""
    document = facts_of()
    document["surface"] = {"wind_speed_m_s": 5.0, "wind_from_direction_degree": 200.0}
    result = read_flight(write_flight(tmp_path, document))

    assert codes_of(result) == ["key-missing", "key-missing"]
    document["surface"] |= {"air_pressure_hpa": None, "air_temperature_degc": 3.0}
    result = read_flight(write_flight(tmp_path, document))
    assert codes_of(result) == ["value-not-allowed"]


def test_winds_alone_need_winds(tmp_path):
    """A flight of winds alone without a wind is an error."""
    bare = {name: rows()[name] for name in ("time", "geopotential_height")}
    result = read_flight(write_flight(tmp_path, facts(), bare))
    assert the(result, "wind-not-given").severity == "error"
    empty = rows(wind_speed=np.full(len(rows()["time"]), np.nan))
    result = read_flight(write_flight(tmp_path, facts(), empty))
    assert "column-empty-but-needed" in codes_of(result)


def test_geometric_height_becomes_geopotential(tmp_path):
    """A theodolite gives geometric heights: they are turned with the gravity of the latitude."""
    given = rows()
    given["altitude"] = given.pop("geopotential_height")
    flight = read_flight(write_flight(tmp_path, facts(), given)).raise_for_errors()

    shift = given["altitude"][-1] - flight.ascent["geopotential_height"][-1]
    assert 20.0 < shift < 120.0


def test_temperatures_of_winds_alone_are_told(tmp_path):
    """Temperatures beside winds_alone are not dropped in silence."""
    given = rows()
    given["air_temperature"] = np.maximum(15.0 - 0.0065 * given["geopotential_height"], -56.5)
    result = read_flight(write_flight(tmp_path, facts(), given))

    assert the(result, "column-superseded").path == ("air_temperature",)
    assert coded(result.value).form == "FM 32"


def test_rows_without_height_are_left_out(tmp_path):
    """A row without height has no place; it is named."""
    given = rows()
    given["geopotential_height"][7] = np.nan
    result = read_flight(write_flight(tmp_path, facts(), given))

    assert the(result, "row-without-height").rows == (9,)
    assert len(result.value.ascent) == len(given["time"])


def test_pressure_is_used_where_it_was_measured(tmp_path):
    """Winds alone with pressure go by pressure: 44nP1P1, from 850 hPa up."""
    given = rows()
    given["air_pressure"] = 1013.25 * np.exp(-given["geopotential_height"] / 7400.0)
    document = facts()
    document["surface"]["air_pressure_hpa"] = 958.3
    flight = read_flight(write_flight(tmp_path, document, given)).raise_for_errors()
    report = coded(flight)

    assert not flight.ascent.by_height
    assert select_levels(flight).diagnostics == ()
    assert report.form == "FM 32"
    assert text_of(report, "PPAA").split()[3][:5] == "44385"


# --- levels -----------------------------------------------------------------------------------


@pytest.mark.parametrize("method", ["largest-deviation", "fewest-levels"])
def test_levels_rebuild_every_row(balloon, method):
    """Straight lines in height between significant levels: 10 degrees and 5 m/s, half a step."""
    levels, found = select_levels(balloon, method=method)
    picked = levels.having(LevelKind.SIGNIFICANT_WIND | LevelKind.SURFACE)
    heights = levels["geopotential_height"][picked]
    direction, speed = coded_wind(
        levels["wind_from_direction"][picked],
        levels["wind_speed"][picked],
        _knots(),
    )
    own = balloon.ascent["geopotential_height"]
    inside = own <= heights[-1]
    rebuilt = np.interp(own, heights, speed)
    turned = np.interp(own, heights, np.degrees(np.unwrap(np.radians(direction))))

    assert "tolerance-not-met" not in {item.code for item in found}
    assert np.all(np.abs(rebuilt - balloon.ascent["wind_speed"])[inside] <= 5.0 + 0.2572223)
    off = np.abs(shortest_turn(np.mod(turned, 360.0), balloon.ascent["wind_from_direction"]))
    assert np.all(off[inside] <= 12.5 + 1e-9)


def _knots():
    from encoder.resolution import Coding

    return Coding("kt")


def test_fewest_levels_are_no_more(balloon):
    """The smallest set has no more levels than the other method."""
    counts = [
        len(select_levels(balloon, method=method).value.having(LevelKind.SIGNIFICANT_WIND))
        for method in ("fewest-levels", "largest-deviation")
    ]
    assert counts[0] <= counts[1]


def test_levels_stand_at_whole_units(balloon):
    """Significant winds lie at whole units of 300 m, as the code has no others."""
    levels = select_levels(balloon).value
    picked = levels.having(LevelKind.SIGNIFICANT_WIND)
    heights = levels["geopotential_height"][picked][1:]

    assert np.array_equal(heights, 300.0 * np.round(heights / 300.0))
    assert np.all(np.diff(levels["geopotential_height"]) > 0.0)
    assert np.isnan(levels["air_pressure"]).all()
    assert all(
        "hPa" not in reason.text
        for own in levels.reasons
        for reason in own[:1]
        if own and reason.rule != "standard-by-altitude"
    )


def test_standard_surfaces_come_by_altitude(balloon):
    """From 850 hPa up, at the altitudes that stand for them, marked as found by height."""
    levels = select_levels(balloon).value
    picked = levels.having(LevelKind.STANDARD)
    expected = [z for p, z in STANDARD_ALTITUDES.items() if p <= 850.0 and z <= 20_000.0]

    assert levels["geopotential_height"][picked].tolist() == expected
    assert all(levels.kinds[picked] & int(LevelKind.PRESSURE_FROM_HEIGHT))


def test_maximum_wind_is_that_of_the_flight(balloon):
    """Above the altitude of 500 hPa and over 30 m/s: 45 m/s at 11 km, by altitude."""
    levels = select_levels(balloon).value
    (index,) = levels.having(LevelKind.MAXIMUM_WIND)

    assert abs(levels["geopotential_height"][index] - 11_000.0) <= 50.0
    assert abs(levels["wind_speed"][index] - 45.0) < 0.1
    assert np.isfinite(levels["wind_shear_below"][index])


def test_layer_without_wind_is_shown(tmp_path):
    """A layer of 1500 m or more has limits, and no wind is made up in it (B/C20.7.5)."""
    given = rows()
    lost = (given["geopotential_height"] > 4000.0) & (given["geopotential_height"] < 7000.0)
    given["wind_speed"][lost] = np.nan
    flight = read_flight(write_flight(tmp_path, facts(), given)).value
    levels = select_levels(flight).value
    begin = levels["geopotential_height"][levels.having(LevelKind.BEGIN_MISSING_WIND)]
    end = levels["geopotential_height"][levels.having(LevelKind.END_MISSING_WIND)]
    report = coded(flight)

    assert (begin.tolist(), end.tolist()) == ([3900.0], [7200.0])
    assert " 55385 " in text_of(report, "PPAA")
    assert " ///// " in text_of(report, "PPAA")
    assert " 91468 ///// ///// ///// 92045 ///// 2" in text_of(report, "PPBB")


def test_a_short_gap_is_bridged(tmp_path):
    """A layer of less than 1500 m without wind is read as a straight line."""
    given = rows()
    lost = (given["geopotential_height"] > 4000.0) & (given["geopotential_height"] < 5000.0)
    given["wind_speed"][lost] = np.nan
    levels = select_levels(read_flight(write_flight(tmp_path, facts(), given)).value).value

    assert len(levels.having(LevelKind.BEGIN_MISSING_WIND)) == 0


def test_a_step_of_the_wind_is_told(tmp_path):
    """A wind that jumps within one unit cannot be coded within the limits: a finding says so."""
    given = rows()
    given["wind_speed"][given["geopotential_height"] > 5050.0] += 25.0
    found = select_levels(read_flight(write_flight(tmp_path, facts(), given)).value).diagnostics

    (item, *_more) = [one for one in found if one.code == "tolerance-not-met"]
    assert " m, limit " in item.message
    assert "hPa" not in item.message


@pytest.mark.parametrize(
    ("top", "letters"), [(500.0, 2), (900.0, 2), (16_400.0, 2), (16_900.0, 4), (31_500.0, 4)]
)
def test_any_top(tmp_path, top, letters):
    """Low, middle and high ascents are coded, read back and verified; C and D above 16 500 m."""
    flight = read_flight(write_flight(tmp_path, facts(), rows(top))).value
    report = coded(flight)
    (decoded,), found = decode_reports(report.text)

    assert len(report.parts) == letters
    assert verify(flight, decoded, report_diagnostics=found).may_be_sent
