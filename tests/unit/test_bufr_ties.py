"""Halves of the text that a value of a message lies on: decided once, by the rows beside them."""

from __future__ import annotations

import numpy as np
import pytest

from encoder.formats.bufr.compose import message_content
from encoder.formats.bufr.level_block import STANDARD_GRAVITY, levels_of
from encoder.formats.bufr.read import read_message
from encoder.formats.bufr.subset import Block
from encoder.formats.bufr.ties import decide_ties
from encoder.formats.bufr.to_flight import report_of_sounding
from encoder.formats.bufr.write import write_message
from encoder.levels import select_levels
from encoder.levels.table import Levels
from encoder.report import encode_report
from encoder.rounding import round_half_away

PRECISION = {
    "air_pressure": 0.1,
    "geopotential_height": 1.0,
    "air_temperature": 0.01,
    "dew_point_temperature": 0.01,
    "wind_speed": 0.1,
}


def message(**columns):
    """Rows every two seconds, with what is given."""
    count = len(next(iter(columns.values())))
    given = {"time": 2.0 * np.arange(count), "air_pressure": 700.2 - np.arange(count)}
    given.update({name: np.array(values, float) for name, values in columns.items()})
    return Levels(given, np.zeros(count, np.int64), attributes={"precision": PRECISION})


def told(result):
    return [item.message for item in result.diagnostics]


@pytest.mark.parametrize(
    ("values", "figure"),
    [([5.4, 5.5, 5.5], 5.0), ([5.5, 5.5, 5.6], 6.0), ([5.4, 5.5, 5.6], 6.0)],
)
def test_wind_on_a_half_goes_where_the_rows_put_it(values, figure):
    """5.46 and 5.54 are both 5.5 in the message; rows that say nothing leave it away from zero."""
    rows = message(wind_speed=values)
    made = decide_ties(rows.select(np.array([1])), rows, wind_unit="m s-1")

    assert round_half_away(float(made.value["wind_speed"][0])) == figure
    assert "1 value(s) of the message lie halfway" in told(made)[0]


def test_height_on_a_half():
    """A line through the rows on both sides tells on which side the value was."""
    rising = 5600.3 + 9.7 * np.arange(200.0)
    height = np.round(rising)
    rows = message(air_pressure=400.0 - np.arange(200.0), geopotential_height=height)
    ties = np.flatnonzero(np.isclose(np.mod(height, 10.0), 5.0))
    ties = ties[(ties >= 4) & (ties < 196)]
    made = decide_ties(rows.select(ties), rows)

    assert len(ties) > 10
    coded = round_half_away(np.array(made.value["geopotential_height"]), 10.0)
    assert np.mean(coded == round_half_away(rising[ties], 10.0)) > 0.8


def test_no_half_no_change():
    """Values between halves, knots and missing values stay as they are, and nothing is told."""
    rows = message(wind_speed=[5.5, 5.5, 5.6], air_temperature=[1.23, np.nan, 1.26])
    made = decide_ties(rows, rows, wind_unit="kt")

    assert made.value is rows
    assert made.diagnostics == ()


def test_temperatures_and_ends_go_away_from_zero():
    """They have no rows that may decide: the half of a temperature is that of the flight."""
    rows = message(air_temperature=[-12.3, -12.25, -12.1], wind_speed=[6.5, 6.0, 7.0])
    made = decide_ties(rows, rows, wind_unit="m s-1")

    assert made.value["air_temperature"].tolist() == [-12.3, -12.25, -12.1]
    assert made.value["wind_speed"][0] == 6.5
    assert "2 value(s)" in told(made)[0]
    assert "0 of them were decided" in told(made)[0]


def test_levels_far_apart_decide_nothing():
    """A message of selected levels has no rows beside a level."""
    rows = message(wind_speed=[5.4, 5.5, 5.5])
    far = Levels({**rows.columns, "time": rows["time"] * 60.0}, rows.kinds, (), (), rows.attributes)

    assert decide_ties(far.select(np.array([1])), far, wind_unit="m s-1").value["wind_speed"] == 5.5


@pytest.mark.parametrize(
    ("name", "step", "coded", "share"),
    [
        ("air_pressure", 0.1, 1.0, 0.8),
        ("geopotential_height", 1.0, 10.0, 0.8),
        ("wind_speed", 0.1, 1.0, 0.6),
    ],
)
def test_decided_halves_are_those_of_the_flight(sample_flights, name, step, coded, share):
    """More halves come out as in the flight than by going away from zero (about a half)."""
    right, plain, count = 0, 0, 0
    for flight in sample_flights.values():
        ascent = flight.ascent
        rounded = round_half_away(np.array(ascent[name]), step)
        pressure = (
            np.array(ascent["air_pressure"])
            if name != "geopotential_height"
            else (400.0 - 1e-3 * np.arange(len(ascent)))
        )
        if name == "air_pressure":
            rounded[ascent["air_pressure"] < 100.0] = np.nan
            pressure = rounded
        columns = {"time": np.round(ascent["time"]), "air_pressure": pressure, name: rounded}
        rows = Levels(columns, np.zeros(len(ascent), np.int64), attributes={"precision": PRECISION})
        ties = np.flatnonzero(np.abs(np.mod(rounded / coded, 1.0) - 0.5) < 1e-6)
        made = decide_ties(rows.select(ties), rows, wind_unit="m s-1").value
        direct = round_half_away(np.array(ascent[name])[ties], coded)
        right += int(np.count_nonzero(round_half_away(np.array(made[name]), coded) == direct))
        plain += int(np.count_nonzero(round_half_away(rounded[ties], coded) == direct))
        count += len(ties)

    assert count > 500
    assert right / count > share > plain / count


def test_text_through_a_message_is_that_of_the_flight(sample_flights):
    """Of some hundred groups at most two differ, each by one figure of one value."""
    for flight in sample_flights.values():
        levels = select_levels(flight).value
        sounding = read_message(write_message(message_content(flight, levels).value).value).value[0]
        made = report_of_sounding(sounding, selection="flags", reporting=flight.reporting)
        direct, through = encode_report(flight, levels).value.text, made.value.text
        pairs = zip(direct.split(), through.split(), strict=True)
        differing = [pair for pair in pairs if pair[0] != pair[1]]
        assert len(differing) <= 2
        for one, other in differing:
            assert abs(int(one.strip("=")) - int(other.strip("="))) == 1


def test_height_of_a_geopotential_is_rounded_once():
    """Archive forms give m2/s2 in steps of ten: 14290 is 1457.17 gpm, not 1457.2."""
    block = Block(
        ("007004", "010003", "011001", "011002"), np.array([[85000.0, 14290.0, 1.0, 2.0]])
    )
    levels, _found = levels_of(block, None, position=(0.0, 0.0), formula="wmo-49", precision={})
    assert levels["geopotential_height"][0] == pytest.approx(14290.0 / STANDARD_GRAVITY, abs=1e-3)
