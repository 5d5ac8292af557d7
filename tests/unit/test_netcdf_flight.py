"""The flight file: everything of a flight comes back, and says what it is."""

from __future__ import annotations

import json
from dataclasses import replace

import netCDF4
import numpy as np
import pytest

from encoder.archive import FlightArchive
from encoder.errors import InputError
from encoder.formats.flight_folder import read_flight
from encoder.formats.netcdf import PRODUCTS, read_netcdf, write_netcdf
from encoder.formats.netcdf.flight_product import (
    ASCENT,
    COMPUTED,
    DESCENT,
    DOUBTFUL,
    LEFT_OUT,
    MISSING,
    REMOVED,
    SURFACE,
)
from encoder.formats.netcdf.positions import FROM_WIND, MEASURED
from encoder.formats.netcdf.template import deviations
from encoder.levels import LevelKind, select_levels
from encoder.profile import Profile
from encoder.report import encode_report
from tests.archives import ROOT, SAMPLES, archive_of, archive_of_flight, sample_archive, service
from tests.flights import facts_of, rows_of, write_flight
from tests.soundings import ascent_from, flight_of


def stored(path) -> dict[str, np.ndarray]:
    """Return the variables along the rows, unpacked, as plain arrays."""
    with netCDF4.Dataset(path) as dataset:
        return {
            name: np.ma.filled(np.ma.asarray(variable[...]).astype(float), np.nan)
            for name, variable in dataset.variables.items()
            if variable.dimensions == ("time",)
        }


def written(tmp_path, archive):
    """Write an archive and return the path, after the file was compared with the template."""
    path = tmp_path / "flight.nc"
    write_netcdf(archive, path, service=service())
    with netCDF4.Dataset(path) as dataset:
        dataset.set_auto_maskandscale(False)
        assert deviations(dataset, PRODUCTS["flight"]) == []
    return path


def spoilt(kind):
    """Return facts and rows of a flight with one peculiarity."""
    rows = rows_of()
    facts = facts_of()
    count = len(rows["time"])
    if kind == "rows without a time":
        rows["time"][[20, 50]] = np.nan
    elif kind == "repeated times":
        rows["time"][31] = rows["time"][30]
        rows["time"][81:83] = rows["time"][80]
    elif kind == "unsorted":
        for values in rows.values():
            values[[40, 41]] = values[[41, 40]]
    elif kind == "before release":
        rows["time"] -= 12.0
    elif kind == "descent":
        for name, values in list(rows.items()):
            tail = values[-60:-1][::-1]
            rows[name] = np.concatenate((values, tail))
        rows["time"] = 10.0 * np.arange(1, len(rows["time"]) + 1)
    elif kind == "positions with a gap":
        rows["latitude"] = 54.31 + 1e-4 * np.arange(count)
        rows["longitude"] = 12.84 + 2e-4 * np.arange(count)
        rows["latitude"][60:90] = np.nan
        rows["longitude"][60:90] = np.nan
        rows["latitude"][100] = np.nan
    elif kind == "latitude alone":
        rows["latitude"] = 54.31 + 1e-4 * np.arange(count)
    elif kind == "edits":
        facts["quality_edits"] = [
            {
                "columns": ["air_temperature"],
                "from_time_s": 300.0,
                "to_time_s": 420.0,
                "action": "missing",
                "reason": "sensor wet",
            },
            {
                "columns": ["relative_humidity"],
                "from_line": 70,
                "to_line": 75,
                "action": "doubtful",
                "reason": "icing",
            },
        ]
    elif kind == "wind components":
        speed, direction = rows.pop("wind_speed"), np.radians(rows.pop("wind_from_direction"))
        rows["eastward_wind"] = -speed * np.sin(direction)
        rows["northward_wind"] = -speed * np.cos(direction)
    elif kind == "no wind":
        del rows["wind_speed"], rows["wind_from_direction"]
    elif kind == "altitude only":
        rows["altitude"] = rows.pop("geopotential_height")
        del rows["air_pressure"]
    elif kind == "missing values":
        rows["air_temperature"][33] = np.nan
        rows["air_pressure"][44] = np.nan
        rows["wind_speed"][55] = np.nan
    elif kind == "impossible values":
        rows["relative_humidity"][70] = 180.0
        rows["wind_speed"][71] = 400.0
    return facts, rows


KINDS = (
    "plain",
    "rows without a time",
    "repeated times",
    "unsorted",
    "before release",
    "descent",
    "positions with a gap",
    "latitude alone",
    "edits",
    "wind components",
    "no wind",
    "altitude only",
    "missing values",
    "impossible values",
)


