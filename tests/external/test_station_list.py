"""The published station list of the Integrated Global Radiosonde Archive.

Source: IGRA version 2, station list, and "IGRA v2.2 Format Description: Station, Country, and U.S.
State Code Lists" (National Centers for Environmental Information, 19 January 2023). Twelve lines of
the list, unchanged.
"""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from encoder.formats.station_list import parse_station_list, read_station_list
from encoder.stations import StationCatalogue, StationRecord

LIST = Path(__file__).parent / "data" / "igra_station_list_excerpt.txt"


@pytest.fixture(scope="module")
def stations() -> StationCatalogue:
    """Return the stations of the excerpt."""
    return StationCatalogue(read_station_list(LIST).value)


@pytest.mark.parametrize(
    "expected",
    [
        StationRecord(
            "02963", "JOKIOINEN OBSERVATORY", 60.8139, 23.4975, 104.0, date(1957, 1, 1), None
        ),
        StationRecord("72694", "SALEM/MCNARY", 44.9092, -123.0083, 62.4, date(1956, 1, 1), None),
        StationRecord(
            "40911", "MAZAR-I-SHARIF", 36.7, 67.2, 378.0, date(2010, 1, 1), date(2014, 12, 31)
        ),
    ],
)
def test_columns(stations: StationCatalogue, expected: StationRecord) -> None:
    """Columns 1-11, 13-20, 22-30, 32-37, 42-71, 73-76 and 78-81 of the published layout."""
    assert stations.periods(expected.wmo_index) == (replace(expected, source=LIST.name),)


def test_missing_elevation(stations: StationCatalogue) -> None:
    """An elevation of -999.9 is missing."""
    assert math.isnan(stations.periods("55690")[0].elevation)


def test_stations_without_wmo_number() -> None:
    """Lines of other networks and of mobile stations (-98.8888) are passed over and counted."""
    records, found = read_station_list(LIST)
    assert (len(records), [one.code for one in found]) == (10, ["station-line-skipped"])
    assert "2 lines" in found[0].message


def test_damaged_line() -> None:
    """A line that does not keep the columns is told with its number."""
    lines = LIST.read_text().splitlines()
    lines[3] = "   " + lines[3]
    lines[4] = lines[4][:12] + " 95.0000" + lines[4][20:]
    records, found = parse_station_list("\n".join(lines), "list")
    codes = [(one.code, one.line) for one in found if one.code == "station-line-malformed"]
    assert sorted(codes, key=lambda one: one[1] or 0) == [
        ("station-line-malformed", 4),
        ("station-line-malformed", 5),
    ]
    assert len(records) == 8
