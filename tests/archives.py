"""Products for the tests of the archive: samples, real reports, a real archived sounding."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from encoder.archive import FlightArchive, Service
from encoder.columns import LEVEL_COLUMNS
from encoder.formats.flight_folder import read_flight
from encoder.formats.service_json import read_service
from encoder.levels import LevelKind, Levels, select_levels
from encoder.profile import Station
from encoder.report import decode_reports, encode_report
from encoder.sounding import (
    NOT_REPORTED,
    REMOVED,
    REPORTED,
    REPORTED_MISSING,
    STATUS_COLUMNS,
    Sounding,
    moment_of,
    sounding_of,
)

ROOT = Path(__file__).resolve().parent.parent
DATA = ROOT / "tests" / "external" / "data"
SAMPLES = ("harrow-tarn", "halden-dome", "saltmere-point")

REAL_STATIONS = {
    "72235": Station("Jackson", 32.3197, -90.0778, 91.0, wmo_index="72235"),
}
"""Positions of stations of real reports: IGRA station list, NOAA NCEI, version 2."""


def service() -> Service:
    """Return the facts of the invented service."""
    return read_service(ROOT / "samples" / "service.json").raise_for_errors()


def archive_of(folder) -> FlightArchive:
    """Return the flight of a folder with its levels and its coded report."""
    return archive_of_flight(read_flight(folder).raise_for_errors())


def archive_of_flight(flight) -> FlightArchive:
    """Return a flight with its levels and its coded report."""
    levels = select_levels(flight)
    report = encode_report(flight, levels.value)
    found = (*levels.diagnostics, *report.diagnostics)
    return FlightArchive(flight, levels.value, (report.value,), found)


def sample_archive(name="harrow-tarn") -> FlightArchive:
    """Return a bundled flight with its levels and its coded report."""
    return archive_of(ROOT / "samples" / "flights" / name)


def sounding_of_archive(archive: FlightArchive) -> Sounding:
    """Return the report of a flight as a sounding."""
    flight = archive.flight
    return sounding_of(
        archive.reports[0],
        station=flight.station,
        nominal_time=flight.nominal_time,
        time=flight.release_time,
        formula=flight.vapour_pressure_formula,
        diagnostics=archive.diagnostics,
    )


def real_texts() -> dict[str, str]:
    """Return real reports, the parts of one sounding after one another, by their label.

    Origins are in ``external/data/soundings.json``.
    """
    texts: dict[str, str] = {}
    for item in json.loads((DATA / "soundings.json").read_text(encoding="utf-8")):
        key = f"{item['id']}-{item['part'][:2]}"
        texts[key] = texts.get(key, "") + item["raw"] + "\n"
    return texts


def real_sounding(text: str) -> Sounding:
    """Return a real report as a sounding; months and unknown positions are set by the tests."""
    decoded = decode_reports(text)
    report = decoded.value[0]
    said = report.parts[0].content.identification
    index = said.get("station")
    name = str(index or said.get("call_sign") or "unnamed")
    latitude, longitude = said.get("latitude"), said.get("longitude")
    known = isinstance(latitude, float) and isinstance(longitude, float)
    station = Station(
        name,
        latitude if known else 50.0,
        longitude if known else 10.0,
        float("nan"),
        wmo_index=str(index) if index else None,
    )
    nominal = moment_of(report, "2006-10").value or datetime(2006, 10, 1, tzinfo=UTC)
    return sounding_of(
        report, station=station, nominal_time=nominal, diagnostics=decoded.diagnostics
    )


def igra_sounding() -> tuple[Sounding, list[str]]:
    """Return a real archived sounding of 69 levels, and its level lines.

    Station CAM00071701, 26 January 2021 12 UTC, from the Integrated Global Radiosonde Archive
    version 2 (NOAA National Centers for Environmental Information, public domain; layout in the
    format description of 19 January 2023). Pressure in Pa, temperature, dew-point depression and
    wind speed in tenths; -9999 was missing at the source, -8888 was removed by quality control.
    """
    lines = (DATA / "igra_sounding_excerpt.txt").read_text(encoding="ascii").splitlines()
    head, rows = lines[0], lines[1:]
    places = {
        "air_pressure": (9, 15, 100.0),
        "geopotential_height": (16, 21, 1.0),
        "air_temperature": (22, 27, 10.0),
        "dew_point_depression": (34, 39, 10.0),
        "wind_from_direction": (40, 45, 1.0),
        "wind_speed": (46, 51, 10.0),
    }
    columns = {name: np.full(len(rows), np.nan) for name in LEVEL_COLUMNS}
    status = {name: np.full(len(rows), NOT_REPORTED, dtype=np.int8) for name in STATUS_COLUMNS}
    for name, (begin, end, steps) in places.items():
        figures = np.array([int(row[begin:end]) for row in rows])
        known = figures > -8888
        columns[name] = np.where(known, figures / steps, np.nan)
        if name in status:
            status[name] = np.select(
                [known, figures == -8888], [REPORTED, REMOVED], REPORTED_MISSING
            ).astype(np.int8)
    kinds = np.array(
        [
            (LevelKind.STANDARD if row[0] == "1" else 0)
            | (LevelKind.SURFACE if row[1] == "1" else 0)
            | (LevelKind.TROPOPAUSE if row[1] == "2" else 0)
            for row in rows
        ]
    )
    year, month, day, hour = int(head[13:17]), int(head[18:20]), int(head[21:23]), int(head[24:26])
    release = head[27:31]
    nominal = datetime(year, month, day, hour, tzinfo=UTC)
    station = Station(
        head[1:12], int(head[55:62]) / 1e4, int(head[63:71]) / 1e4, float("nan"), "71701"
    )
    return (
        Sounding(
            station,
            nominal.replace(hour=int(release[:2]), minute=int(release[2:])),
            nominal,
            Levels(columns, kinds),
            status,
        ),
        rows,
    )