@pytest.mark.parametrize("kind", KINDS)
def test_everything_of_a_flight_comes_back(tmp_path, kind) -> None:
    """Profile, ascent, descent, facts, levels, reports, diagnostics: equal, value for value."""
    facts, rows = spoilt(kind)
    archive = archive_of(write_flight(tmp_path, facts, rows))
    again = read_netcdf(written(tmp_path, archive))
    assert again.diagnostics == ()
    assert again.value == archive
    assert list(again.value.flight.profile) == list(archive.flight.profile)


@pytest.mark.parametrize("name", SAMPLES)
def test_the_same_report_from_the_file(tmp_path, name) -> None:
    """Flight, netCDF, report: the same characters as flight, report."""
    archive = sample_archive(name)
    again = read_netcdf(written(tmp_path, archive)).value
    assert again == archive
    assert (
        encode_report(again.flight, select_levels(again.flight).value).value == (archive.reports[0])
    )
    assert again.reports[0].text.encode() == archive.reports[0].text.encode()


@pytest.mark.parametrize(
    "name", ["harrow-tarn-winds", "survey-drop", "calder-wren", "kestrel-basin"]
)
def test_other_platforms_come_back(tmp_path, name) -> None:
    """Winds alone, a drop, a ship and a mobile unit come back equal, and coded alike."""
    archive = archive_of(ROOT / "samples" / "traffic" / name)
    path = tmp_path / "flight.nc"
    write_netcdf(archive, path)
    back = read_netcdf(path).value
    assert back == archive
    levels = select_levels(back.flight).value
    assert encode_report(back.flight, levels).value.text == archive.reports[0].text


def test_the_report_is_in_the_file_verbatim(tmp_path) -> None:
    """The variable coded_report holds the characters as sent, for readers of any software."""
    archive = sample_archive()
    with netCDF4.Dataset(written(tmp_path, archive)) as dataset:
        text = dataset["coded_report"][...].tobytes().decode()
    assert text == archive.reports[0].text


def test_what_a_row_was_used_for(tmp_path) -> None:
    """The surface observation comes first; ascent, descent and left-out rows are told apart."""
    facts, rows = spoilt("descent")
    archive = archive_of(write_flight(tmp_path, facts, rows))
    values = stored(written(tmp_path, archive))
    use = values["row_use"]
    assert use[0] == SURFACE
    assert np.count_nonzero(use == ASCENT) == len(archive.flight.ascent) - 1
    assert np.count_nonzero(use == DESCENT) == len(archive.flight.descent)
    assert len(use) == len(archive.flight.profile) + 1
    assert np.count_nonzero(use == LEFT_OUT) == len(use) - len(archive.flight.ascent) - len(
        archive.flight.descent
    )


def test_quality_of_values(tmp_path) -> None:
    """Computed, doubtful, removed and missing values are flagged; removed ones are kept."""
    facts, rows = spoilt("edits")
    rows["air_temperature"][100] = np.nan
    archive = archive_of(write_flight(tmp_path, facts, rows))
    values = stored(written(tmp_path, archive))
    edited = (values["time"] >= 300.0) & (values["time"] <= 420.0)
    assert set(values["air_temperature_quality"][edited]) == {REMOVED}
    assert np.all(np.isnan(values["air_temperature"][edited]))
    assert np.all(np.isfinite(values["air_temperature_as_received"][edited]))
    doubtful = (values["source_row"] >= 70) & (values["source_row"] <= 75)
    assert set(values["relative_humidity_quality"][doubtful]) == {DOUBTFUL}
    row = values["source_row"] == 102
    assert values["air_temperature_quality"][row] == MISSING
    dew_point = values["dew_point_temperature_quality"][1:]
    assert set(dew_point[np.isfinite(values["dew_point_temperature"][1:])]) == {COMPUTED}


def test_positions_between_measured_ones_are_flagged(tmp_path) -> None:
    """Where no position was measured one is rebuilt, flagged, between its neighbours."""
    facts, rows = spoilt("positions with a gap")
    values = stored(written(tmp_path, archive_of(write_flight(tmp_path, facts, rows))))
    source = values["position_source"]
    assert np.count_nonzero(source == FROM_WIND) == 31
    assert set(source) == {FROM_WIND, MEASURED}
    assert np.all(np.isfinite(values["latitude"]))
    assert np.all(np.isfinite(values["longitude"]))
    gap = np.flatnonzero(source == FROM_WIND)[:30]
    low, high = values["latitude"][gap[0] - 1], values["latitude"][gap[-1] + 1]
    assert abs(values["latitude"][gap].mean() - (low + high) / 2) < abs(high - low)


