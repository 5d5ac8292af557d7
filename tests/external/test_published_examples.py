"""Worked examples that handbooks and courses print beside their meaning.

Sources:

* United States Navy, Aerographer's Mate module 14270, unit 1 (public domain): groups of TEMP and
  PILOT with their meaning in words.
* Lyndon State College, course MET 1211L, page "raob": part A of station 72518 with the meaning of
  each group of the standard levels.

Groups of the module stand in a part made of them; heading words and the other groups are ours.
"""

from __future__ import annotations

import pytest

from encoder.report import decode_reports, encode_content
from encoder.resolution import KNOT

COURSE = (
    "TTAA 81001 72518 99030 08863 33004 00263 10464 34016 92904 04461 00518 85585 00079 01526 "
    "70138 04182 32526 50572 17372 31549 40736 28766 31052 30935 45763 30055 25054 55158 29568 "
    "20193 63557 28573 15371 58560 27071 10624 62164 28053 88192 64957 28579 77182 28581 41314 "
    "51515 10164 00021 10194 36018 34526="
)


def part(text):
    """Return what the one part of a text says."""
    (report,), _found = decode_reports(text)
    return report.parts[0].content


def standard(content, pressure):
    """Return the record of a standard level."""
    (record,) = [
        one
        for one in content.records("2")
        if one.kind == "standard" and one.get("air_pressure") == pressure
    ]
    return record


def wind(record):
    """Return direction in degrees and speed in knots."""
    return record.get("wind_from_direction"), round(record.get("wind_speed") / KNOT)


@pytest.mark.parametrize(
    ("pressure", "height"),
    [
        (1000.0, 263.0),
        (850.0, 1585.0),
        (700.0, 3138.0),
        (500.0, 5720.0),
        (400.0, 7360.0),
        (300.0, 9350.0),
        (250.0, 10540.0),
    ],
)
def test_heights_of_the_course(pressure, height):
    """The course completes the figures hhh to these heights in m."""
    assert standard(part(COURSE), pressure).get("geopotential_height") == height


def test_identification_of_the_course():
    """81 is day 31 with winds in knots, 00 the hour, 72518 the station, 99030 1030 hPa."""
    content = part(COURSE)
    said = content.identification

    assert (said.get("day"), said.get("hour"), said.get("station")) == (31, 0, "72518")
    assert said.get("wind_unit") == "kt"
    assert content.records("2")[0].get("air_pressure") == 1030.0


def test_part_of_the_course_is_coded_again():
    """What the part of the course says gives its groups again."""
    text = encode_content([part(COURSE)]).raise_for_errors()

    assert text.split() == COURSE.split()


def test_heights_of_the_module():
    """85457 is 850 hPa at 1457 m, 10711 is 100 hPa at 17,110 m."""
    groups = "99030 10614 09015 00233 ///// ///// 92880 ///// ///// 85457 ///// /////"
    upper = " ".join(
        f"{figures} ///// /////"
        for figures in ("70020", "50565", "40728", "30927", "25044", "20190", "15376", "10711")
    )
    content = part(f"TTAA 51001 72000 {groups} {upper} 88999 77999=")

    assert content.records("2")[0].get("air_pressure") == 1030.0
    assert standard(content, 850.0).get("geopotential_height") == 1457.0
    assert standard(content, 100.0).get("geopotential_height") == 17110.0


def test_layer_without_humidity_of_the_module():
    """55745 01522 66680 061// 77650 08310: -1.5, -6.1 and -8.3 degrees, humidity missing once."""
    content = part(
        "TTBB 51008 72000 00990 01522 11940 02122 22900 01922 33850 00122 44800 00322 "
        "55745 01522 66680 061// 77650 08310="
    )
    rows = {
        one.get("air_pressure"): (one.get("air_temperature"), one.get("dew_point_depression"))
        for one in content.records("5")
    }

    assert rows[745.0] == (-1.5, 2.2)
    assert rows[680.0] == (-6.1, None)
    assert rows[650.0] == (-8.3, 1.0)


def test_winds_at_standard_levels_of_the_module():
    """44300 09535 08058 06601: 095 degrees 35 kt, 080 degrees 58 kt, 065 degrees 101 kt."""
    content = part("PPAA 51000 72000 44300 09535 08058 06601 77999=")
    winds = [wind(one) for one in content.records("2")]

    assert winds == [(95.0, 35), (80.0, 58), (65.0, 101)]


def test_winds_at_fixed_altitudes_of_the_module():
    """91246 27575 27090 26606: 12, 14 and 16 thousand feet, 275/75, 270/90 and 265/106 kt."""
    content = part("PPBB 51000 72000 91246 27575 27090 26606=")
    winds = [
        (one.get("altitude_units"), *wind(one))
        for section in content.sections
        for one in section.records
        if one.kind == "fixed-altitude"
    ]

    assert winds == [(12, 275.0, 75), (14, 270.0, 90), (16, 265.0, 106)]
