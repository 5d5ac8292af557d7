"""Flights in every form: what each part says, and that it reads back."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from encoder.codes import FORMS
from encoder.errors import InputError
from encoder.formats.flight_folder import read_flight
from encoder.levels import select_levels
from encoder.levels.table import LevelKind, Levels
from encoder.profile import Flight
from encoder.report import Report, WindPractice, decode_reports, encode_content, encode_report
from encoder.resolution import KNOT

SAMPLES = Path(__file__).parents[2] / "samples" / "flights"
NAMES = ("harrow-tarn", "halden-dome", "saltmere-point")
USUAL = WindPractice()


@cache
def sample(name: str) -> tuple[Flight, Levels]:
    """Return a sample flight with a call sign and the accuracy of its elevation, and its levels."""
    flight = read_flight(SAMPLES / name).value
    assert flight is not None
    station = {**flight.document["station"], "call_sign": "QCW07", "elevation_quality": 3}
    flight = replace(flight, document={**flight.document, "station": station})
    return flight, select_levels(flight).value


def encoded(name: str, form: str, practice: WindPractice = USUAL, **station: Any) -> Report:
    """Return the report of a sample flight, with facts of its station changed."""
    flight, levels = sample(name)
    flight = replace(flight, station=replace(flight.station, **station))
    report, found = encode_report(flight, levels, form=form, practice=practice)
    assert found == ()
    return report


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("form", [n for n, f in FORMS.items() if len(f.parts) == 4])
def test_every_form_reads_back(name: str, form: str) -> None:
    """A flight in any form gives parts that are read without a word and coded alike again."""
    report = encoded(name, form)
    (again,), found = decode_reports(report.text)
    assert [one.code for one in found] == []
    assert report.text.split() == encode_content([p.content for p in again.parts]).value.split()


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize(
    "practice",
    [
        WindPractice("pressure", "pressure"),
        WindPractice("pressure", "altitude"),
        WindPractice("altitude", "altitude"),
        WindPractice(step=500),
    ],
)
def test_every_wind_practice_reads_back(name: str, practice: WindPractice) -> None:
    """Each way of giving the winds of a PILOT reads back without a word."""
    report = encoded(name, "FM 32", practice)
    (again,), found = decode_reports(report.text)
    assert [one.code for one in found] == []
    assert report.text.split() == encode_content([p.content for p in again.parts]).value.split()


def test_forms_differ_in_their_identification_alone() -> None:
    """A flight says the same levels in FM 35, 36, 37 and 38."""
    said = [
        [part.content.sections[1:] for part in encoded("harrow-tarn", form).parts]
        for form in ("FM 35", "FM 36", "FM 37", "FM 38")
    ]
    assert said[0] == said[1] == said[2] == said[3]


@pytest.mark.parametrize(
    ("latitude", "longitude", "groups"),
    [
        (53.42, -18.33, "99534 70183 18234"),
        (-53.42, -18.36, "99534 50184 48138"),
        (-0.04, 179.97, "99000 31800 31800"),
        (90.0, 0.0, "99900 10000 93600"),
    ],
)
def test_position_of_a_ship(latitude: float, longitude: float, groups: str) -> None:
    """The position goes to a tenth of a degree, with quadrant and Marsden square."""
    report = encoded("harrow-tarn", "FM 36", latitude=latitude, longitude=longitude)
    square = f"{groups[12:15]}"
    assert groups[:12] == " ".join(report.text.split()[3:5]) + " "
    assert square == report.text.split()[5][:3]
    assert list(decode_reports(report.text).diagnostics) == []


def test_fixed_altitudes_lie_on_the_ascent() -> None:
    """Winds at fixed altitudes are those of the ascent there, within the rounding of the code."""
    flight, _levels = sample("harrow-tarn")
    (again,), _found = decode_reports(encoded("harrow-tarn", "FM 32").text)
    ascent = flight.ascent
    pairs = 0
    for part in again.parts:
        for record in part.content.records("4"):
            units = record.get("altitude_units")
            if units is None or record.get("wind_speed") is None:
                continue
            height = 300.0 * float(units)
            speed = np.interp(height, ascent["geopotential_height"], ascent["wind_speed"])
            assert abs(float(record.get("wind_speed") or 0.0) - speed) <= 0.5 * KNOT + 0.1
            pairs += 1
    assert pairs > 30


def test_altitudes_in_region_iv() -> None:
    """Region IV gives its fixed altitudes in thousands of feet and the surface as 0."""
    groups = encoded("harrow-tarn", "FM 32", wmo_region=4).text
    assert " 90/" not in groups
    assert " 900" in groups
    elsewhere = encoded("harrow-tarn", "FM 32").text
    assert " 90/" in elsewhere


def test_winds_by_pressure_stand_alone() -> None:
    """Significant winds are given by altitude or by pressure, not both."""
    by_altitude = encoded("harrow-tarn", "FM 32").text
    by_pressure = encoded("harrow-tarn", "FM 32", WindPractice("pressure")).text
    assert ("21212" in by_altitude, "21212" in by_pressure) == (False, True)
    part = encoded("harrow-tarn", "FM 32", WindPractice("pressure")).part("B")
    assert part is not None
    assert part.content.records("4") == ()


def test_every_wind_level_has_its_place_in_the_table() -> None:
    """Standard levels and maximum winds of a PILOT are traced to the level table."""
    report = encoded("harrow-tarn", "FM 32")
    standard = [
        entry
        for entry in report.trace
        if entry.section == "2" and entry.symbol == "ddfff" and entry.part in ("PPAA", "PPCC")
    ]
    assert len(standard) > 10
    for entry in standard:
        assert entry.level is not None
        assert report.levels.kinds[entry.level] & LevelKind.STANDARD
        assert entry.rows


def test_maximum_wind_by_altitude() -> None:
    """By altitude the maximum wind goes as 7HmHmHmHm, in tens of metres."""
    report = encoded("saltmere-point", "FM 32", WindPractice("altitude", "altitude"))
    part = report.part("A")
    assert part is not None
    heights = [
        record.get("geopotential_height")
        for record in part.content.records("3", "maximum-wind-by-altitude")
    ]
    assert heights
    assert f" 7{round(float(heights[0] or 0) / 10):04d} " in " ".join(part.text.split())


def test_sea_temperature() -> None:
    """The sea-surface temperature of a ship goes into section 7."""
    flight, levels = sample("harrow-tarn")
    surface = {**flight.document["surface"], "sea_temperature_degc": 11.3}
    flight = replace(flight, document={**flight.document, "surface": surface})
    report = encode_report(flight, levels, form="FM 36").value
    assert " 90113" in " ".join(report.text.split())


def test_part_that_the_flight_does_not_reach() -> None:
    """A part above 100 hPa cannot be made from a flight that ends below, and that is told."""
    flight, levels = sample("halden-dome")
    report, found = encode_report(flight, levels, letters=["A", "C"])
    assert (
        [one.code for one in found],
        [part.letters for part in report.parts],
    ) == (["levels-not-in-parts"], ["TTAA"])


@pytest.mark.parametrize("form", ["FM 75", "FM 94", "TEMP"])
def test_forms_that_one_flight_does_not_fill(form: str) -> None:
    """A monthly or unknown form is refused, with the forms that can be made."""
    flight, levels = sample("halden-dome")
    with pytest.raises(InputError, match="FM 35"):
        encode_report(flight, levels, form=form)