def test_level_kinds_on_the_rows(tmp_path) -> None:
    """A level taken from a row marks that row with the bits of BUFR flag table 0 08 042."""
    archive = sample_archive()
    values = stored(written(tmp_path, archive))
    bits = values["level_type"].astype(int)
    assert bits[0] & LevelKind.SURFACE
    expected = {
        archive.flight.ascent["air_pressure"][rows[0]]: int(kinds)
        for kinds, rows in zip(archive.levels.kinds, archive.levels.rows, strict=True)
        if len(rows) == 1
    }
    marked = np.flatnonzero(bits)
    assert {values["air_pressure"][i]: bits[i] for i in marked} == expected


def test_facts_are_attributes(tmp_path) -> None:
    """Station, instrument, surface observation, corrections and formulas are in attributes."""
    facts, rows = spoilt("edits")
    facts["instrument"] = {"radiosonde_type": 90, "correction": "5", "serial": "N-1"}
    facts["surface"]["cloud"] = {"amount": "3", "low": "5", "base": "4", "middle": "/", "high": "1"}
    archive = archive_of(write_flight(tmp_path, facts, rows))
    with netCDF4.Dataset(written(tmp_path, archive)) as dataset:
        assert dataset["station"].wigos_id == "0-20000-0-90417"
        assert dataset.wigos_station_identifier == "0-20000-0-90417"
        assert dataset["instrument"].radiosonde_type == 90
        assert dataset["instrument"].serial_number == "N-1"
        assert "sensor wet" in dataset["instrument"].corrections_applied
        assert dataset["surface_observation"].air_pressure == 964.8
        assert dataset["surface_observation"].cloud_group == "354/1"
        assert "WMO-No. 49" in dataset["dew_point_temperature"].formula
        assert dataset["time"].units == "seconds since 2031-07-15T17:16:30Z"
        assert dataset["release_time"][...] == archive.flight.release_time.timestamp()
        assert dataset["nominal_time"][...] == archive.flight.nominal_time.timestamp()
        assert dataset.software == "aerogram"


def test_a_flight_without_levels_and_reports(tmp_path) -> None:
    """A flight alone can be archived; levels and reports are then not in the file."""
    archive = FlightArchive(read_flight(write_flight(tmp_path)).raise_for_errors())
    path = written(tmp_path, archive)
    assert read_netcdf(path).value == archive
    with netCDF4.Dataset(path) as dataset:
        assert "coded_report" not in dataset.variables
        assert "level_table" not in dataset.variables


def test_another_reporting_practice_comes_back(tmp_path) -> None:
    """The practice a flight was encoded with is kept, whatever its document says."""
    flight = read_flight(write_flight(tmp_path)).raise_for_errors()
    archive = archive_of_flight(flight.with_reporting(wind_unit="m s-1", high_levels=True))
    again = read_netcdf(written(tmp_path, archive)).value
    assert again.flight.reporting.wind_unit == "m s-1"
    assert again == archive


def test_a_flight_made_in_memory(tmp_path) -> None:
    """An ascent that is its own profile, with columns of its own, comes back as well."""
    ascent = ascent_from(
        [1000.0, 900.0, 700.0, 500.0, 300.0, 200.0],
        [10.0, 5.0, -5.0, -20.0, -45.0, -55.0],
        50.0,
        270.0,
        10.0,
        altitude=np.arange(6) * 1000.0,
    )
    archive = FlightArchive(flight_of(ascent))
    assert read_netcdf(written(tmp_path, archive)).value == archive


def test_rows_of_another_profile_are_refused(tmp_path) -> None:
    """An ascent that is not made of rows of the profile cannot be archived."""
    flight = read_flight(write_flight(tmp_path)).raise_for_errors()
    ascent = flight.ascent
    moved = Profile(
        {**ascent.columns, "time": ascent["time"] + 0.5}, ascent.source_row, ascent.computed
    )
    path = tmp_path / "flight.nc"
    with pytest.raises(InputError) as caught:
        write_netcdf(FlightArchive(replace(flight, ascent=moved)), path)
    assert [item.code for item in caught.value.diagnostics] == ["archive-rows-not-placed"]
    assert not path.exists()


def test_rows_without_a_place_are_told(tmp_path) -> None:
    """Rows that repeat a time are not in the trajectory but in the facts, as received."""
    facts, rows = spoilt("repeated times")
    archive = archive_of(write_flight(tmp_path, facts, rows))
    with netCDF4.Dataset(written(tmp_path, archive)) as dataset:
        document = json.loads(dataset["flight_facts"][...].tobytes().decode())
        assert len(dataset.dimensions["time"]) == len(archive.flight.profile) + 1 - 3
    assert len(document["rows"]["profile"]["without_place"]["source_row"]) == 3
